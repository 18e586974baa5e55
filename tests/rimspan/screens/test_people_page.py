"""Sign-in, lock, people and settings as a page shows them; the door itself is tested elsewhere."""

from __future__ import annotations

import time
from types import SimpleNamespace
from typing import Any

import pytest
from streamlit.testing.v1 import AppTest

from rimspan.clientfile import NotSignedIn, Role
from rimspan.screens import account, chair
from rimspan.screens.navigation import TITLES
from tests.rimspan.screens.conftest import ALEX, PASSWORD, Visit


@pytest.mark.parametrize("page", TITLES)
def test_nobody_sees_a_page_without_signing_in(measured: Any, page: str) -> None:
    measured.written = ""
    measured.open(page)
    assert measured.title == "Sign in"
    assert "Robin Example" not in measured.words
    assert ALEX in measured.words  # the list of names
    assert not measured.at.button
    assert not measured.at.get("file_uploader")


def test_a_locked_chair_shows_nothing_and_its_draft_stays(
    measured: Any, monkeypatch: pytest.MonkeyPatch
) -> None:
    measured.open("marks")
    assert "channel 7." in measured.words
    draft = measured.draft()
    later = chair.SIGN_INS._now_s() + 11 * 60
    monkeypatch.setattr(chair.SIGN_INS, "_now_s", lambda: later)
    measured.run()
    assert measured.title == "Locked"
    assert "channel" not in measured.words
    assert "Robin Example" not in measured.words
    assert f"<option selected>{ALEX}</option>" in measured.words
    assert measured.draft() == draft
    person = measured.file.people.sign_in(ALEX, PASSWORD)
    measured.written = chair.SIGN_INS.unlock(measured.written, person)
    measured.run()
    assert "channel 7." in measured.words


def test_what_one_person_left_in_a_window_is_not_the_next_one_s(measured: Any) -> None:
    measured.open("marks")
    measured.at.session_state["left behind"] = "an upload that waits"
    measured.run()
    assert "left behind" in measured.at.session_state
    measured.signs_in("Kim Sample", Role.PIERCER)
    measured.run()
    assert "left behind" not in measured.at.session_state
    assert measured.at.session_state["who"] == "Kim Sample"


def test_nothing_of_who_works_here_stands_in_the_address(measured: Any) -> None:
    measured.open("marks")
    assert set(measured.at.query_params) == {"client", "side"}


def test_the_first_start_asks_for_the_first_manager(
    visit: Any, monkeypatch: pytest.MonkeyPatch
) -> None:
    with_nobody = Visit(visit.store.parent / "other")
    monkeypatch.setenv("RIMSPAN_STORE", str(visit.store.parent / "other"))
    visit.written = ""
    with_nobody.run()
    assert with_nobody.title == "The first manager"
    assert 'name="passphrase"' in with_nobody.words


@pytest.mark.parametrize("known", [True, False])
def test_an_identity_provider_is_offered_where_one_is_configured(
    visit: Any, monkeypatch: pytest.MonkeyPatch, known: bool
) -> None:
    """What the provider said comes from Streamlit's login; here it is put in its place."""
    mail = "alex@studio.example"
    (alex,) = visit.file.people.managers()
    visit.file.people.change(alex, account=mail if known else "other@studio.example")
    visit.written = ""
    assert "account" not in visit.run().words
    assert not visit.at.button
    claims = {"email": mail, "email_verified": True, "iat": time.time(), "sub": "1", "iss": "here"}
    login = SimpleNamespace(is_logged_in=True, to_dict=lambda: claims)
    monkeypatch.setattr(account, "configured", lambda: True)
    monkeypatch.setattr(account, "login", lambda: login)
    visit.run()
    assert [b.label for b in visit.at.button] == ["Sign in with the studio's account"]
    assert (f"Go on as {ALEX}" in visit.words) is known
    assert ("nobody here has that e-mail" in visit.words) is not known


def test_an_apprentice_manages_nobody_and_signs_nothing(measured: Any) -> None:
    measured.signs_in("Sam Invented", Role.APPRENTICE)
    words = measured.open("people").words
    assert "Signed in: Sam Invented, apprentice" in words
    assert "Who works here" not in words.replace("Who works here, a manager says.", "")
    measured.at.session_state["client"], measured.at.session_state["side"] = measured.client, "left"
    measured.open("sign")
    measured.at.checkbox[0].check()
    measured.press("Save the assessment")
    assert "Sam Invented may not confirm here." in measured.words
    assert not measured.file.revisions(measured.client)


def field(at: AppTest, key: str) -> Any:
    return next(each for each in at.text_input if each.key == key)


def test_a_manager_adds_changes_and_ends_people(visit: Any) -> None:
    visit.open("people")
    field(visit.at, "person name").set_value("Kim Sample")
    field(visit.at, "person password").set_value("first password")
    visit.press("Add")
    assert "Kim Sample can sign in now." in visit.words
    kim = visit.file.people.sign_in("Kim Sample", "first password")
    assert kim.role is Role.APPRENTICE
    visit.at.selectbox(key=f"role {kim.id}").select(Role.PIERCER)
    visit.at.button(key=f"keep {kim.id}").click()
    visit.run()
    assert visit.file.people.find(kim.id).role is Role.PIERCER
    visit.at.button(key=f"end {kim.id}").click()
    visit.run()
    assert isinstance(visit.file.people.sign_in("Kim Sample", "first password"), NotSignedIn)
    (alex,) = visit.file.people.managers()
    visit.at.button(key=f"end {alex.id}").click()
    visit.run()
    assert "is the only manager" in visit.words
    assert visit.file.people.managers() == [alex]


def test_one_s_own_password_is_changed(visit: Any) -> None:
    visit.open("people")
    for key, held in (("old", PASSWORD), ("new", "another password"), ("again", "another one")):
        field(visit.at, f"own {key}").set_value(held)
    visit.press("Change the password")
    assert "differ" in visit.words
    field(visit.at, "own again").set_value("another password")
    visit.press("Change the password")
    assert "Your password is changed." in visit.words
    assert [each.value for each in visit.at.title] == ["Sign in"]  # the old pass is none any more
    assert not isinstance(visit.file.people.sign_in(ALEX, "another password"), NotSignedIn)


def test_the_studio_sets_days_and_minutes(visit: Any) -> None:
    visit.open("people")
    assert visit.file.retention_days() is None  # no period is proposed
    visit.at.number_input(key="retention days").set_value(400)
    visit.run().press("Set the days")
    assert visit.file.retention_days() == 400
    assert "Nobody is due." in visit.words
    visit.at.number_input(key="idle minutes").set_value(3)
    visit.run().press("Set the minutes")
    assert visit.file.settings.get("idle") == {"minutes": 3}
    visit.at.number_input(key="retention days").set_value(0)
    visit.run().press("Set the days")
    assert visit.file.retention_days() is None
