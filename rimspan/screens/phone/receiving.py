"""The files in an upload, with limits on their number, size and time.

What is sent stays in memory: nothing unstripped touches the disk.
"""

from __future__ import annotations

import asyncio
from collections.abc import AsyncGenerator
from dataclasses import dataclass

from starlette.datastructures import UploadFile
from starlette.formparsers import MultiPartException, MultiPartParser
from starlette.requests import ClientDisconnect, Request

from rimspan.phone_link import GRACE_S
from rimspan.screens.phone.arrival import Sent, plain_name
from rimspan.screens.phone.words import MOST_BYTES, MOST_PHOTOS, Sentences

FIELD = "photo"
MOST_PARTS = 100
DRAINED_BYTES, DRAINED_S = 2 * MOST_BYTES, 30.0


@dataclass(frozen=True, slots=True)
class Refusal:
    """Why an upload was not looked at: the HTTP status, and what is said."""

    status: int
    words: Sentences


TOO_LARGE = Refusal(
    413,
    Sentences(
        f"More than {MOST_BYTES // 1_000_000} megabytes came at once.",
        "So much is not taken; nothing was kept.",
        "Choose fewer photos and send them again.",
    ),
)
TOO_MANY = Refusal(
    413,
    Sentences(
        f"More than {MOST_PHOTOS} photos came at once.",
        "So many are not taken; nothing was kept.",
        f"Choose {MOST_PHOTOS} or fewer and send them again.",
    ),
)
TOO_SLOW = Refusal(
    408,
    Sentences(
        "The photos took too long to arrive.",
        "The network is slow or was interrupted; nothing was kept.",
        "Go nearer to the studio's network and send them again.",
    ),
)
GARBLED = Refusal(
    400,
    Sentences(
        "What arrived could not be read.",
        "It was cut short or changed on the way; nothing was kept.",
        "Send the photos again.",
    ),
)
NOTHING = Refusal(
    400,
    Sentences(
        "No photo came with it.",
        "Nothing was chosen, so nothing was kept.",
        "Take or choose a photo, then press Send.",
    ),
)


class _TooLargeError(Exception):
    """The limit was passed while reading."""


class _InMemory(MultiPartParser):
    spool_max_size = MOST_BYTES + 1


async def received(request: Request, most_bytes: int = MOST_BYTES) -> list[Sent] | Refusal:
    """Return the files that came, one at least, or why they were not looked at."""
    found = await _within_limits(request, most_bytes)
    if isinstance(found, Refusal):
        await drain(request)
    elif not found:
        return NOTHING
    elif len(found) > MOST_PHOTOS:
        return TOO_MANY
    return found


async def drain(request: Request) -> None:
    """Read what the phone still sends: answered sooner, it would show a broken connection."""
    count = 0
    try:
        async with asyncio.timeout(DRAINED_S):
            async for chunk in request.stream():
                count += len(chunk)
                if count > DRAINED_BYTES:
                    return
    except (ClientDisconnect, TimeoutError, RuntimeError):  # gone, slow, or read to its end
        return


async def _within_limits(request: Request, most_bytes: int) -> list[Sent] | Refusal:
    declared = request.headers.get("content-length", "0")
    if not declared.isdecimal() or int(declared) > most_bytes:
        return TOO_LARGE
    if not request.headers.get("content-type", "").startswith("multipart/form-data"):
        return GARBLED
    parser = _InMemory(
        request.headers, _counted(request, most_bytes), max_files=MOST_PARTS, max_fields=MOST_PARTS
    )
    try:
        async with asyncio.timeout(GRACE_S):
            form = await parser.parse()
    except _TooLargeError:
        return TOO_LARGE
    except TimeoutError:
        return TOO_SLOW
    except (MultiPartException, ClientDisconnect):
        return GARBLED
    files = [part for part in form.getlist(FIELD) if isinstance(part, UploadFile)]
    # A chooser left empty sends a nameless part without a byte.
    sent = [Sent(plain_name(f.filename or ""), await f.read()) for f in files if f.filename]
    await form.close()
    return sent


async def _counted(request: Request, most_bytes: int) -> AsyncGenerator[bytes, None]:
    count = 0
    async for chunk in request.stream():
        count += len(chunk)
        if count > most_bytes:
            raise _TooLargeError
        yield chunk
