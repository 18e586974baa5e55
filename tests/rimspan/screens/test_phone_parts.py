"""The Photos page's way to the phone, without a browser: the code, and what came by it."""

from __future__ import annotations

import re
from collections.abc import Callable
from typing import Any

import pytest

from rimspan.phone_link import LIFE_S, End, PhoneLinks
from rimspan.screens import phone_parts
from rimspan.screens.phone.address import Reach
from rimspan.screens.phone.arrival import Consultation, Sent, take_in

BUTTON = "Take photos with the studio's phone"
ADDRESS = re.compile(r"http://192\.0\.2\.7:8501/phone/([\w-]{43})\b")


class Clock:
    now_s = 0.0

    def __call__(self) -> float:
        return self.now_s


@pytest.fixture
def clock() -> Clock:
    return Clock()


@pytest.fixture
def links(monkeypatch: pytest.MonkeyPatch, clock: Clock) -> PhoneLinks[Consultation]:
    """Return the links of a server in an invented network."""
    made: PhoneLinks[Consultation] = PhoneLinks(clock)
    monkeypatch.setattr(phone_parts, "LINKS", made)
    monkeypatch.setattr(phone_parts, "reach", lambda *_: Reach("http://192.0.2.7:8501"))
    return made


@pytest.fixture
def open_code(visit: Any, links: Any) -> Callable[[], str]:
    """Return ``open_code() -> token``: what a press on the button shows."""

    def press() -> str:
        visit.press(BUTTON)
        found = ADDRESS.search(visit.words)
        assert found is not None
        return found[1]

    return press


def labels(visit: Any) -> list[str]:
    return [button.label for button in visit.at.button]


def test_a_server_for_this_machine_alone_says_so(visit: Any) -> None:
    visit.consult().open("photos")
    assert BUTTON not in labels(visit)
    assert "The program answers on this machine alone." in visit.words
    assert "rimspan app --address 0.0.0.0" in visit.words


def test_no_code_is_shown_unasked(visit: Any, links: Any) -> None:
    visit.consult().open("photos")
    assert BUTTON in labels(visit)
    assert "<svg" in visit.words  # the drawing of how to hold the phone
    assert "QR code" not in visit.words


def test_the_code_comes_with_its_address_in_words(
    visit: Any, links: Any, open_code: Callable[[], str]
) -> None:
    visit.consult().open("photos")
    link = links.look_up(open_code())
    assert (link.target.client, link.target.side) == (visit.client, "left")
    assert 'aria-label="QR code of the address beside it"' in visit.words
    assert "for 10 more minutes" in visit.words
    assert "The phone must be in the same network" in visit.words
    assert "Photos travel there unencrypted" in visit.words
    assert "remove the photos from the phone" in visit.words


def test_an_encrypted_address_has_no_warning(
    visit: Any, links: Any, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(phone_parts, "reach", lambda *_: Reach("https://studio.example"))
    visit.consult().open("photos").press(BUTTON)
    assert "https://studio.example/phone/" in visit.words
    assert "unencrypted" not in visit.words


def test_the_minutes_run_down(visit: Any, clock: Clock, open_code: Callable[[], str]) -> None:
    visit.consult().open("photos")
    open_code()
    for now_s, words in ((200, "for 7 more minutes"), (545, "for one more minute")):
        clock.now_s = now_s
        assert words in visit.run().words


def test_photos_that_came_are_said_once_and_shown(
    visit: Any, links: Any, flat_photo: bytes, open_code: Callable[[], str]
) -> None:
    visit.consult().open("photos")
    token = open_code()
    assert links.redeem(token, lambda where: take_in(where, [Sent("image.jpg", flat_photo)]))
    words = visit.run().words
    assert "1 photo came from the phone. Afterwards remove the photos" in words
    assert "58 of 58 corners" in words
    assert not ADDRESS.search(words)
    assert BUTTON in labels(visit)
    visit.open("marks").open("photos")
    assert "came from the phone" not in visit.words


def test_a_code_that_ran_out_says_so(
    visit: Any, clock: Clock, open_code: Callable[[], str]
) -> None:
    visit.consult().open("photos")
    open_code()
    clock.now_s += LIFE_S
    words = visit.run().words
    assert "The phone's code has run out" in words
    assert not ADDRESS.search(words)


def test_a_code_can_be_taken_away(visit: Any, links: Any, open_code: Callable[[], str]) -> None:
    visit.consult().open("photos")
    token = open_code()
    visit.press("Take the code away")
    assert links.look_up(token).end is End.WITHDRAWN
    assert BUTTON in labels(visit)
    assert not ADDRESS.search(visit.words)


def test_after_a_reload_the_code_is_still_watched(
    visit: Any, links: Any, open_code: Callable[[], str]
) -> None:
    """The token is nowhere but in the visit that showed it, so a new visit can't show it."""
    visit.consult().open("photos")
    token = open_code()
    fresh = type(visit)(visit.store)
    fresh.at.query_params.update({"client": visit.client, "side": "left"})
    fresh.open("photos")
    assert "A code for the studio's phone is open elsewhere" in fresh.words
    assert token not in fresh.words
    fresh.press("Show a new code instead")
    assert links.look_up(token).end is End.WITHDRAWN
    assert ADDRESS.search(fresh.words)


def test_another_ear_has_its_own_code(visit: Any, links: Any, open_code: Callable[[], str]) -> None:
    visit.consult().open("photos")
    left = open_code()
    visit.at.session_state["side"] = "right"
    visit.run()
    assert not ADDRESS.search(visit.words)
    right = open_code()
    assert links.look_up(right).target.side == "right"
    assert links.look_up(left).end is None
