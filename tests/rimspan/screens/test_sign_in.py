"""The door: a pass for a password, refused and slowed otherwise, locked when nobody is there."""

from __future__ import annotations

from pathlib import Path
from typing import Any
from urllib.parse import urlencode

import pytest

from rimspan.clientfile import ClientFile, Role, tables
from rimspan.demo.client import PASSWORD as DEMO_PASSWORD
from rimspan.demo.client import PIERCER as DEMO_PIERCER
from rimspan.demo.client import add_people
from rimspan.screens import sign_in_words
from rimspan.screens.chair import REFUSED
from rimspan.screens.sign_in_routes import FIRST_MANAGER, SIGN_IN, SIGN_OUT, routes
from rimspan.screens.tickets import FRESH_S, LASTS_S, Tickets, account_of
from rimspan.sign_ins import IDLE_MIN, RENEW_S, SignIns
from tests.asgi import Answer, Browser
from tests.rimspan.clientfile.made import PASSPHRASE, Clock
from tests.rimspan.screens.conftest import ALEX, PASSWORD, Chairs


@pytest.fixture
def clock() -> Clock:
    return Clock()


@pytest.fixture
def studio(tmp_path: Path, clock: Clock) -> Any:
    with ClientFile.open(tmp_path, clock=clock) as file:
        yield Chairs(file, SignIns(lambda: file))


def send(browser: Browser, path: str, **fields: str) -> Answer:
    headers = {"content-type": "application/x-www-form-urlencoded", "host": "localhost:8501"}
    return browser.ask("POST", path, urlencode(fields).encode(), headers)


def door(studio: Chairs) -> Browser:
    return studio.browser(*routes(studio.sign_ins), who=None)


def why(browser: Browser) -> str:
    held = dict(part.split("=", 1) for part in browser.cookie.split("; ") if part)
    return sign_in_words.refusal_words(held.get(REFUSED, "").split(".")[0])


def test_a_password_gives_a_pass_and_a_way_back(studio: Chairs) -> None:
    studio.file.people.add(ALEX, Role.PIERCER, PASSWORD)
    browser = door(studio)
    answer = send(browser, SIGN_IN, person=ALEX, secret=PASSWORD, to="/marks?client=a&side=left")
    assert (answer.status, answer.headers["location"]) == (303, "/marks?client=a&side=left")
    seat = studio.sign_ins.seat(studio.pass_of(browser))
    assert seat is not None
    assert (seat.person.name, seat.locked) == (ALEX, False)
    assert PASSWORD not in answer.headers["location"]
    assert ALEX not in browser.cookie


def test_no_script_and_no_other_site_gets_the_pass(studio: Chairs) -> None:
    studio.file.people.add(ALEX, Role.PIERCER, PASSWORD)
    browser = door(studio)
    browser.keeps_cookies = False
    body = urlencode({"person": ALEX, "secret": PASSWORD}).encode()
    given = browser.ask("POST", SIGN_IN, body).headers["set-cookie"]
    assert "HttpOnly; SameSite=Strict" in given
    elsewhere = browser.ask("POST", SIGN_IN, body, {"origin": "http://elsewhere.example"})
    assert elsewhere.status == 403
    assert "set-cookie" not in elsewhere.headers


@pytest.mark.parametrize("to", ["//elsewhere.example", "https://elsewhere.example", "/\\else", ""])
def test_the_way_back_stays_on_this_server(studio: Chairs, to: str) -> None:
    studio.file.people.add(ALEX, Role.PIERCER, PASSWORD)
    answer = send(door(studio), SIGN_IN, person=ALEX, secret=PASSWORD, to=to)
    assert answer.headers["location"] == "/"


def test_guesses_are_refused_and_made_to_wait(studio: Chairs, clock: Clock) -> None:
    studio.file.people.add(ALEX, Role.PIERCER, PASSWORD)
    browser, said = door(studio), []
    for _ in range(4):
        send(browser, SIGN_IN, person=ALEX, secret="wrong")
        said.append(why(browser))
    (alex,) = studio.file.people.all()
    assert f".{alex.id}" in browser.cookie  # who was chosen is chosen again
    assert said[:2] == ["Name and password don't fit. Try again."] * 2
    assert "has to wait 1 second." in said[2]
    assert "has to wait 1 second." in said[3]  # too early: not even looked at
    assert studio.sign_ins.seat(studio.pass_of(browser)) is None
    clock.pass_s(1)
    send(browser, SIGN_IN, person=ALEX, secret=PASSWORD)
    assert studio.sign_ins.seat(studio.pass_of(browser)) is not None
    assert REFUSED not in browser.cookie


def test_names_of_nobody_fill_no_table(studio: Chairs) -> None:
    studio.file.people.add(ALEX, Role.PIERCER, PASSWORD)
    browser = door(studio)
    for name in ("Nobody", "", ALEX.upper()):
        send(browser, SIGN_IN, person=name, secret=PASSWORD)
        assert why(browser) == "Name and password don't fit. Try again."
    with studio.file.reading() as connection:
        assert connection.execute(tables.attempt.select()).all() == []


def test_the_passphrase_vouches_for_the_first_manager_alone(studio: Chairs) -> None:
    browser = door(studio)
    mine = {"person": ALEX, "secret": PASSWORD, "again": PASSWORD}
    send(browser, FIRST_MANAGER, **mine, passphrase="a guess of somebody")
    assert "isn't the passphrase" in why(browser)
    for fault in ({"again": "another one"}, {"secret": "short", "again": "short"}, {"person": " "}):
        send(browser, FIRST_MANAGER, **(mine | fault), passphrase=PASSPHRASE)
        assert "Nobody was named." in why(browser)
    assert studio.file.people.all() == []
    send(browser, FIRST_MANAGER, **mine, passphrase=PASSPHRASE)
    (first,) = studio.file.people.all()
    assert (first.name, first.role) == (ALEX, Role.MANAGER)
    assert studio.sign_ins.seat(studio.pass_of(browser)) is not None
    other = door(studio)
    send(other, FIRST_MANAGER, **(mine | {"person": "Second"}), passphrase=PASSPHRASE)
    assert studio.file.people.all() == [first]


def test_each_sign_in_has_a_pass_of_its_own_and_signing_out_ends_it(studio: Chairs) -> None:
    """Who looked at a pass before, on a shared tablet, has nothing of it later."""
    for name in (ALEX, "Kim Sample"):
        studio.file.people.add(name, Role.PIERCER, PASSWORD)
    browser, passes = door(studio), []
    for name in (ALEX, "Kim Sample", ALEX):
        send(browser, SIGN_IN, person=name, secret=PASSWORD)
        passes.append(studio.pass_of(browser))
    assert [studio.sign_ins.seat(each) is not None for each in passes] == [False, False, True]
    send(browser, SIGN_OUT)
    assert studio.sign_ins.seat(passes[-1]) is None
    assert studio.sign_ins.seat(studio.pass_of(browser)) is None


def test_an_idle_chair_is_locked_until_its_password_is_typed(studio: Chairs, clock: Clock) -> None:
    studio.file.people.add(ALEX, Role.PIERCER, PASSWORD)
    browser = door(studio)
    send(browser, SIGN_IN, person=ALEX, secret=PASSWORD)
    held = studio.pass_of(browser)
    signs = studio.sign_ins
    for _ in range(3):  # whoever does something isn't locked out
        clock.pass_s(60 * IDLE_MIN - 1)
        seat = signs.seat(held, used=True)
        assert seat is not None
        assert not seat.locked
    clock.pass_s(60 * IDLE_MIN - 1)
    assert not signs.seat(held).locked  # looking is no step
    clock.pass_s(2)
    assert signs.seat(held, used=True).locked
    assert signs.seat(held, used=True).locked  # no step opens it
    assert signs.renewed(held) is None
    send(browser, SIGN_IN, person=ALEX, secret="wrong")
    assert signs.seat(held).locked
    send(browser, SIGN_IN, person=ALEX, secret=PASSWORD)
    assert not signs.seat(held).locked  # another window of this browser is open again too
    assert signs.seat(studio.pass_of(browser)).number == signs.seat(held).number


def test_the_studio_sets_when_a_chair_locks(studio: Chairs, clock: Clock) -> None:
    held = studio.pass_of(studio.browser())
    studio.file.settings.set("idle", {"minutes": 2})
    clock.pass_s(119)
    assert not studio.sign_ins.seat(held).locked
    clock.pass_s(2)
    assert studio.sign_ins.seat(held).locked


def test_a_new_start_of_the_program_keeps_who_worked_lately(studio: Chairs, clock: Clock) -> None:
    held = studio.pass_of(studio.browser())
    clock.pass_s(RENEW_S + 1)
    assert studio.sign_ins.seat(held, used=True) is not None
    renewed = studio.sign_ins.renewed(held)
    assert renewed is not None
    clock.pass_s(60 * IDLE_MIN - 10)
    assert not SignIns(lambda: studio.file).seat(renewed).locked
    # The older pass says nothing of the later step.
    assert SignIns(lambda: studio.file).seat(held).locked
    clock.pass_s(60 * IDLE_MIN)
    assert SignIns(lambda: studio.file).seat(renewed).locked


def test_who_works_here_no_more_is_out_at_once(studio: Chairs) -> None:
    browser = studio.browser()
    held = studio.pass_of(browser)
    other = studio.file.people.add("Kim Sample", Role.MANAGER, PASSWORD)
    (alex,) = [each for each in studio.file.people.all() if each != other]
    studio.file.people.change(alex, active=False)
    assert studio.sign_ins.seat(held) is None


def test_a_changed_password_ends_every_pass_of_its_person_and_no_other(studio: Chairs) -> None:
    mine, elsewhere = studio.browser(), studio.browser()
    held = [studio.pass_of(mine), studio.pass_of(elsewhere)]
    kim = studio.file.people.add("Kim Sample", Role.MANAGER, PASSWORD)
    other = studio.sign_ins.begin(kim)
    (alex,) = [each for each in studio.file.people.all() if each != kim]
    assert None not in [studio.sign_ins.seat(each) for each in (*held, other)]
    studio.file.people.change(alex, role=Role.APPRENTICE)  # no other password: all stay
    assert None not in [studio.sign_ins.seat(each) for each in (*held, other)]
    studio.file.people.change(alex, password="another invented password")
    assert [studio.sign_ins.seat(each) for each in held] == [None, None]
    assert SignIns(lambda: studio.file).seat(held[0]) is None  # a program that is started anew
    assert studio.sign_ins.seat(other) is not None


def test_a_pass_of_another_file_is_none(studio: Chairs, tmp_path: Path) -> None:
    with ClientFile.open(tmp_path / "other") as other:
        stranger = Chairs(other, SignIns(lambda: other))
        held = stranger.pass_of(stranger.browser())
        assert stranger.sign_ins.seat(held) is not None
        assert studio.sign_ins.seat(held) is None


def test_the_demo_signs_its_invented_piercer_in_until_somebody_signs_out(tmp_path: Path) -> None:
    with ClientFile.open(tmp_path, demo=True) as file:
        add_people(file)
        demo = Chairs(file, SignIns(lambda: file))
        browser = door(demo)
        browser.get("/")
        assert demo.sign_ins.seat(demo.pass_of(browser)).person.name == DEMO_PIERCER
        send(browser, SIGN_OUT)
        browser.get("/")
        assert demo.sign_ins.seat(demo.pass_of(browser)) is None
        send(browser, SIGN_IN, person=DEMO_PIERCER, secret=DEMO_PASSWORD)
        assert demo.sign_ins.seat(demo.pass_of(browser)) is not None


CLAIMS = {"email": "alex@studio.example", "email_verified": True, "iat": 1_000_000}


@pytest.mark.memory(source="OpenID Connect Core 1.0, 2 (iat) and 5.1 (email, email_verified)")
@pytest.mark.parametrize(
    ("changes", "late_s", "known"),
    [
        ({}, 10, True),
        ({}, FRESH_S + 1, False),
        ({"email_verified": False}, 10, False),
        ({"email_verified": None}, 10, False),
        ({"email": None}, 10, False),
        ({"iat": None}, 10, False),
    ],
)
def test_only_a_fresh_login_that_is_vouched_for_counts(
    changes: dict[str, Any], late_s: float, known: bool
) -> None:
    found = account_of(CLAIMS | changes, CLAIMS["iat"] + late_s)
    assert found == (CLAIMS["email"] if known else None)


def test_a_ticket_is_good_once_and_so_is_its_login() -> None:
    tickets = Tickets()
    first, second = (tickets.issue("person", "login", 0) for _ in range(2))
    assert first is not None
    assert second is not None
    assert tickets.take("made up", 1) is None
    assert tickets.take(first, 1) == "person"
    assert tickets.take(first, 1) is None
    assert tickets.take(second, 1) is None
    assert tickets.issue("person", "login", 2) is None
    late = tickets.issue("person", "another login", 0)
    assert late is not None
    assert tickets.take(late, LASTS_S + 1) is None
