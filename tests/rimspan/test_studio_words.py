"""A studio's own words and its clock: kept as versions, by a manager, sealed, read with care."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from datetime import UTC, datetime, timedelta
from pathlib import Path

import pytest

from assess.talk.care import CAUTIONS, SENTENCES
from assess.talk.catalogue import for_clients, texts
from assess.talk.decided import LABELS
from assess.talk.record import Agreed
from assess.talk.rewording import LONGEST, standing
from assess.talk.sentences import LANGUAGES
from rimspan.client_papers import full_sheet_fits
from rimspan.clientfile import ClientFile, Person, RefusedError, Role
from rimspan.languages import built_in
from rimspan.studio import NotAllowedError
from rimspan.studio_clock import moments, set_zone, zone_of
from rimspan.studio_words import WORDING, changes_of, own_words, reword, spoken

PETS = "Keep the dog and the cat away from it."
START = datetime(2026, 5, 2, 12, 0, tzinfo=UTC)


@pytest.fixture
def file(tmp_path: Path) -> Iterator[ClientFile]:
    with ClientFile.open(tmp_path / "store") as opened:
        yield opened


@pytest.fixture
def manager(file: ClientFile) -> Person:
    return file.people.add("Max Invented", Role.MANAGER, "invented password")


@pytest.fixture
def later(file: ClientFile) -> Callable[[int], datetime]:
    """Return ``later(hours)``: put the file's clock there."""

    def put(hours: int) -> datetime:
        at = START + timedelta(hours=hours)
        file.clock = lambda: at
        return at

    return put


def test_words_are_kept_with_who_changed_them_and_when(
    file: ClientFile, manager: Person, later: Callable[[int], datetime]
) -> None:
    first = later(0)
    reword(file, manager, "en", "care.pets", PETS)
    second = later(5)
    reword(file, manager, "en", "care.pets", "No pets near it.")
    third = later(9)
    reword(file, manager, "en", "care.pets", None)
    said = [(each.text, each.by, each.at) for each in changes_of(file, "en")["care.pets"]]
    by = manager.name
    assert said == [(None, by, third), ("No pets near it.", by, second), (PETS, by, first)]
    assert own_words(file, "en") == {}
    # What was in force at any moment can be had again.
    assert own_words(file, "en", first) == {"care.pets": PETS}
    assert own_words(file, "en", third - timedelta(minutes=1)) == {"care.pets": "No pets near it."}
    assert own_words(file, "en", first - timedelta(minutes=1)) == {}


def test_each_language_has_words_of_its_own(file: ClientFile, manager: Person) -> None:
    reword(file, manager, "de", "care.pets", "Kein Hund, keine Katze.")
    assert spoken(file, "de").say("care.pets") == "Kein Hund, keine Katze."
    assert spoken(file, "en").say("care.pets") == texts()["care.pets"]
    assert changes_of(file, "en") == {}


def test_words_as_they_are_built_in_are_none_of_the_studio_s(
    file: ClientFile, manager: Person
) -> None:
    reword(file, manager, "en", "care.pets", texts()["care.pets"])
    assert file.settings.versions(WORDING) == []
    reword(file, manager, "en", "care.pets", PETS)
    reword(file, manager, "en", "care.pets", PETS)  # the same again is no change
    reword(file, manager, "en", "care.pets", texts()["care.pets"])
    assert own_words(file, "en") == {}
    assert len(file.settings.versions(WORDING)) == 2


@pytest.mark.parametrize("code", LANGUAGES)
@pytest.mark.parametrize("caution", CAUTIONS, ids=lambda caution: caution.id)
def test_a_caution_stays_whoever_wants_it_gone(
    file: ClientFile, manager: Person, code: str, caution: object
) -> None:
    name = caution.id  # type: ignore[attr-defined]
    for words in ("", "  ", "All is well."):
        with pytest.raises(RefusedError):
            reword(file, manager, code, name, words)
    assert own_words(file, code) == {}


def test_only_a_manager_changes_words_and_the_clock(file: ClientFile, manager: Person) -> None:
    piercer = file.people.add("Pia Invented", Role.PIERCER, "invented password")
    for act in (
        lambda: reword(file, piercer, "en", "care.pets", PETS),
        lambda: set_zone(file, piercer, "Europe/Berlin"),
    ):
        with pytest.raises(NotAllowedError, match="A manager does"):
            act()
    with pytest.raises(NotAllowedError):
        reword(file, None, "en", "care.pets", PETS)
    assert file.settings.get(WORDING) == {}
    assert zone_of(file) == ""


def test_words_that_a_later_version_refuses_are_left_out(file: ClientFile, manager: Person) -> None:
    """As if they were kept by a version that asked for less."""
    kept = {"care.stays": "Take it out at once.", "care.gone": "Gone.", "care.pets": PETS}
    file.settings.set(WORDING, {"texts": {"en": kept}, "by": manager.name})
    words = spoken(file, "en")
    assert words.say("care.pets") == PETS
    assert words.say("care.stays") == texts()["care.stays"]
    assert dict(words.own) == {"care.pets": PETS}


def test_words_lie_sealed_in_the_store(file: ClientFile, manager: Person, tmp_path: Path) -> None:
    secret = "Hold the ferret well away from it."
    reword(file, manager, "en", "care.pets", secret)
    held = [path for path in (tmp_path / "store").rglob("*") if path.is_file()]
    assert held
    assert not [path for path in held if b"ferret" in path.read_bytes()]
    assert file.settings.versions(WORDING)[-1].document["texts"]["en"]["care.pets"] == secret


def test_two_managers_at_once_lose_no_words(file: ClientFile, manager: Person) -> None:
    """Each change is made on what is set by then, not on what a page showed."""
    reword(file, manager, "en", "care.pets", PETS)
    file.settings.change(
        WORDING, lambda old: {**old, "texts": {"en": {**old["texts"]["en"], "care.hair": "Brush."}}}
    )
    reword(file, manager, "en", "care.linen", "Fresh sheets.")
    assert set(own_words(file, "en")) == {"care.pets", "care.hair", "care.linen"}


def test_everything_that_a_client_reads_can_be_reworded() -> None:
    groups = for_clients()
    offered = {name for names in groups.values() for name in names}
    assert set(LABELS) <= offered
    assert {caution.id for caution in CAUTIONS} <= offered
    others = {name.split(".")[0] for name in set(texts()) - offered if not name.endswith(".why")}
    assert others == {"chair", "consent"}  # what staff reads, in English alone


@pytest.mark.parametrize("code", LANGUAGES)
def test_words_as_long_as_the_built_in_ones_fit_and_endless_ones_do_not(
    file: ClientFile, code: str
) -> None:
    assert full_sheet_fits(file, code, {})
    said = built_in(code)
    long = {each.id: (said[each.id] + " Wort für Wort." * 26)[:LONGEST] for each in SENTENCES}
    assert standing(long, code) == long
    assert not full_sheet_fits(file, code, long)


def test_a_zone_is_one_that_the_tables_know(file: ClientFile, manager: Person) -> None:
    set_zone(file, manager, "Europe/Berlin")
    assert zone_of(file) == "Europe/Berlin"
    with pytest.raises(RefusedError, match="no such time zone"):
        set_zone(file, manager, "Europe/Nowhere")
    assert zone_of(file) == "Europe/Berlin"


def test_times_that_no_clock_shows_are_left_out() -> None:
    at = datetime(2026, 3, 29, 2, 30)  # in Berlin three o'clock follows on two that day
    assert moments({"visit.check": Agreed(at, "Europe/Berlin")}) == {}
    assert moments({"visit.check": Agreed(at, "Mars/Olympus")}) == {}
    found = moments({"visit.check": Agreed(at, "Asia/Tokyo")})["visit.check"]
    assert found.utcoffset() == timedelta(hours=9)


def test_built_in_texts_are_not_touched_by_a_studio_s(file: ClientFile, manager: Person) -> None:
    before = dict(built_in("en"))
    reword(file, manager, "en", "care.pets", PETS)
    spoken(file, "en")
    assert built_in("en") == before
