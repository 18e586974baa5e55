"""What opens a client file: the passphrase, changed at will, and a recovery key shown once."""

from __future__ import annotations

from sqlalchemy import Connection, select

from rimspan.clientfile import tables
from rimspan.clientfile.base import Base
from rimspan.clientfile.chain import Entry
from rimspan.clientfile.errors import RefusedError, WrongKeyError
from rimspan.clientfile.keys import PASSPHRASE, RECOVERY, checked_passphrase, open_slot
from rimspan.clientfile.recovery import new_recovery_key, read_recovery_key


class Slots:
    """The slots of a client file's key."""

    def __init__(self, file: Base) -> None:
        self._file = file

    def change_passphrase(self, passphrase: str, by: str = "") -> None:
        """Let another passphrase open the file from now on; nothing else is written anew.

        Copies and backups made before still open with the old one.

        Raises
        ------
        RefusedError
            If it is too short, or this is a demo store.
        """
        self._set(PASSPHRASE, checked_passphrase(passphrase), by)

    def new_recovery_key(self, by: str = "") -> str:
        """Return a new recovery key, in place of any before; it is nowhere but here.

        Raises
        ------
        RefusedError
            If this is a demo store.
        """
        made = new_recovery_key()
        self._set(RECOVERY, read_recovery_key(made), by)
        return made

    def opens(self, passphrase: str) -> bool:
        """Return whether the file opens with a passphrase; a demo store does with any."""
        if self._file.ring.demo:
            return True
        slot = tables.key_slot
        with self._file.reading() as connection:
            kept = connection.scalar(select(slot.c.document).where(slot.c.kind == PASSPHRASE))
        if kept is None:
            return False
        try:
            open_slot(PASSPHRASE, bytes(kept), passphrase)
        except WrongKeyError:
            return False
        return True

    def has_recovery_key(self) -> bool:
        """Return whether a recovery key was ever made."""
        with self._file.reading() as connection:
            return self._held(connection, RECOVERY)

    def _set(self, kind: str, secret: str, by: str) -> None:
        if self._file.ring.demo:
            said = "this is a demo store, open to everybody from its first day"
            raise RefusedError(f"{said}; make a new client file for what is to stay closed")
        document = self._file.ring.slot(kind, secret)  # takes its time: before the lock
        slot = tables.key_slot
        with self._file.writing() as connection:
            if self._held(connection, kind):
                connection.execute(
                    slot.update().where(slot.c.kind == kind).values(document=document)
                )
            else:
                connection.execute(slot.insert().values(kind=kind, document=document))
            self._file.note(connection, Entry("key", record=kind, detail={"by": by}))

    @staticmethod
    def _held(connection: Connection, kind: str) -> bool:
        slot = tables.key_slot
        return connection.scalar(select(slot.c.kind).where(slot.c.kind == kind)) is not None
