"""Where the forms of the sign-in are sent: ``POST /sign-in``, ``/first-manager``, ``/sign-out``.

They are plain forms and whole pages: only an answer to a browser's own request can give it a
pass that no script may read.  Each sign-in gets a pass of its own, so one that was looked at
before is good for nothing.
"""

from __future__ import annotations

import math
import time
from collections.abc import Callable
from urllib.parse import parse_qs

from starlette.concurrency import run_in_threadpool
from starlette.requests import ClientDisconnect, Request
from starlette.responses import PlainTextResponse, RedirectResponse, Response
from starlette.routing import Route

from rimspan.clientfile import ClientFile, ClientFileError, NotSignedIn, Person, RefusedError
from rimspan.clientfile.attempts import Attempts
from rimspan.demo.client import PIERCER
from rimspan.screens.chair import COOKIE, REFUSED, SIGN_INS, pass_in
from rimspan.screens.help_route import body_of, from_here
from rimspan.screens.tickets import TICKETS
from rimspan.sign_ins import SignIns

SIGN_IN, SIGN_OUT, FIRST_MANAGER = "/sign-in", "/sign-out", "/first-manager"
OUT = "out"
"""Stands in place of a pass after signing out, so that the demo doesn't sign in by itself again."""
SAID_S = 20
"""How long a browser remembers why it was refused, s."""

WRONG, WAIT, UNFIT, NO_PASSPHRASE, STALE = "wrong", "wait", "unfit", "passphrase", "stale"
"""Why a sign-in was refused, as the page that says it gets it."""

ELSEWHERE = "This can only be sent from the page itself."

Fields = dict[str, str]


def cookie(name: str, value: str, scheme: str, seconds: int | None = None) -> str:
    """Return a Set-Cookie header that no script can read and no other site makes use of."""
    lasts = "" if seconds is None else f"; Max-Age={seconds}"
    secure = "; Secure" if scheme == "https" else ""
    return f"{name}={value}; Path=/; HttpOnly; SameSite=Strict{lasts}{secure}"


def demo_pass(sign_ins: SignIns) -> str | None:
    """Return a pass of the demo's invented piercer, where the client file is for demo data only."""
    file = sign_ins.file()
    if file.sealed:
        return None
    found = next((each for each in file.people.managers() if each.name == PIERCER), None)
    return None if found is None else sign_ins.begin(found)


def signed_in(file: ClientFile, fields: Fields) -> Person | str:
    """Return who signed in by a form's fields, or why nobody did."""
    if fields.get("ticket"):
        owner = TICKETS.take(fields["ticket"], time.monotonic())
        found = None if owner is None else file.people.find(owner)
        return found if found is not None and found.active else STALE
    name = fields.get("person", "")
    # The list of names is open to whoever sees the door: of others nothing has to be counted.
    if name not in {each.name for each in file.people.all()}:
        return WRONG
    found_or_not = file.people.sign_in(name, fields.get("secret", ""))
    if isinstance(found_or_not, NotSignedIn):
        return said_of(found_or_not.wait_s)
    return found_or_not


def said_of(wait_s: float) -> str:
    """Return what is said of a refusal after which one must wait, or needn't."""
    return f"{WAIT}-{math.ceil(wait_s)}" if wait_s > 0 else WRONG


def first_manager(file: ClientFile, fields: Fields) -> Person | str:
    """Return the first manager, for whom the file's passphrase vouches, or why there is none."""
    tries = Attempts(file, "first manager", "")
    wait = tries.count()
    if wait:
        return said_of(wait)
    if not file.slots.opens(fields.get("passphrase", "")):
        left = tries.left_s()
        return said_of(left) if left else NO_PASSPHRASE
    tries.clear()
    if fields.get("secret", "") != fields.get("again", ""):
        return UNFIT
    try:
        return file.people.add_first(fields.get("person", ""), fields.get("secret", ""))
    except RefusedError:
        return UNFIT


def _way_back(fields: Fields) -> str:
    """Return the address to go on to: one of this server's own."""
    to = fields.get("to", "/")
    own = to.startswith("/") and not to.startswith(("//", "/\\")) and to.isprintable()
    return to if own else "/"


async def _fields(request: Request) -> Fields | None:
    try:
        body = await body_of(request)
    except ClientDisconnect:
        return None
    if body is None:
        return None
    found = parse_qs(body.decode("utf-8", "replace"), keep_blank_values=True)
    return {name: values[-1] for name, values in found.items()}


class Door:
    """Answers the forms of the sign-in, for the chairs of a program."""

    def __init__(self, sign_ins: SignIns) -> None:
        self._sign_ins = sign_ins

    async def sign_in(self, request: Request) -> Response:
        """Give a browser a pass, if name and password fit, or a ticket is good."""
        return await self._enter(request, signed_in)

    async def name_first(self, request: Request) -> Response:
        """Name the first manager, and give the browser their pass."""
        return await self._enter(request, first_manager)

    async def sign_out(self, request: Request) -> Response:
        """Make a browser's pass good for nothing."""
        if not from_here(request):
            return PlainTextResponse(ELSEWHERE, 403)
        await run_in_threadpool(self._sign_ins.end, pass_in(request.headers.get("cookie", "")))
        return _onward("/", cookie(COOKIE, OUT, request.url.scheme))

    async def _enter(
        self, request: Request, enter: Callable[[ClientFile, Fields], Person | str]
    ) -> Response:
        fields = await _fields(request) if from_here(request) else None
        if fields is None:
            return PlainTextResponse(ELSEWHERE, 403)
        held, scheme = pass_in(request.headers.get("cookie", "")), request.url.scheme
        try:
            found = await run_in_threadpool(lambda: enter(self._sign_ins.file(), fields))
            if isinstance(found, str):
                tried = await run_in_threadpool(self._tried, fields)
                said = cookie(REFUSED, f"{found}.{tried}", scheme, SAID_S)
                return _onward(_way_back(fields), said)
            written = await run_in_threadpool(self._pass_of, held, found)
        except ClientFileError as error:
            return PlainTextResponse(str(error), 503)
        forgotten = cookie(REFUSED, "", scheme, 0)
        return _onward(_way_back(fields), cookie(COOKIE, written, scheme), forgotten)

    def _tried(self, fields: Fields) -> str:
        """Return the id of who was chosen from the list, to be chosen there again."""
        name = fields.get("person", "")
        people = self._sign_ins.file().people.all()
        return next((each.id for each in people if each.name == name), "")

    def _pass_of(self, held: str, person: Person) -> str:
        """Return a new pass; the same chair's again if only its lock is opened."""
        again = self._sign_ins.unlock(held, person)
        if again is not None:
            return again
        self._sign_ins.end(held)
        return self._sign_ins.begin(person)


def _onward(address: str, *cookies: str) -> Response:
    back = RedirectResponse(address, 303)
    back.headers["Cache-Control"] = "no-store"
    for each in cookies:
        back.headers.append("Set-Cookie", each)
    return back


def routes(sign_ins: SignIns) -> list[Route]:
    """Return the routes that a server adds to Streamlit's."""
    door = Door(sign_ins)
    return [
        Route(SIGN_IN, door.sign_in, methods=["POST"]),
        Route(FIRST_MANAGER, door.name_first, methods=["POST"]),
        Route(SIGN_OUT, door.sign_out, methods=["POST"]),
    ]


ROUTES = routes(SIGN_INS)
