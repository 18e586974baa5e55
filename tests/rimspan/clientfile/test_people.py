"""Who works here, and guessing their passwords slowed down."""

from __future__ import annotations

from concurrent.futures import ThreadPoolExecutor

import pytest
import sqlalchemy as sa

from rimspan.clientfile import ClientFile, NotSignedIn, Person, RefusedError, Role, people, tables
from rimspan.clientfile.attempts import FREE_TRIES
from tests.rimspan.clientfile.made import Clock, behind

NAME, PASSWORD = "Alex Invented", "invented password"


@pytest.mark.memory(source="test vectors of the reference implementation of Argon2 (src/test.c)")
def test_a_password_hash_is_argon2id_s() -> None:
    """argon2id, version 19, t=2, m=65536 KiB, p=1, "password" with the salt "somesalt"."""
    known = "$argon2id$v=19$m=65536,t=2,p=1$c29tZXNhbHQ$CTFhFdXPJO1aFaMaOm5cM1zzJsJJcCmAK2VmX2GRPPc"
    assert not people.fits("Password", known.replace("PPc", "PPd"))
    derived = people.Argon2id(
        salt=b"somesalt", length=32, iterations=2, lanes=1, memory_cost=65536
    ).derive(b"password")
    expected = "09316115d5cf24ed5a15a31a3ba326e5cf32edc24702987c02b6566f61913cf7"
    assert derived.hex() == expected


def test_people_sign_in_by_their_password_alone(file: ClientFile) -> None:
    alex = file.people.add(f" {NAME} ", Role.PIERCER, PASSWORD)
    kim = file.people.add("Kim Sample", Role.APPRENTICE, "other password")
    assert file.people.sign_in("alex invented", PASSWORD) == alex
    assert file.people.sign_in("Kim Sample", "other password") == kim
    assert isinstance(file.people.sign_in(NAME, "other password"), NotSignedIn)
    assert isinstance(file.people.sign_in("Nobody", PASSWORD), NotSignedIn)
    assert file.people.all() == [alex, kim]
    assert file.verify() == []


@pytest.mark.parametrize("taken", ["", "  ", NAME, NAME.upper()])
def test_a_name_tells_people_apart(file: ClientFile, taken: str) -> None:
    file.people.add(NAME, Role.PIERCER, PASSWORD)
    with pytest.raises(RefusedError, match="empty or taken"):
        file.people.add(taken, Role.PIERCER, PASSWORD)


def test_a_short_password_is_refused(file: ClientFile) -> None:
    with pytest.raises(RefusedError, match="shorter than 8"):
        file.people.add(NAME, Role.PIERCER, "short")
    assert file.people.all() == []


def test_roles_and_passwords_change_and_the_past_stays(file: ClientFile, store: str) -> None:
    alex = file.people.add(NAME, Role.APPRENTICE, PASSWORD)
    alex = file.people.change(alex, role=Role.PIERCER)
    assert file.people.sign_in(NAME, PASSWORD) == Person(alex.id, NAME, Role.PIERCER)
    file.people.change(alex, password="another password")
    assert isinstance(file.people.sign_in(NAME, PASSWORD), NotSignedIn)
    assert file.people.sign_in(NAME, "another password") == alex
    left = file.people.change(alex, active=False)
    assert isinstance(file.people.sign_in(NAME, "another password"), NotSignedIn)
    assert file.people.all() == [left]
    with behind(store) as connection:
        counted = sa.select(sa.func.count()).select_from(tables.person)
        assert connection.scalar(counted) == 4
    assert file.verify() == []


def test_only_a_piercer_may_confirm_and_only_a_manager_manage() -> None:
    assert {role.value: (role.may_confirm, role.may_manage) for role in Role} == {
        "apprentice": (False, False),
        "piercer": (True, False),
        "manager": (True, True),
    }


@pytest.mark.parametrize("name", [NAME, "Nobody"])
def test_guessing_is_slowed_for_names_that_exist_and_that_don_t(store: str, name: str) -> None:
    clock = Clock()
    with ClientFile.open(store, clock=clock) as file:
        file.people.add(NAME, Role.PIERCER, PASSWORD)
        waits = []
        for _ in range(16):
            refused = file.people.sign_in(name, "wrong password")
            assert isinstance(refused, NotSignedIn)
            waits.append(round(refused.wait_s))
            clock.pass_s(refused.wait_s)
        assert waits == [0, 0, 1, 2, 4, 8, 16, 32, 64, 128, 256, 512, 900, 900, 900, 900]


def test_who_waits_is_not_looked_at_even_after_a_new_start(store: str) -> None:
    clock = Clock()
    with ClientFile.open(store, clock=clock) as file:
        alex = file.people.add(NAME, Role.PIERCER, PASSWORD)
        for _ in range(5):
            clock.pass_s(10)
            file.people.sign_in(NAME, "wrong password")
    with ClientFile.open(store, clock=clock) as file:
        early = file.people.sign_in(NAME, PASSWORD)
        assert isinstance(early, NotSignedIn)
        assert 3 < early.wait_s <= 4
        clock.pass_s(early.wait_s)
        assert file.people.sign_in(NAME, PASSWORD) == alex
        refused = file.people.sign_in(NAME, "wrong password")
        assert isinstance(refused, NotSignedIn)
        assert refused.wait_s == 0  # a sign-in begins the count anew


def test_many_guesses_at_once_are_not_looked_at_together(
    store: str, monkeypatch: pytest.MonkeyPatch
) -> None:
    looked: list[str] = []
    fits = people.fits

    def counted(password: str, hashed: str) -> bool:
        looked.append(password)
        return fits(password, hashed)

    monkeypatch.setattr(people, "fits", counted)
    with ClientFile.open(store, clock=Clock()) as file, ThreadPoolExecutor(4) as pool:
        file.people.add(NAME, Role.PIERCER, PASSWORD)
        guesses = [f"wrong password {n}" for n in range(12)]
        found = list(pool.map(lambda guess: file.people.sign_in(NAME, guess), guesses))
    assert all(isinstance(each, NotSignedIn) for each in found)
    assert len(looked) == FREE_TRIES  # no second passes on this clock
