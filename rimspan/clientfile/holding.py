"""Who has the embedded database open, and the record of its pages while nobody writes to it.

Every program that has it open holds a shared lock on a file beside it; one that is killed lets go
by itself.  Whoever closes it last, which is who gets the lock alone, records the pages.  The first
change that any program makes afterwards takes the record away before it is committed, so a record
that is there fits the file, unless something other than these programs changed it.
"""

from __future__ import annotations

import os
import sys
import threading
from collections.abc import Iterator
from contextlib import suppress
from pathlib import Path

from rimspan.clientfile.blobs import sync_folder
from rimspan.clientfile.errors import DamagedError, StoreError
from rimspan.clientfile.page_marks import changed_pages, record_of

if sys.platform != "win32":
    import fcntl

LOCK, RECORD = "rimspan.lock", "rimspan.pages"

_reading: dict[Path, int] = {}
"""Database files that this program reads past SQLite.

Closing one would drop every lock that SQLite holds on the file for this program, so they stay open
until nobody has it open.
"""
_reading_guard = threading.Lock()


class Holding:
    """One engine's hold on the embedded database.

    Parameters
    ----------
    path : the database's file
    """

    def __init__(self, path: Path) -> None:
        self.path = path
        self.key: bytes | None = None
        """Keys the record; without it none is made and none can be read."""
        self._record, self._lock = path.with_name(RECORD), path.with_name(LOCK)
        self._guard = threading.Lock()
        self._handle: int | None = None
        self._locks = sys.platform != "win32"
        self._connections = 0
        self._wrote = self._unsynced = False

    def connecting(self) -> None:
        """Take the shared lock before the database is opened.

        It waits for who closes the file meanwhile.

        Raises
        ------
        StoreError
            If the lock's file can't be made.
        """
        with self._guard:
            if self._handle is not None:
                return
            try:
                handle = os.open(self._lock, os.O_RDWR | os.O_CREAT, 0o600)
            except OSError as error:
                said = error.strerror or type(error).__name__
                raise StoreError(f"{self._lock}: can't be opened ({said}); check it") from None
            try:
                self._locks = _locked(handle, alone=False)
            except BaseException:  # somebody grew tired of waiting
                os.close(handle)
                raise
            self._handle = handle

    def connected(self) -> None:
        """Count a connection."""
        with self._guard:
            self._connections += 1

    def disconnected(self) -> None:
        """Count one less."""
        with self._guard:
            self._connections -= 1

    def changing(self) -> None:
        """Take the record away, durably, before a change is kept.

        Raises
        ------
        OSError
            If it can't be taken away.
        """
        self._wrote = True
        with suppress(FileNotFoundError):
            self._record.unlink()
            self._unsynced = True
        if self._unsynced:
            sync_folder(self._record.parent)
            self._unsynced = False

    def closed(self) -> None:
        """Let go of the lock; if nobody else has the file open, record its pages first."""
        with self._guard:
            if self._handle is None or self._connections:
                return
            try:
                if self._locks and _locked(self._handle, alone=True):
                    self._leave()
            finally:
                os.close(self._handle)
                self._handle, self._wrote = None, False

    def faults(self) -> Iterator[str]:
        """Yield where the file isn't what it was when it was closed, as far as that is known."""
        if not self._locks or self.key is None:
            return
        name = self.path.name
        try:
            kept = self._record.read_bytes()
            changed = changed_pages(_reader(self.path), self.key, kept)
            found = [f"{each} of {name}: changed since the file was closed" for each in changed]
        except FileNotFoundError:
            return
        except DamagedError as error:
            found = [f"{RECORD}: {error}"]
        except OSError as error:
            found = [f"{name} or {RECORD}: can't be read ({error.strerror})"]
        if self._record.exists():  # else somebody wrote meanwhile
            yield from found

    def unseen(self) -> str | None:
        """Return why the pages can't be held against a record, or None if they can."""
        if not self._locks:
            return "this system has no locks that would tell whether the file was closed"
        if self._wrote:
            return "this program has changed the file since it opened it"
        if not self._record.exists():
            return "who last changed the file has it open still, or ended without closing it"
        return None

    def _leave(self) -> None:
        """Leave a record of the pages; nobody else has the file open."""
        log = self.path.with_name(f"{self.path.name}-wal")
        try:
            wanted = self.key is not None and not self._record.exists()
            if wanted and self.path.exists() and not log.exists():
                with suppress(OSError):  # a full disk: then there is none
                    self._write()
        finally:
            _let_go_of(self.path)

    def _write(self) -> None:
        assert self.key is not None
        beside = self._record.with_name(f"{RECORD}.new")
        try:
            with beside.open("wb") as out:
                out.write(record_of(_reader(self.path), self.key))
                out.flush()
                os.fsync(out.fileno())
            beside.replace(self._record)
            sync_folder(beside.parent)
        except BaseException:
            beside.unlink(missing_ok=True)
            raise


def _locked(handle: int, *, alone: bool) -> bool:
    """Return whether a lock was got; it is waited for only where it may be shared."""
    if sys.platform == "win32":
        return False
    try:
        fcntl.flock(handle, fcntl.LOCK_EX | fcntl.LOCK_NB if alone else fcntl.LOCK_SH)
    except OSError:  # others hold it, or this file system knows no locks
        return False
    return True


def _reader(path: Path) -> int:
    """Return a handle to read a database file by."""
    with _reading_guard:
        held = _reading.get(path)
        if held is not None:
            if os.path.samestat(os.fstat(held), path.stat()):
                return held
            os.close(_reading.pop(path))  # another file bears the name now
        _reading[path] = os.open(path, os.O_RDONLY)
        return _reading[path]


def _let_go_of(path: Path) -> None:
    with _reading_guard:
        held = _reading.pop(path, None)
        if held is not None:
            os.close(held)
