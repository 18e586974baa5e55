"""The addresses that a phone opens: ``/phone/TOKEN``, to look and to send once."""

from __future__ import annotations

import logging
from functools import partial

from starlette.concurrency import run_in_threadpool
from starlette.requests import Request
from starlette.responses import HTMLResponse
from starlette.routing import Route

from rimspan.phone_link import End, Guesses, PhoneLinks
from rimspan.screens.phone import words
from rimspan.screens.phone.arrival import Consultation, take_in
from rimspan.screens.phone.receiving import Refusal, drain, received

PREFIX = "/phone/"
LINKS: PhoneLinks[Consultation] = PhoneLinks()
"""The links of this server: issued by the Photos page, used up here."""

log = logging.getLogger(__name__)


def phone_path(token: str) -> str:
    """Return the path under which a token's page is found."""
    return f"{PREFIX}{token}"


class Door:
    """Answers what phones ask for."""

    def __init__(self, links: PhoneLinks[Consultation], guesses: Guesses) -> None:
        self._links, self._guesses = links, guesses

    async def answer(self, request: Request) -> HTMLResponse:
        """Return the page for one request."""
        who = request.client.host if request.client else ""
        if self._guesses.barred(who):
            return _page(words.dead(words.WAIT), 429)
        token = request.path_params["token"]
        link = self._links.look_up(token)
        if link is None:
            self._guesses.missed(who)
        if link is None or link.end is not None:
            await drain(request)
            return self._dead(token)
        if request.method == "POST":
            return await self._take(request, token)
        return _page(words.form())

    async def _take(self, request: Request, token: str) -> HTMLResponse:
        files = await received(request)
        if isinstance(files, Refusal):
            return _page(words.form([str(files.words)]), files.status)
        try:
            bring = partial(take_in, files=files)
            brought = await run_in_threadpool(self._links.redeem, token, bring)
        except Exception:  # a full disk, a store that is gone: say it, keep the link alive
            log.exception("photos from a phone could not be kept")
            return _page(words.form([str(words.FAILED)]), 500)
        if brought is None:
            return self._dead(token)
        if not brought.kept:
            return _page(words.form(brought.refused), 422)
        return _page(words.done(brought))

    def _dead(self, token: str) -> HTMLResponse:
        link = self._links.look_up(token)
        if link is None:
            return _page(words.dead(words.UNKNOWN), 404)
        # An upload that outlasted its time leaves a link that has run out.
        return _page(words.dead(words.DEAD[link.end or End.EXPIRED]), 410)


def _page(html: str, status: int = 200) -> HTMLResponse:
    return HTMLResponse(html, status, headers=words.HEADERS)


def routes(links: PhoneLinks[Consultation], guesses: Guesses) -> list[Route]:
    """Return the routes that a server adds to Streamlit's."""
    door = Door(links, guesses)
    return [Route(PREFIX + "{token:path}", door.answer, methods=["GET", "POST"])]


ROUTES = routes(LINKS, Guesses())
