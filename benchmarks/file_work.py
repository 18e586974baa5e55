"""What programs do with a client file until they are killed, and what must be there afterwards."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from contextlib import ExitStack
from functools import cache
from itertools import count
from pathlib import Path
from typing import Protocol

from benchmarks.file_invented import PASSPHRASE, PIERCER, content, fill, lay_older, new, noise
from rimspan.clientfile import (
    ClientFile,
    ClientFileError,
    Secret,
    UnknownError,
    export_client,
    import_client,
    restore,
)
from rimspan.clientfile.dumping import SUFFIX

__all__ = ["fill", "lay_older"]
SECRET = Secret(PASSPHRASE, None, demo=False)
OLDER_NAMES = ["Kim Sample (invented)", "Robin Example (invented)"]


class Say(Protocol):
    """Tells whoever kills that something is acknowledged."""

    def __call__(self, *words: str) -> None:
        """Say a kind and what of it."""
        ...


def save(file: ClientFile, seed: int, say: Say) -> None:
    """Do what a chair does, without end: everything that changes the file."""
    client = file.create_client(f"Killed-{seed}").id
    say("client", client)
    for number in count():
        photo = file.add_photo(client, noise(seed + number), f"{number}.jpg", "left")
        say("photo", client, photo.sha256)
        file.save_draft(client, "left", {"n": number})
        say("draft", client, str(number))
        saved = file.save_revision(new(client, photos={"a": photo.sha256}), f"{seed} {number}")
        say("revision", client, saved.id)
        if number % 2:
            file.void_revision(saved.id, PIERCER, "a slip, invented")
            say("void", client, saved.id)
            other = file.create_client(f"Other-{seed}-{number}").id
            say("client", other)
            moved = file.move_photo(photo.id, other, PIERCER, "the wrong file, invented")
            say("moved", other, moved.sha256)
        if number % 4 == 3:
            file.erase_client(other)
            say("erased", other)
            name = f"Renamed-{seed}-{number}"
            file.rename_client(client, name, "")
            say("renamed", client, name)


def missing(file: ClientFile, said: list[list[str]]) -> Iterator[str]:
    """Yield what was acknowledged and is not there."""
    erased = {words[1] for words in said if words[0] == "erased"}
    names = {words[1]: words[2] for words in said if words[0] == "renamed"}
    drafts = {words[1]: int(words[2]) for words in said if words[0] == "draft"}
    held = _Held(file)
    for kind, client, *more in said:
        if client not in erased and not _is_there(held, kind, client, more):
            yield f"{kind} {client} {more}: was acknowledged and is not there"
    for client in erased:
        if _known(file, client):
            yield f"client {client}: was erased and is there"
    for client, name in names.items():
        if not file.client(client).name.startswith("Renamed-") or not name:
            yield f"client {client}: doesn't have its new name"
    for client, number in drafts.items():
        if client not in erased and (file.draft(client, "left") or {}).get("n", -1) < number:
            yield f"draft {number} of {client}: is not there"


def come_and_go(opened: Callable[[], ClientFile], client: str, beside: bool, say: Say) -> None:
    """Open and close the file without end, changing something each time but the fourth.

    Parameters
    ----------
    beside : whether somebody else has it open, too, and closes it later
    """
    for number in count():
        with ExitStack() as stack:
            file = stack.enter_context(opened())
            if beside and number % 3:
                stack.enter_context(opened()).unseen()
            if number % 4:
                file.save_draft(client, "left", {"n": number})
                say("draft", client, str(number))
        if not number % 4:
            say("client", client)


class _Held:
    """What a file says of each client, read once: a full disk holds hundreds of a client's."""

    def __init__(self, file: ClientFile) -> None:
        self.file = file
        self.known = cache(lambda client: _known(file, client))
        self.events = cache(lambda client: {event.kind for event in file.history.of(client)})
        self.photos = cache(lambda client: {photo.sha256 for photo in file.photos(client)})
        self.revisions = cache(lambda client: {each.id: each for each in file.revisions(client)})


def _is_there(held: _Held, kind: str, client: str, more: list[str]) -> bool:
    if not held.known(client):
        # An erasure that was done but not acknowledged any more.
        return "erased" in held.events(client)
    if kind == "moved":
        return more[0] in held.photos(client)
    if kind == "photo":
        # It may have been moved, and its new client erased.
        return "move" in held.events(client) or bool(held.file.photo_bytes(more[0]))
    if kind in ("revision", "void"):
        saved = held.revisions(client)
        return more[0] in saved and (kind == "revision" or saved[more[0]].void is not None)
    return True


def _known(file: ClientFile, client: str) -> bool:
    try:
        file.client(client)
    except UnknownError:
        return False
    return True


def exported(file: ClientFile, folder: Path) -> tuple[object, ...]:
    """Export a client with something of every kind, and return what it holds."""
    client = fill(file)
    export_client(file, client, folder)
    return content(file, client)


def bring_in(file: ClientFile, folder: Path, say: Say) -> None:
    """Import the same client without end."""
    say("begun")
    while True:
        say("imported", import_client(file, folder).id)


def half_imported(
    file: ClientFile, said: list[list[str]], whole: tuple[object, ...]
) -> Iterator[str]:
    """Yield the clients that aren't all that was exported, or acknowledged and not there."""
    there = {client.id for client in file.clients()}
    for words in said:
        if words[0] == "imported" and words[1] not in there:
            yield f"client {words[1]}: was imported and is not there"
    for client in sorted(there):
        if content(file, client) != whole:
            yield f"client {client}: is there by halves"


def lost_of_older(file: ClientFile) -> Iterator[str]:
    """Yield what an older file held and is not there now that it was brought forward."""
    found = file.clients()
    if [client.name for client in found] != OLDER_NAMES:
        yield f"the names are {[client.name for client in found]}"
        return
    client = found[1].id
    if [r.result for r in file.revisions(client)] != [{"value": 8.5}, {"value": 7.5}]:
        yield "the revisions aren't those that were saved"
    if (file.draft(client, "left") or {}).get("answer") != "invented again ü":
        yield "the draft isn't the one that was kept"
    photos = file.photos(client)
    if len([file.photo_bytes(photo.sha256) for photo in photos]) != 2:
        yield f"there are {len(photos)} photos"


def back_up(file: ClientFile, into: Path, say: Say) -> None:
    """Write one backup after the other."""
    say("begun")
    for number in count():
        place = into / f"{number}{SUFFIX}"
        file.back_up(place)
        say("backup", place.name)


def backups_that_fail(file: ClientFile, into: Path, said: list[list[str]]) -> Iterator[str]:
    """Yield what is named a backup and isn't, and those acknowledged and not there.

    Of those acknowledged the last is restored, and every one that isn't acknowledged.
    """
    told = [words[1] for words in said if words[0] == "backup"]
    there = {place.name for place in into.glob(f"*{SUFFIX}") if not place.name.startswith(".")}
    for name in told:
        if name not in there:
            yield f"backup {name}: was acknowledged and is not there"
    wanted = [content(file, client.id) for client in file.clients()]
    for name in sorted(there - set(told[:-1])):
        back = into / f"back-{name}"
        try:
            faults = restore(into / name, back, SECRET).faults
        except ClientFileError as error:
            yield f"backup {name}: {error}"
            continue
        yield from (f"backup {name}: {fault}" for fault in faults)
        with ClientFile.open(back, PASSPHRASE) as restored:
            if [content(restored, client.id) for client in restored.clients()] != wanted:
                yield f"backup {name}: isn't the file that it was"
