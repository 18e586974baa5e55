"""The client file: clients, photos, drafts and saved revisions behind one class."""

from __future__ import annotations

from pathlib import Path
from types import TracebackType
from typing import Self

from sqlalchemy import Engine

from rimspan.clientfile.backup import Header, back_up
from rimspan.clientfile.base import Clock, now
from rimspan.clientfile.blobs import Blobs
from rimspan.clientfile.clients import Names
from rimspan.clientfile.drafts import Drafts
from rimspan.clientfile.erasing import Erasing
from rimspan.clientfile.history import History
from rimspan.clientfile.keys import KeyRing
from rimspan.clientfile.opening import Secret, open_store
from rimspan.clientfile.passes import Passes
from rimspan.clientfile.people import People
from rimspan.clientfile.slots import Slots
from rimspan.clientfile.verifying import unseen, verify


class ClientFile(Drafts, Erasing):
    """What the studio keeps.  Safe to use from several threads and processes."""

    def __init__(self, engine: Engine, blobs: Blobs, ring: KeyRing, clock: Clock = now) -> None:
        super().__init__(engine, blobs, ring, clock)
        self.names = Names()
        self.when_gone = []

    @classmethod
    def open(
        cls,
        store: str | Path,
        passphrase: str | None = None,
        *,
        recovery_key: str | None = None,
        demo: bool = False,
        clock: Clock = now,
    ) -> ClientFile:
        """Return the client file in a folder or at a database URL, made if it is new.

        Parameters
        ----------
        passphrase : opens it, or will if it is new; by default RIMSPAN_PASSPHRASE's
        recovery_key : opens it in place of the passphrase
        demo : a new one is for demo data only, and opens to everybody
        clock : tells the time

        Raises
        ------
        LockedError
            If it needs a passphrase and none is given.
        WrongKeyError
            If what is given doesn't open it.
        StoreError
            If it can't be opened.
        """
        secret = Secret.given(passphrase, recovery_key, demo=demo)
        return cls(*open_store(store, secret), clock)

    @property
    def sealed(self) -> bool:
        """Return whether what is kept can be read by passphrase only; a demo store's can by all."""
        return not self.ring.demo

    @property
    def people(self) -> People:
        """Return who works here."""
        return People(self)

    @property
    def passes(self) -> Passes:
        """Return what signed-in browsers carry."""
        return Passes(self, self.people)

    @property
    def slots(self) -> Slots:
        """Return what opens the file: passphrase and recovery key."""
        return Slots(self)

    @property
    def history(self) -> History:
        """Return what was done."""
        return History(self)

    def verify(self, backup: Header | None = None) -> list[str]:
        """Return a line for each damage: every revision, photo, value and link is looked at.

        Parameters
        ----------
        backup : what a backup says of itself; what it knew must still be there
        """
        return verify(self, backup.head if backup else None)

    def unseen(self) -> str | None:
        """Return why ``verify`` couldn't look at the bytes that no row uses, or None if it did."""
        return unseen(self)

    def back_up(self, place: Path) -> Header:
        """Write a backup, consistent though the file is in use, and return its head.

        Raises
        ------
        RefusedError
            If something is there already.
        StoreError
            If it can't be written.
        """
        return back_up(self, place)

    def close(self) -> None:
        """Let go of the store."""
        self.passing.clear()
        self.engine.dispose()

    def __enter__(self) -> Self:
        """Return the file itself."""
        return self

    def __exit__(
        self,
        kind: type[BaseException] | None,
        error: BaseException | None,
        trace: TracebackType | None,
    ) -> None:
        """Close the file."""
        self.close()
