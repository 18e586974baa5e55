"""The studio's own verbs: who works here, what is set, who is erased.  Who may, is said here.

A page or a command calls these with who is signed in; a role that may not is refused here, and
so is nobody: a chair that is locked has none.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import asdict

from assess.talk.consent import AgeRules
from rimspan.clientfile import ClientFile, Person, RefusedError, Revision, Role, StoredPhoto
from rimspan.clientfile.people import fits_person

LEAST_IDLE_MIN, MOST_IDLE_MIN = 1, 240


class NotAllowedError(RefusedError):
    """Nobody is signed in, or somebody who may not do that."""


def _now(file: ClientFile, person: Person | None) -> Person:
    """Return somebody as the file knows them now: what they were when they signed in is past."""
    found = None if person is None else file.people.find(person.id)
    if found is None or not found.active:
        raise NotAllowedError("Nobody is signed in here; sign in and do it again.")
    return found


def _allowed(person: Person, may: bool, who: str) -> Person:
    if not may:
        raise NotAllowedError(f"{person.name} may not do that here. {who} does.")
    return person


def at_work(file: ClientFile, person: Person | None) -> Person:
    """Return who is signed in, whatever their role.

    Raises
    ------
    NotAllowedError
        If nobody is.
    """
    return _now(file, person)


def manager(file: ClientFile, person: Person | None) -> Person:
    """Return who is signed in, if they may manage.

    Raises
    ------
    NotAllowedError
        If nobody is, or they may not.
    """
    found = _now(file, person)
    return _allowed(found, found.role.may_manage, "A manager")


def decider(file: ClientFile, person: Person | None) -> Person:
    """Return who is signed in, if they may decide about an ear.

    Raises
    ------
    NotAllowedError
        If nobody is, or they may not.
    """
    found = _now(file, person)
    return _allowed(found, found.role.may_confirm, "A piercer")


def add_person(
    file: ClientFile, by: Person | None, name: str, role: Role, password: str, account: str = ""
) -> Person:
    """Return somebody new who works here; a manager adds them."""
    said = manager(file, by).name
    return file.people.add(name, role, password, by=said, account=account)


def change_person(
    file: ClientFile,
    by: Person | None,
    person: Person,
    *,
    role: Role | None = None,
    active: bool | None = None,
    password: str | None = None,
    account: str | None = None,
) -> Person:
    """Return somebody whose role, password or e-mail a manager changed, or who left."""
    said = manager(file, by).name
    return file.people.change(
        person, role=role, active=active, password=password, account=account, by=said
    )


def change_own_password(file: ClientFile, person: Person | None, old: str, new: str) -> None:
    """Give who is signed in another password, if they know the one they have.

    Raises
    ------
    NotAllowedError
        If they don't.
    """
    found = _now(file, person)
    if not fits_person(file.people, found, old):
        raise NotAllowedError("That isn't the password so far, or it was tried too often.")
    file.people.change(found, password=new, by=found.name)


def set_retention(file: ClientFile, by: Person | None, days: int | None) -> None:
    """Set for how long clients are kept after the last entry; None is until somebody erases."""
    file.set_retention(days, by=manager(file, by).name)


def set_idle_minutes(file: ClientFile, by: Person | None, minutes: int) -> None:
    """Set after how many minutes without a step a chair is locked.

    Raises
    ------
    RefusedError
        If that is out of reason.
    """
    said = manager(file, by).name
    if not LEAST_IDLE_MIN <= minutes <= MOST_IDLE_MIN:
        raise RefusedError(f"a chair locks after {LEAST_IDLE_MIN} to {MOST_IDLE_MIN} minutes")
    file.settings.set("idle", {"minutes": minutes}, said)


def age_rules(file: ClientFile) -> AgeRules:
    """Return the studio's own ages; the law of the place comes first."""
    return AgeRules(**file.settings.get("ages"))


def set_age_rules(file: ClientFile, by: Person | None, rules: AgeRules) -> None:
    """Set how old a client must be, and from when on nobody needs a guardian."""
    said = manager(file, by).name
    file.settings.set("ages", asdict(rules), said)


def erase(file: ClientFile, by: Person | None, client: str, typed: str) -> None:
    """Erase a client for good; a manager does, and types the client's name first.

    Raises
    ------
    RefusedError
        If another name is typed.
    """
    said = manager(file, by).name
    name = file.client(client).name
    if typed.strip() != name.strip() or not name.strip():
        raise RefusedError("That isn't the client's name as it stands above; nobody was erased.")
    file.erase_client(client, by=said)


def void(file: ClientFile, by: Person | None, revision: str, reason: str) -> Revision:
    """Return a revision that a piercer made void."""
    return file.void_revision(revision, decider(file, by).name, reason)


def consent(file: ClientFile, by: Person | None, client: str, given: bool, note: str) -> None:
    """Keep that a client gave or withdrew the consent to photos; everybody here may note it."""
    file.consents.record(client, given, _now(file, by).name, note)


Move = Callable[[ClientFile, StoredPhoto, str, str, str], StoredPhoto]


def move_photo(
    file: ClientFile, by: Person | None, photo: StoredPhoto, to: str, reason: str, move: Move
) -> StoredPhoto:
    """Return a photo that a piercer moved to the right client.

    Parameters
    ----------
    move : moves it, in the file and in the drafts
    """
    return move(file, photo, to, decider(file, by).name, reason)


def may_export(file: ClientFile, by: Person | None) -> Person:
    """Return who is signed in, if they may hand out all that is kept of a client."""
    return decider(file, by)
