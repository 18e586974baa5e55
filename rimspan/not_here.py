"""Where it isn't done, and why; what a client would like to wear later: kept as they are told."""

from __future__ import annotations

from pydantic import TypeAdapter

from assess.insertion import NotHere
from rimspan.clientfile import ClientFile, NewRecord, Person, Record
from rimspan.kept_records import read_back
from rimspan.studio import at_work, decider

NOT_HERE, WISH = "not_here", "wish"
_NOT_HERE = TypeAdapter(NotHere)


def record_not_here(
    file: ClientFile, by: Person | None, client: str, side: str, kept: NotHere, token: str
) -> Record:
    """Keep that this place isn't the one, and what was talked about instead.

    Raises
    ------
    NotAllowedError
        If nobody is signed in, or an apprentice.
    """
    name = decider(file, by).name
    document = _NOT_HERE.dump_python(kept, mode="json") | {"side": side}
    return file.add_record(NewRecord(NOT_HERE, name, document, client), token)


def not_here_of(record: Record) -> NotHere:
    """Return what a record of that kind says.

    Raises
    ------
    DamagedError
        If it can't be read.
    """
    return read_back(record, _NOT_HERE, "not here")


def record_wish(file: ClientFile, by: Person | None, client: str, wish: str, token: str) -> Record:
    """Keep what a client would like to wear later, in their words; the newest counts.

    Raises
    ------
    NotAllowedError
        If nobody is signed in.
    """
    words = wish.strip()
    held = {"wishes": [words] if words else []}
    return file.add_record(NewRecord(WISH, at_work(file, by).name, held, client), token)


def wish_of(file: ClientFile, client: str) -> str:
    """Return what a client would like to wear later, or ``""``."""
    newest = file.newest_record(WISH, client)
    return "" if newest is None else ", ".join(str(each) for each in newest.document["wishes"])
