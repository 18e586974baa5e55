"""The one interface through which everything kept is closed and opened.

Now it only marks what passes; keys come behind the same two verbs without a change of tables.
"""

from __future__ import annotations

from typing import Protocol

from rimspan.clientfile.errors import DamagedError


class Seal(Protocol):
    """Closes and opens what is kept; ``place`` binds a value to where it lies."""

    @property
    def sealed(self) -> bool:
        """Return whether nobody without a key can read what is kept."""
        ...

    def close(self, place: str, plain: bytes) -> bytes:
        """Return ``plain`` as it is kept at ``place``."""
        ...

    def open(self, place: str, kept: bytes) -> bytes:
        """Return what was closed at ``place``.

        Raises
        ------
        DamagedError
            If it wasn't.
        """
        ...


class PlainSeal:
    """Keeps values as they are behind a tag of one byte: for demo data only."""

    TAG = b"\x00"
    sealed = False

    def close(self, place: str, plain: bytes) -> bytes:
        """Return ``plain`` behind the tag."""
        return self.TAG + plain

    def open(self, place: str, kept: bytes) -> bytes:
        """Return what stands behind the tag."""
        if kept[:1] != self.TAG:
            raise DamagedError(f"{place}: is kept in a way this version doesn't know; update it")
        return kept[1:]
