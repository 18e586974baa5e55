"""A browser without a window: asks an ASGI app directly, in pieces, with or without cookies."""

from __future__ import annotations

import asyncio
from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

from starlette.applications import Starlette

PIECE = 20_000
"""Bytes of a request that come at once."""


@dataclass
class Answer:
    status: int
    headers: dict[str, str]
    data: bytes
    taken: int
    """Bytes of the request that were read."""

    @property
    def body(self) -> str:
        return self.data.decode()


@dataclass
class Browser:
    """Sends back the cookie it was given, unless it keeps none."""

    app: Starlette
    cookie: str = ""
    address: str = "192.0.2.50"
    keeps_cookies: bool = True

    def get(self, path: str, method: str = "GET") -> Answer:
        return self.ask(method, path)

    def ask(
        self,
        method: str,
        path: str,
        body: bytes = b"",
        headers: Mapping[str, str] | None = None,
        cut: bool = False,
    ) -> Answer:
        """Return the answer; with ``cut`` the connection ends after half of the body."""
        own = {"host": "localhost"} | ({"cookie": self.cookie} if self.cookie else {})
        scope = {
            "type": "http",
            "scheme": "http",
            "method": method,
            "path": path,
            "query_string": b"",
            "client": (self.address, 40000),
            "headers": [(k.encode(), v.encode()) for k, v in {**own, **(headers or {})}.items()],
        }
        pieces = [body[i : i + PIECE] for i in range(0, len(body), PIECE)] or [b""]
        if cut:
            pieces = pieces[: max(len(pieces) // 2, 1)]
        sent: list[dict[str, Any]] = []
        read = 0

        async def receive() -> dict[str, Any]:
            nonlocal read
            if not pieces:
                return {"type": "http.disconnect"}
            piece = pieces.pop(0)
            read += len(piece)
            return {"type": "http.request", "body": piece, "more_body": bool(pieces) or cut}

        async def send(message: dict[str, Any]) -> None:
            sent.append(message)

        asyncio.run(self.app(scope, receive, send))  # type: ignore[arg-type]
        headers_sent = [(name.decode(), value.decode()) for name, value in sent[0]["headers"]]
        answered = dict(headers_sent)
        if self.keeps_cookies:
            self._keep([value for name, value in headers_sent if name == "set-cookie"])
        data = b"".join(message.get("body", b"") for message in sent)
        return Answer(sent[0]["status"], answered, data, read)

    def _keep(self, given: list[str]) -> None:
        if not given:
            return
        known = dict(part.split("=", 1) for part in self.cookie.split("; ") if "=" in part)
        for each in given:
            name, value = each.split(";")[0].split("=", 1)
            known.pop(name, None)
            if "Max-Age=0" not in each:
                known[name] = value
        self.cookie = "; ".join(f"{name}={value}" for name, value in known.items())
