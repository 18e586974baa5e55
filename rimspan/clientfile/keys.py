"""The store's key: what hangs on it, and the slots from which it comes.

::

    passphrase   --Argon2id--+
    recovery key --HKDF------+--> store key --HKDF--> wraps the clients' data keys
                                                 +-->  seals what is of no client (the studio's)
                                                 +-->  the chain's HMAC, the photos' tags
                                                 +-->  the embedded database's pages

A slot holds the store's key wrapped by one secret.  A new passphrase is a new slot: no value is
written anew.  The clients' data keys are random, so destroying one is final.
"""

from __future__ import annotations

import hmac
import json
import os
import uuid
from dataclasses import asdict, dataclass
from hashlib import sha256
from typing import Any

from cryptography.hazmat.primitives.hashes import SHA256
from cryptography.hazmat.primitives.kdf.argon2 import Argon2id
from cryptography.hazmat.primitives.kdf.hkdf import HKDF

from rimspan.clientfile.errors import DamagedError, RefusedError, WrongKeyError
from rimspan.clientfile.seal import KEY_BYTES, AesSeal, Seal, place

PASSPHRASE, RECOVERY, DEMO = "passphrase", "recovery", "demo"
"""The kinds of slots."""

SALT_BYTES = 16
LEAST_SIGNS = 12
"""A shorter passphrase is refused: whoever copies the store can try them without end."""


@dataclass(frozen=True, slots=True)
class Cost:
    """What one try of a secret costs in Argon2id."""

    iterations: int
    lanes: int
    memory_kib: int


PASSPHRASE_COST = Cost(3, 4, 64 * 1024)
"""RFC 9106, section 4: the second recommended option (t = 3, p = 4, 64 MiB)."""
DEMO_COST = Cost(1, 1, 64)
DEMO_SECRET = "demo data only"  # noqa: S105
"""What opens a demo store is no secret, and stands here so that nobody takes it for one."""


def argon2id(secret: str, salt: bytes, cost: Cost) -> bytes:
    """Return the key that a passphrase stands for."""
    return Argon2id(
        salt=salt,
        length=KEY_BYTES,
        iterations=cost.iterations,
        lanes=cost.lanes,
        memory_cost=cost.memory_kib,
    ).derive(secret.encode())


def _derived(key: bytes, store: str, purpose: str) -> bytes:
    made = HKDF(SHA256(), KEY_BYTES, salt=store.encode(), info=f"rimspan/1 {purpose}".encode())
    return made.derive(key)


class KeyRing:
    """The keys of an open store, in memory only."""

    def __init__(self, store: str, store_key: bytes, *, demo: bool = False) -> None:
        self.store, self.demo, self._store_key = store, demo, store_key
        scope = f"rimspan/1 {store}"
        self.studio: Seal = AesSeal(_derived(store_key, store, "studio"), f"{scope} studio")
        self._wrapping = AesSeal(_derived(store_key, store, "wrap"), f"{scope} wrap")
        self._chain, self._tags = (_derived(store_key, store, what) for what in ("chain", "tags"))

    def page_key(self) -> bytes:
        """Return what keys the record of the embedded database's pages."""
        return _derived(self._store_key, self.store, "pages")

    def data_key(self, client: str, wrapped: bytes) -> bytes:
        """Return a client's data key.

        Raises
        ------
        DamagedError
            If it was wrapped for another client or store, or changed since.
        """
        return self._wrapping.open(place("client_key", "wrapped", client), wrapped)

    def wrap(self, client: str, data_key: bytes) -> bytes:
        """Return a client's data key as it is kept."""
        return self._wrapping.close(place("client_key", "wrapped", client), data_key)

    def of_client(self, client: str, data_key: bytes) -> Seal:
        """Return what seals one client's values."""
        return AesSeal(data_key, f"rimspan/1 {self.store} client {client}")

    def mac(self, message: bytes) -> str:
        """Return the mark that only this store's key makes, in hexadecimal digits."""
        return hmac.new(self._chain, message, sha256).hexdigest()

    def tag(self, what: str, value: str) -> str:
        """Return what stands for a value in an index; without the key it can't be tried out."""
        return hmac.new(self._tags, f"{what}\n{value}".encode(), sha256).hexdigest()

    def slot(self, kind: str, secret: str) -> bytes:
        """Return a slot that gives this ring to whoever has the secret."""
        return _closed_slot(kind, secret, self.store, self._store_key)


def new_data_key() -> bytes:
    """Return a new client's data key."""
    return os.urandom(KEY_BYTES)


def new_ring(*, demo: bool = False) -> KeyRing:
    """Return the keys of a new store."""
    return KeyRing(str(uuid.uuid4()), os.urandom(KEY_BYTES), demo=demo)


def checked_passphrase(passphrase: str) -> str:
    """Return a new passphrase, if it is long enough.

    Raises
    ------
    RefusedError
        If it isn't.
    """
    if len(passphrase.strip()) < LEAST_SIGNS:
        said = f"the passphrase is shorter than {LEAST_SIGNS} signs"
        raise RefusedError(f"{said}; take four words or more that nobody would guess together")
    return passphrase


def _closed_slot(kind: str, secret: str, store: str, store_key: bytes) -> bytes:
    salt = os.urandom(SALT_BYTES)
    cost = {PASSPHRASE: PASSPHRASE_COST, DEMO: DEMO_COST}.get(kind)
    key = _slot_key(secret, salt, store, cost)
    parts = {
        "format": 1,
        "store": store,
        "cost": asdict(cost) if cost else None,
        "salt": salt.hex(),
        "wrapped": AesSeal(key, f"rimspan/1 {store}").close(f"slot/{kind}", store_key).hex(),
    }
    return json.dumps({**parts, "check": _check(parts)}).encode()


def _slot_key(secret: str, salt: bytes, store: str, cost: Cost | None) -> bytes:
    if cost is not None:
        return argon2id(secret, salt, cost)
    return _derived(secret.encode() + salt, store, "recovery")


def _check(parts: dict[str, Any]) -> str:
    """Return what tells a damaged slot from a wrong passphrase; it protects from nobody."""
    return sha256(json.dumps(parts, sort_keys=True).encode()).hexdigest()[:16]


def slot_parts(kind: str, kept: bytes) -> dict[str, Any]:
    """Return what a slot holds, if it is as it was written.

    Raises
    ------
    DamagedError
        If it was changed.
    """
    try:
        held = json.loads(kept)
        parts = {name: held[name] for name in ("format", "store", "cost", "salt", "wrapped")}
        sound = held["check"] == _check(parts) and held["format"] == 1
    except (ValueError, KeyError, TypeError, RecursionError):
        sound = False
    if not sound:
        said = f"the {kind} slot of the store's key is damaged"
        raise DamagedError(f"{said}; use the other of passphrase and recovery key, or a backup")
    return parts


def open_slot(kind: str, kept: bytes, secret: str) -> KeyRing:
    """Return the keys that a slot gives to a secret.

    Raises
    ------
    DamagedError
        If the slot itself was changed.
    WrongKeyError
        If it is another's secret.
    """
    parts = slot_parts(kind, kept)
    store = str(parts["store"])
    cost = Cost(**parts["cost"]) if parts["cost"] else None
    key = _slot_key(secret, bytes.fromhex(parts["salt"]), store, cost)
    wrapped = bytes.fromhex(parts["wrapped"])
    try:
        store_key = AesSeal(key, f"rimspan/1 {store}").open(f"slot/{kind}", wrapped)
    except DamagedError:
        raise WrongKeyError(_WRONG[kind]) from None
    return KeyRing(store, store_key, demo=kind == DEMO)


_WRONG = {
    PASSPHRASE: "the passphrase doesn't open this client file; "
    "try again, or set a new one by its recovery key: rimspan file recover",
    RECOVERY: "the recovery key isn't this client file's; check its groups one by one",
    DEMO: "this demo store doesn't open; lay out a new one: rimspan demo --into DIR",
}
