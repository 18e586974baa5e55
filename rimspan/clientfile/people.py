"""Who works here: named people, their passwords as Argon2id hashes, and guessing slowed down."""

from __future__ import annotations

import json
import os
import uuid
from dataclasses import asdict, dataclass
from enum import Enum

from cryptography.exceptions import InvalidKey
from cryptography.hazmat.primitives.kdf.argon2 import Argon2id
from sqlalchemy import func, select

from rimspan.clientfile import tables
from rimspan.clientfile.attempts import Attempts
from rimspan.clientfile.base import Base, canonical
from rimspan.clientfile.chain import Entry
from rimspan.clientfile.errors import RefusedError, UnknownError
from rimspan.clientfile.keys import SALT_BYTES, Cost
from rimspan.clientfile.seal import place

PASSWORD_COST = Cost(2, 1, 19 * 1024)
"""About a tenth of a second a try; the hashes lie sealed by the store's key besides."""
LEAST_SIGNS = 8


class Role(Enum):
    """What somebody may do."""

    APPRENTICE = "apprentice"
    """May measure, never confirm."""
    PIERCER = "piercer"
    MANAGER = "manager"
    """A piercer who also says who works here, and who is erased."""

    @property
    def may_confirm(self) -> bool:
        """Return whether an assessment may be confirmed by that role."""
        return self is not Role.APPRENTICE

    @property
    def may_manage(self) -> bool:
        """Return whether that role may say who works here."""
        return self is Role.MANAGER


@dataclass(frozen=True, slots=True)
class Person:
    """Somebody who works here."""

    id: str
    name: str
    role: Role
    active: bool = True
    account: str = ""
    """The e-mail by which an identity provider knows them, or ``""``."""


@dataclass(frozen=True, slots=True)
class NotSignedIn:
    """Why somebody isn't signed in: the password or the name is wrong, or it was tried too often.

    ``wait_s`` is how long the next try has to wait, s.
    """

    wait_s: float


def person_place(person: str, version: int) -> str:
    """Return where somebody's entry lies."""
    return place("person", "document", person, version)


def password_hash(password: str) -> str:
    """Return a password's hash, in the form that names its own cost.

    Raises
    ------
    RefusedError
        If the password is too short.
    """
    if len(password) < LEAST_SIGNS:
        said = f"the password is shorter than {LEAST_SIGNS} signs"
        raise RefusedError(f"{said}; take a longer one")
    cost = PASSWORD_COST
    made = Argon2id(
        salt=os.urandom(SALT_BYTES),
        length=32,
        iterations=cost.iterations,
        lanes=cost.lanes,
        memory_cost=cost.memory_kib,
    )
    return made.derive_phc_encoded(password.encode())


def fits(password: str, hashed: str) -> bool:
    """Return whether a hash is of that password."""
    try:
        Argon2id.verify_phc_encoded(password.encode(), hashed)
    except InvalidKey:
        return False
    return True


def _manages(person: Person) -> bool:
    return person.active and person.role.may_manage


class People:
    """The people of a client file."""

    def __init__(self, file: Base) -> None:
        self._file = file

    def add(self, name: str, role: Role, password: str, by: str = "", account: str = "") -> Person:
        """Return somebody new.

        Raises
        ------
        RefusedError
            If the name is empty or taken, so is the account, or the password is too short.
        """
        name = name.strip()
        if not name or self._named(name) is not None:
            raise RefusedError("the name is empty or taken; take one that tells people apart")
        made = Person(str(uuid.uuid4()), name, role, account=self._free(account))
        self._keep(made, password_hash(password), by)
        return made

    def add_first(self, name: str, password: str) -> Person:
        """Return the first manager of a file in which nobody may manage yet.

        Raises
        ------
        RefusedError
            If there is one, or as :meth:`add`.
        """
        if self.managers():
            raise RefusedError("there is a manager already; ask them to add you")
        return self.add(name, Role.MANAGER, password, by=name.strip())

    def change(
        self,
        person: Person,
        *,
        role: Role | None = None,
        active: bool | None = None,
        password: str | None = None,
        account: str | None = None,
        by: str = "",
    ) -> Person:
        """Return somebody with another role or password, or who works here no more.

        Raises
        ------
        UnknownError
            If there is no such person.
        RefusedError
            If nobody who may manage would be left, or as :meth:`add`.
        """
        known = {held.id: (held, hashed) for held, hashed in self._all()}
        if person.id not in known:
            raise UnknownError(f"person {person.id}: is not in this file")
        held, hashed = known[person.id]
        made = Person(
            held.id,
            held.name,
            role or held.role,
            held.active if active is None else active,
            held.account if account is None else self._free(account, held.id),
        )
        if not _manages(made) and _manages(held) and self.managers() == [held]:
            raise RefusedError(f"{held.name} is the only manager; make somebody else one first")
        self._keep(made, hashed if password is None else password_hash(password), by)
        return made

    def managers(self) -> list[Person]:
        """Return who may say who works here."""
        return [person for person in self.all() if _manages(person)]

    def find(self, person_id: str) -> Person | None:
        """Return somebody by their id."""
        return next((person for person, _ in self._all() if person.id == person_id), None)

    def hash_of(self, person_id: str) -> str:
        """Return the hash of somebody's password, or ``""`` if there is no such person."""
        return next((hashed for person, hashed in self._all() if person.id == person_id), "")

    def of_account(self, account: str) -> Person | None:
        """Return who works here by an identity provider's e-mail, or None."""
        wanted = account.strip().casefold()
        found = (each for each in self.all() if each.active and each.account.casefold() == wanted)
        return next(found, None) if wanted else None

    def _free(self, account: str, owner: str = "") -> str:
        wanted = account.strip()
        held = self.of_account(wanted)
        if held is not None and held.id != owner:
            raise RefusedError(f"that e-mail is {held.name}'s already; give another or none")
        return wanted

    def all(self) -> list[Person]:
        """Return everybody who ever worked here, by name."""
        return sorted((person for person, _ in self._all()), key=lambda p: p.name.casefold())

    def sign_in(self, name: str, password: str) -> Person | NotSignedIn:
        """Return who it is, or that it isn't anybody, in the same words and time for any reason.

        A name that was tried in vain has to wait, longer each time, whether it exists or not; the
        wait is kept in the file, so that starting the program anew doesn't end it.
        """
        tries = Attempts(self._file, "sign-in", name.strip().casefold())
        wait = tries.count()
        if wait:
            return NotSignedIn(wait)
        found = self._named(name)
        # A name that isn't there costs a try just the same, so that time tells nothing.
        right = fits(password, found[1] if found else _nobody())
        if found is None or not right or not found[0].active:
            return NotSignedIn(tries.left_s())
        tries.clear()
        return found[0]

    def _named(self, name: str) -> tuple[Person, str] | None:
        wanted = name.strip().casefold()
        return next((each for each in self._all() if each[0].name.casefold() == wanted), None)

    def _all(self) -> list[tuple[Person, str]]:
        table = tables.person
        newest = select(table.c.id, func.max(table.c.version).label("version")).group_by(table.c.id)
        last = newest.subquery()
        wanted = select(table).join(
            last, (table.c.id == last.c.id) & (table.c.version == last.c.version)
        )
        with self._file.reading() as connection:
            rows = connection.execute(wanted).all()
        found = []
        for row in rows:
            kept = self._file.ring.studio.open(person_place(row.id, row.version), row.document)
            held = json.loads(kept)
            hashed = held.pop("hash")
            account = held.get("account", "")  # not there in what was kept before
            person = Person(row.id, held["name"], Role(held["role"]), held["active"], account)
            found.append((person, hashed))
        return found

    def _keep(self, person: Person, hashed: str, by: str) -> None:
        file, table = self._file, tables.person
        held = asdict(person) | {"role": person.role.value, "hash": hashed}
        held.pop("id")
        with file.writing() as connection:
            newest = select(func.max(table.c.version)).where(table.c.id == person.id)
            version = int(connection.scalar(newest) or 0) + 1
            where = person_place(person.id, version)
            values = {
                "id": person.id,
                "version": version,
                "document": file.ring.studio.close(where, canonical(held)),
                "at": file.clock(),
            }
            detail = {"by": by, "role": person.role.value, "active": person.active}
            entry = Entry("person", record=f"{person.id}/{version}", detail=detail)
            file.keep(connection, table, values, entry)


def fits_person(people: People, person: Person, password: str) -> bool:
    """Return whether it is somebody's password; a wrong one counts as a failed sign-in."""
    found = people.sign_in(person.name, password)
    return isinstance(found, Person) and found.id == person.id


_held_nobody: list[str] = []


def _nobody() -> str:
    """Return the hash of a password that nobody has."""
    if not _held_nobody:
        _held_nobody.append(password_hash(os.urandom(16).hex()))
    return _held_nobody[0]
