"""The address that the marking asks for proposals: ``POST /marking-help``, JSON in and out.

Who may ask is looked at before, in :mod:`rimspan.screens.serving`: only a browser that opened
the app, as for its photos.
"""

from __future__ import annotations

import json
import logging
from collections.abc import Callable, Iterable
from dataclasses import dataclass
from typing import Any
from urllib.parse import urlsplit

from starlette.concurrency import run_in_threadpool
from starlette.requests import ClientDisconnect, Request
from starlette.responses import JSONResponse
from starlette.routing import Route

from rimspan.marking_help import Ask, AskError, MarkingHelp, ask_from
from rimspan.screens.chair import SIGN_INS, pass_in
from rimspan.screens.store import FORGETTING

PATH = "/marking-help"
MOST_BYTES = 64_000
HELP = MarkingHelp()
"""The photos of this server that are open for marking."""


def _forget(hashes: Iterable[str]) -> None:
    for sha256 in hashes:
        HELP.forget(sha256)


FORGETTING.append(_forget)

ELSEWHERE = "This can only be asked from the page itself."
GARBLED = "What was asked is no JSON."
NOT_SHOWN = "That photo isn't open here."
TOO_LONG = f"What was asked is longer than {MOST_BYTES // 1000} kB."
FAILED = "Looking into the photo failed. Your own marks stand. The log says more."

log = logging.getLogger(__name__)


@dataclass(frozen=True, slots=True)
class Refused:
    """Why a request was not looked at, and the HTTP status."""

    sentence: str
    status: int


class Desk:
    """Answers what markings ask.

    Parameters
    ----------
    shown : whether the chair with a pass shows a photo
    """

    def __init__(
        self, desk: MarkingHelp, shown: Callable[[str, str], bool] = SIGN_INS.shows
    ) -> None:
        self._help, self._shown = desk, shown

    async def answer(self, request: Request) -> JSONResponse:
        """Return a proposal, or in words why there is none."""
        if not from_here(request):
            return _said(ELSEWHERE, 403)
        ask = await _asked(request)
        if isinstance(ask, Refused):
            return _said(ask.sentence, ask.status)
        if not self._shown(pass_in(request.headers.get("cookie", "")), ask.photo):
            return _said(NOT_SHOWN, 403)
        try:
            return _json(await run_in_threadpool(self._help.answer, ask))
        except Exception:  # help must not take the page down; the piercer marks on by hand
            log.exception("help with marking failed")
            return _said(FAILED, 500)


async def _asked(request: Request) -> Ask | Refused:
    try:
        body = await body_of(request)
        if body is None:
            return Refused(TOO_LONG, 413)
        return ask_from(json.loads(body))
    except AskError as error:
        return Refused(str(error), 400)
    except (ClientDisconnect, ValueError, RecursionError):
        return Refused(GARBLED, 400)


def from_here(request: Request) -> bool:
    """Return whether a request comes from a page of this server, or from no browser at all."""
    if request.headers.get("sec-fetch-site", "same-origin") != "same-origin":
        return False
    origin = request.headers.get("origin")
    return origin is None or urlsplit(origin).netloc == request.headers.get("host")


async def body_of(request: Request) -> bytes | None:
    """Return what was sent, or None if it is too long."""
    body = b""
    async for chunk in request.stream():
        body += chunk
        if len(body) > MOST_BYTES:
            return None
    return body


def _said(sentence: str, status: int) -> JSONResponse:
    return _json({"fault": sentence}, status)


def _json(held: dict[str, Any], status: int = 200) -> JSONResponse:
    return JSONResponse(held, status, headers={"Cache-Control": "no-store"})


def routes(desk: MarkingHelp, shown: Callable[[str, str], bool] = SIGN_INS.shows) -> list[Route]:
    """Return the routes that a server adds to Streamlit's."""
    return [Route(PATH, Desk(desk, shown).answer, methods=["POST"])]


ROUTES = routes(HELP)
