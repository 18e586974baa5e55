"""Photos into the draft: kept in the client file first, named in the draft afterwards.

What was handed over waits in the visit until the page has taken it in, one photo at a time, so
that it can say which one it is at and be stopped; nobody loses a photo by looking elsewhere.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable
from typing import Protocol

from rimspan.screens import state, work
from rimspan.screens.phone import arrival
from rimspan.screens.store import client_file
from rimspan.typed import in_markdown


class Upload(Protocol):
    """A file as the uploader hands it over."""

    name: str

    def getvalue(self) -> bytes:
        """Return the file's bytes."""
        ...


Tell = Callable[[float, str], object]
"""Is told what share is done, and which photo comes next."""


def _waiting() -> str:
    return f"waiting {state.client_id()} {state.side()}"


def wait(uploads: Iterable[Upload]) -> None:
    """Let photos wait for the open ear, until :func:`take_in_waiting`."""
    state.set_value(_waiting(), [*waiting(), *uploads])


def waiting() -> list[Upload]:
    """Return the photos that wait for the open ear."""
    return list(state.value(_waiting()) or [])


def stop() -> None:
    """Forget the photos that still wait; those that were taken in stay."""
    left = len(waiting())
    state.set_value(_waiting(), [])
    state.say(f"Stopped: {left} not taken in. Choose them again when you like.")


def take_in_waiting(tell: Tell) -> None:
    """Keep and read the photos that wait, and say which were refused.

    ``tell`` may end the run; what is kept by then is kept, and the rest waits.
    """
    count, done = len(waiting()), 0
    while left := waiting():
        tell(done / count, f"Photo {done + 1} of {count}: {left[0].name} ...")
        refused = take_in(left[:1])
        work.readings(state.document())
        state.set_value(_waiting(), waiting()[1:])
        if refused:
            state.say("  \n".join([*filter(None, [state.said()]), *map(in_markdown, refused)]))
        done += 1


def take_in(uploads: Iterable[Upload]) -> list[str]:
    """Keep each photo and add it to the open draft; return a line for each that was refused."""
    client, side = state.client_id(), state.side()
    if client is None or side is None:
        return ["No client is open."]
    brought = arrival.take_in(
        arrival.Consultation(client_file(), client, side, state.piercer()),
        [arrival.Sent(upload.name, upload.getvalue()) for upload in uploads],
    )
    return list(brought.refused)
