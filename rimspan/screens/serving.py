"""What the server adds round the pages: client photos stay out of the browser's own store."""

from __future__ import annotations

import secrets
from http.cookies import CookieError, SimpleCookie
from pathlib import Path

from starlette.datastructures import MutableHeaders
from starlette.formparsers import MultiPartParser
from starlette.middleware import Middleware
from starlette.responses import PlainTextResponse
from starlette.types import ASGIApp, Message, Receive, Scope, Send

from rimspan.screens import help_route, photo_routes
from rimspan.screens.own_names import OwnNames
from rimspan.screens.phone import routes as phone_routes

MAIN = Path(__file__).parent / "script" / "main.py"
"""The script that Streamlit runs for every visit."""

COOKIE = "rimspan_visit"

MOST_HELD_BYTES = 1 << 30
# Left to itself, the uploader lets a photo over 1 MB spill into a temporary file: unsealed, with
# its place and serial numbers.  How much it takes at all, Streamlit's maxUploadSize says.
MultiPartParser.spool_max_size = MOST_HELD_BYTES


PRIVATE = ("/media/", photo_routes.PREFIX, help_route.PATH)
"""Where photos are, and what is read out of them."""

ROUTES = [*phone_routes.ROUTES, *photo_routes.ROUTES, *help_route.ROUTES]


class PrivateMedia:
    """Serves photos only to a browser that opened the app, and forbids keeping it.

    Streamlit answers media addresses without looking at who asks, and leaves caching to the
    browser; on a tablet that several people use, a client's photo must not stay behind.  What
    is read out of a photo for the marking is guarded alike.
    """

    def __init__(self, app: ASGIApp) -> None:
        self._app = app
        self._token = secrets.token_urlsafe(32)

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        """Handle one request."""
        if scope["type"] != "http":
            await self._app(scope, receive, send)
            return
        path = scope["path"]
        private = any(part in path for part in PRIVATE)
        visit = not path.startswith(phone_routes.PREFIX)  # a phone that sends sees no photo
        # A page that outlives the server asks only for its health before it goes on.
        back = path.endswith("/_stcore/health")
        if private and not self._knows(scope):
            refusal = PlainTextResponse("open the app first", 403)
            await refusal(scope, receive, send)
            return

        async def answer(message: Message) -> None:
            if message["type"] == "http.response.start":
                headers = MutableHeaders(scope=message)
                headers["Cross-Origin-Resource-Policy"] = "same-origin"
                if private:
                    headers["Cache-Control"] = "private, no-store"
                elif back or (visit and headers.get("content-type", "").startswith("text/html")):
                    headers.append(
                        "Set-Cookie", f"{COOKIE}={self._token}; Path=/; HttpOnly; SameSite=Strict"
                    )
            await send(message)

        await self._app(scope, receive, answer)

    def _knows(self, scope: Scope) -> bool:
        sent = dict(scope["headers"]).get(b"cookie", b"").decode("latin-1")
        try:
            held = SimpleCookie(sent).get(COOKIE)
        except CookieError:
            return False
        return held is not None and secrets.compare_digest(held.value, self._token)


MIDDLEWARE = [Middleware(OwnNames), Middleware(PrivateMedia)]
