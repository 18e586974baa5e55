"""How single values are closed and opened: AES-256-GCM, bound to the place where they lie.

A closed value is one byte that names the way, a random nonce of 12 bytes, then what AES-GCM
gives.  The place (store, table, column, client, record, version) is not kept but authenticated
with it: a value that was copied to another place doesn't open there.
"""

from __future__ import annotations

import os
from typing import Protocol

from cryptography.exceptions import InvalidTag
from cryptography.hazmat.primitives.ciphers.aead import AESGCM

from rimspan.clientfile.errors import DamagedError

KEY_BYTES = 32
NONCE_BYTES = 12
PLAIN, SEALED = b"\x00", b"\x01"
"""The first byte of what was kept before there were keys, and since."""


class Seal(Protocol):
    """Closes and opens what is kept; ``place`` binds a value to where it lies."""

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


class AesSeal:
    """Closes and opens with one key.

    Parameters
    ----------
    key : 32 bytes
    scope : what else every value is bound to: the store, and what the key is for
    """

    def __init__(self, key: bytes, scope: str) -> None:
        self._aes, self._scope = AESGCM(key), scope

    def close(self, place: str, plain: bytes) -> bytes:
        """Return ``plain`` sealed."""
        nonce = os.urandom(NONCE_BYTES)
        return SEALED + nonce + self._aes.encrypt(nonce, plain, self._bound(place))

    def open(self, place: str, kept: bytes) -> bytes:
        """Return what was sealed at ``place``."""
        # Damage can make another kind of value of it.
        if not isinstance(kept, bytes | memoryview) or kept[:1] != SEALED:
            raise DamagedError(f"{place}: is kept in a way this version doesn't know; update it")
        nonce, closed = kept[1 : 1 + NONCE_BYTES], kept[1 + NONCE_BYTES :]
        try:
            return self._aes.decrypt(nonce, closed, self._bound(place))
        except (InvalidTag, ValueError):
            said = "is damaged, or was moved here from elsewhere; restore it from a backup"
            raise DamagedError(f"{place}: {said}") from None

    def _bound(self, place: str) -> bytes:
        return f"{self._scope}\n{place}".encode()


def place(table: str, column: str, *record: object) -> str:
    """Return the name of a place: table, column, then what names the record, version last."""
    return "/".join([table, column, *map(str, record)])


def unmarked(kept: bytes) -> bytes:
    """Return a value of the time before there were keys.

    Raises
    ------
    DamagedError
        If it isn't one.
    """
    if kept[:1] != PLAIN:
        raise DamagedError("a value is neither sealed nor of the time before; restore a backup")
    return kept[1:]
