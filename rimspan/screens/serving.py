"""What the server adds round the pages: photos only for the chair that shows them, never kept."""

from __future__ import annotations

from pathlib import Path

from starlette.concurrency import run_in_threadpool
from starlette.datastructures import MutableHeaders
from starlette.formparsers import MultiPartParser
from starlette.middleware import Middleware
from starlette.responses import PlainTextResponse
from starlette.types import ASGIApp, Message, Receive, Scope, Send

from rimspan.clientfile import ClientFileError
from rimspan.screens import help_route, photo_routes, sign_in_routes
from rimspan.screens.chair import COOKIE, SIGN_INS, pass_in
from rimspan.screens.own_names import OwnNames
from rimspan.screens.phone import routes as phone_routes
from rimspan.screens.sign_in_routes import cookie, demo_pass
from rimspan.sign_ins import SignIns

MAIN = Path(__file__).parent / "script" / "main.py"
"""The script that Streamlit runs for every visit."""

MOST_HELD_BYTES = 1 << 30
# Left to itself, the uploader lets a photo over 1 MB spill into a temporary file: unsealed, with
# its place and serial numbers.  How much it takes at all, Streamlit's maxUploadSize says.
MultiPartParser.spool_max_size = MOST_HELD_BYTES


PRIVATE = ("/media/", photo_routes.PREFIX, help_route.PATH, "/_stcore/upload_file/")
"""Where photos are, what is read out of them, and where they are brought."""

ROUTES = [
    *phone_routes.ROUTES,
    *photo_routes.ROUTES,
    *help_route.ROUTES,
    *sign_in_routes.ROUTES,
]


class PrivateMedia:
    """Serves photos only where somebody is signed in, and forbids keeping them.

    Streamlit answers media addresses without looking at who asks, and leaves caching to the
    browser; on a tablet that several people use, a client's photo must not stay behind.  A
    photo's parts go only to the chair whose page shows that photo.  What is read out of a photo
    for the marking is guarded alike.
    """

    def __init__(self, app: ASGIApp, sign_ins: SignIns) -> None:
        self._app, self._sign_ins = app, sign_ins

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        """Handle one request."""
        if scope["type"] != "http":
            await self._app(scope, receive, send)
            return
        path, written = scope["path"], pass_in(_cookies(scope))
        private = any(part in path for part in PRIVATE)
        phone = path.startswith(phone_routes.PREFIX)  # a phone that sends sees no photo
        if private and not await run_in_threadpool(self._may, written, path):
            refusal = PlainTextResponse("sign in first", 403, {"Cache-Control": "no-store"})
            await refusal(scope, receive, send)
            return

        async def answer(message: Message) -> None:
            if message["type"] == "http.response.start":
                headers = MutableHeaders(scope=message)
                headers["Cross-Origin-Resource-Policy"] = "same-origin"
                if private:
                    headers["Cache-Control"] = "private, no-store"
                page = not phone and headers.get("content-type", "").startswith("text/html")
                again = None
                if private or page:
                    again = await run_in_threadpool(self._again, written, page)
                if again is not None:
                    headers.append("Set-Cookie", cookie(COOKIE, again, scope["scheme"]))
            await send(message)

        await self._app(scope, receive, answer)

    def _may(self, written: str, path: str) -> bool:
        """Return whether a chair may have what is at an address; asking is using it."""
        try:
            seat = self._sign_ins.seat(written, used=True)
        except ClientFileError:
            return False
        if seat is None or seat.locked:
            return False
        if not path.startswith(photo_routes.PREFIX):
            return True
        return self._sign_ins.shows(written, path.removeprefix(photo_routes.PREFIX).split("/")[0])

    def _again(self, written: str, page: bool) -> str | None:
        """Return the pass to hand out with an answer, or None: the browser has a good one."""
        try:
            if page and not written:
                return demo_pass(self._sign_ins)
            return self._sign_ins.renewed(written)
        except ClientFileError:  # locked: the page says so
            return None


def _cookies(scope: Scope) -> str:
    return str(dict(scope["headers"]).get(b"cookie", b"").decode("latin-1"))


def middleware(sign_ins: SignIns) -> list[Middleware]:
    """Return what stands before every route, on the chairs of a program."""
    return [Middleware(OwnNames), Middleware(PrivateMedia, sign_ins=sign_ins)]


MIDDLEWARE = middleware(SIGN_INS)
