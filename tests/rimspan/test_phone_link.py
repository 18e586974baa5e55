"""Links live ten minutes and work once; the clock is the test's own."""

from __future__ import annotations

import base64
import gc
import threading

import pytest

from rimspan.phone_link import (
    GRACE_S,
    LIFE_S,
    REMEMBERED_S,
    Brought,
    End,
    Guesses,
    PhoneLinks,
)


class Clock:
    def __init__(self) -> None:
        self.now_s = 1000.0

    def __call__(self) -> float:
        return self.now_s


@pytest.fixture
def clock() -> Clock:
    return Clock()


@pytest.fixture
def links(clock: Clock) -> PhoneLinks[str]:
    return PhoneLinks(clock)


def one(_target: str) -> Brought:
    return Brought(kept=("a.jpg",))


def nothing(_target: str) -> Brought:
    return Brought(refused=("a.jpg: no picture",))


def end_of(links: PhoneLinks[str], token: str) -> End | None:
    link = links.look_up(token)
    assert link is not None
    return link.end


def test_a_token_has_32_bytes_and_no_two_are_alike(links: PhoneLinks[str]) -> None:
    tokens = {links.issue("left")[0] for _ in range(50)}
    assert len(tokens) == 50
    assert {len(base64.urlsafe_b64decode(token + "=")) for token in tokens} == {32}


def test_the_token_itself_is_kept_nowhere(links: PhoneLinks[str]) -> None:
    token, link = links.issue("left")
    assert token not in repr(link)
    held = [o for o in gc.get_objects() if type(o).__module__ == "rimspan.phone_link"]
    assert any(getattr(o, "id", None) == link.id for o in held)
    assert not [o for o in held if token in repr(o)]


def test_a_link_leads_to_its_target(links: PhoneLinks[str], clock: Clock) -> None:
    token, _ = links.issue("left")
    other, _ = links.issue("right")
    clock.now_s += 100
    link = links.look_up(token)
    assert link is not None
    assert (link.target, link.end, link.left_s) == ("left", None, LIFE_S - 100)
    seen: list[str] = []
    assert links.redeem(other, lambda target: seen.append(target) or one(target)) == one("")
    assert seen == ["right"]


def test_an_unknown_token_leads_nowhere(links: PhoneLinks[str]) -> None:
    token, _ = links.issue("left")
    for wrong in ("", token[:-1], token + "x", token.swapcase(), "\udcff"):
        assert links.look_up(wrong) is None
        assert links.redeem(wrong, pytest.fail) is None


def test_a_link_works_once(links: PhoneLinks[str]) -> None:
    token, issued = links.issue("left")
    assert links.redeem(token, lambda _: Brought(("a", "b"), ("c",))) is not None
    link = links.look_up(token)
    assert link is not None
    assert (link.id, link.end, link.photos) == (issued.id, End.USED, 2)
    assert links.redeem(token, pytest.fail) is None


def test_what_brought_nothing_leaves_the_link_alive(links: PhoneLinks[str]) -> None:
    token, _ = links.issue("left")
    assert links.redeem(token, nothing) == nothing("")

    def fails(_target: str) -> Brought:
        raise OSError("no room")

    with pytest.raises(OSError, match="no room"):
        links.redeem(token, fails)
    assert end_of(links, token) is None
    assert links.redeem(token, one) is not None


def test_a_link_runs_out_after_ten_minutes(links: PhoneLinks[str], clock: Clock) -> None:
    token, _ = links.issue("left")
    clock.now_s += 599.9
    assert end_of(links, token) is None
    clock.now_s += 0.1
    assert end_of(links, token) is End.EXPIRED


def test_an_upload_begun_in_time_may_end_a_little_later(
    links: PhoneLinks[str], clock: Clock
) -> None:
    early, _ = links.issue("left")
    late, _ = links.issue("right")
    clock.now_s += LIFE_S + GRACE_S - 1
    assert links.redeem(early, one) is not None
    clock.now_s += 1
    assert links.redeem(late, pytest.fail) is None


def test_a_withdrawn_link_is_dead(links: PhoneLinks[str]) -> None:
    token, link = links.issue("left")
    links.withdraw(link.id)
    assert end_of(links, token) is End.WITHDRAWN
    assert links.redeem(token, pytest.fail) is None


def test_a_newer_link_replaces_the_one_to_the_same_target(links: PhoneLinks[str]) -> None:
    first, _ = links.issue("left")
    elsewhere, _ = links.issue("right")
    second, newest = links.issue("left")
    assert end_of(links, first) is End.WITHDRAWN
    assert end_of(links, elsewhere) is None
    assert end_of(links, second) is None
    assert links.latest("left") == newest
    assert links.latest("nobody") is None


def test_a_dead_link_is_remembered_for_a_while_only(links: PhoneLinks[str], clock: Clock) -> None:
    token, _ = links.issue("left")
    clock.now_s += LIFE_S + REMEMBERED_S - 1
    assert end_of(links, token) is End.EXPIRED
    clock.now_s += 1
    assert links.look_up(token) is None
    links.issue("right")
    assert links.latest("left") is None


def test_of_two_uploads_at_once_one_is_let_in(links: PhoneLinks[str]) -> None:
    token, _ = links.issue("left")
    inside, go_on = threading.Event(), threading.Event()
    came: list[Brought | None] = []

    def slow(_target: str) -> Brought:
        inside.set()
        assert go_on.wait(10)
        return Brought(kept=("first",))

    first = threading.Thread(target=lambda: came.append(links.redeem(token, slow)))
    second = threading.Thread(target=lambda: came.append(links.redeem(token, one)))
    first.start()
    assert inside.wait(10)
    second.start()
    assert end_of(links, token) is None  # looking doesn't wait
    go_on.set()
    first.join(10)
    second.join(10)
    assert sorted(came, key=str) == [Brought(kept=("first",)), None]


def test_who_guesses_must_wait(clock: Clock) -> None:
    guesses = Guesses(clock, most=3, within_s=60)
    for _ in range(3):
        assert not guesses.barred("a")
        guesses.missed("a")
        clock.now_s += 1
    assert guesses.barred("a")
    assert not guesses.barred("b")
    clock.now_s += 57  # a minute after the first of the three
    assert not guesses.barred("a")


def test_only_so_many_who_guess_are_held_in_mind(clock: Clock) -> None:
    guesses = Guesses(clock, most=1, known=2)
    for who in ("a", "b", "c"):
        guesses.missed(who)
    assert [guesses.barred(who) for who in ("a", "b", "c")] == [False, True, True]
