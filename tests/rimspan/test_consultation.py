"""The gate: nothing is saved or printed without a named piercer's word on that very assessment."""

import io
import json
from collections.abc import Iterator
from dataclasses import replace
from pathlib import Path

import pytest
from PIL import Image

from assess.talk.consent import AgeRules
from assess.wording import JUDGEMENT_STATEMENT
from rimspan.assessment import Assessment, assess_marks
from rimspan.clientfile import ClientFile, Role
from rimspan.consultation import Confirmation, NotConfirmedError, confirm, confirm_as, report, save
from rimspan.reopening import remeasure, reopen, report_of
from rimspan.studio import NotAllowedError, set_age_rules

SAMPLE = Path(__file__).parents[2] / "sample_images" / "pronounced"
PIERCER = "Piercer (invented)"
DRAWS = 5_000
ADULT = {"age": {"at_least_years": 18, "identity_checked": True}}


@pytest.fixture(scope="module")
def photo() -> bytes:
    return (SAMPLE / "square-on.jpg").read_bytes()


@pytest.fixture(scope="module")
def marks() -> dict:
    document = json.loads((SAMPLE / "marks-examined.json").read_text("utf-8"))
    document["photos"] = [p for p in document["photos"] if p["file"] == "square-on.jpg"]
    return document


@pytest.fixture
def file(tmp_path: Path) -> Iterator[ClientFile]:
    with ClientFile.open(tmp_path) as opened:
        yield opened


@pytest.fixture
def kept(file: ClientFile, photo: bytes, marks: dict) -> tuple[str, Assessment]:
    """Return a client and the assessment of their kept photo."""
    client = file.create_client("Client (invented)")
    stored = file.add_photo(client.id, photo, "square-on.jpg", "left")
    photos = {"square-on.jpg": file.photo_bytes(stored.sha256)}
    return client.id, replace(assess_marks(marks, photos, draws=DRAWS), talk=ADULT)


@pytest.mark.parametrize(("name", "ticked"), [("", True), ("   ", True), (PIERCER, False)])
def test_a_confirmation_needs_a_name_and_the_statement(kept, name: str, ticked: bool) -> None:
    with pytest.raises(NotConfirmedError):
        confirm(kept[1], name, ticked)


def test_nothing_is_saved_or_printed_unconfirmed(file: ClientFile, kept) -> None:
    client, assessment = kept
    with pytest.raises(NotConfirmedError, match="must confirm"):
        save(file, client, assessment, None, measured_by=PIERCER, token="t")
    with pytest.raises(NotConfirmedError, match="must confirm"):
        report(assessment, None, picture_png=b"")
    assert file.revisions(client) == []


@pytest.mark.parametrize("part", ["marks", "result", "criteria", "software", "photos", "talk"])
def test_a_confirmation_is_for_that_very_assessment(file: ClientFile, kept, part: str) -> None:
    client, assessment = kept
    given = confirm(assessment, PIERCER, True)
    other = "changed" if part == "software" else {**getattr(assessment, part), "x_new": 1}
    changed = replace(assessment, **{part: other})
    with pytest.raises(NotConfirmedError, match="another state"):
        save(file, client, changed, given, measured_by=PIERCER, token="t")
    with pytest.raises(NotConfirmedError, match="another state"):
        report(changed, given, picture_png=b"")
    forged = Confirmation("", assessment.digest, JUDGEMENT_STATEMENT)
    with pytest.raises(NotConfirmedError):
        save(file, client, assessment, forged, measured_by=PIERCER, token="t")
    assert file.revisions(client) == []


def test_a_confirmed_assessment_is_saved_once_with_who_decided(file: ClientFile, kept) -> None:
    client, assessment = kept
    given = confirm(assessment, f" {PIERCER} ", True)
    saved = save(file, client, assessment, given, measured_by="Apprentice", token="t")
    again = save(file, client, assessment, given, measured_by="Apprentice", token="t")
    assert again == saved
    assert file.revisions(client) == [saved]
    assert (saved.measured_by, saved.confirmed_by) == ("Apprentice", PIERCER)
    assert saved.result["judgement"]["confirmed_by"] == PIERCER
    assert assessment.result["judgement"]["confirmed_by"] is None
    assert file.verify() == []


def test_an_apprentice_measures_and_never_confirms(file: ClientFile, kept) -> None:
    client, assessment = kept
    apprentice = file.people.add("Kim Sample", Role.APPRENTICE, "invented password")
    piercer = file.people.add("Alex Invented", Role.PIERCER, "invented password")
    manager = file.people.add("Robin Invented", Role.MANAGER, "invented password")
    left = file.people.change(
        file.people.add("Gone", Role.PIERCER, "invented password"), active=False
    )
    for person in (apprentice, left):
        with pytest.raises(NotConfirmedError, match=f"{person.name} may not confirm"):
            confirm_as(assessment, person, True)
        # Nor by typing the name, where nobody has to sign in.
        given = confirm(assessment, person.name.upper(), True)
        with pytest.raises(NotConfirmedError, match=f"{person.name} may not confirm"):
            save(file, client, assessment, given, measured_by="", token="t")
    assert file.revisions(client) == []
    for person in (piercer, manager):
        with pytest.raises(NotConfirmedError, match="examined the ear"):
            confirm_as(assessment, person, False)
        given = confirm_as(assessment, person, True)
        saved = save(
            file,
            client,
            assessment,
            given,
            measured_by=apprentice.name,
            token=person.id,
            pierced_by=" Somebody Else ",
        )
        assert (saved.measured_by, saved.decided_by, saved.pierced_by) == (
            apprentice.name,
            person.name,
            "Somebody Else",
        )


def test_an_old_revision_measures_to_the_same_numbers(file: ClientFile, kept) -> None:
    client, assessment = kept
    given = confirm(assessment, PIERCER, True)
    saved = save(file, client, assessment, given, measured_by=PIERCER, token="t")
    opened = reopen(file, saved.id)
    assert opened.marks == assessment.marks
    again = remeasure(opened)
    assert again.result["placements"] == opened.result["placements"]
    assert again.digest == assessment.digest


def test_a_saved_revision_is_printed_as_it_was_confirmed(file: ClientFile, kept) -> None:
    client, assessment = kept
    given = confirm(assessment, PIERCER, True)
    saved = save(file, client, assessment, given, measured_by=PIERCER, token="t")
    picture = io.BytesIO()
    Image.new("RGB", (84, 65), "white").save(picture, "PNG")
    assert report_of(file, saved.id, picture_png=picture.getvalue()).startswith(b"%PDF")


MINOR = {"at_least_years": 16, "identity_checked": True}
BESIDE = {"guardian_present": True, "guardian_identity_checked": True}


@pytest.mark.parametrize(
    ("age", "said"),
    [
        ({}, "The age isn't known"),
        ({"at_least_years": 18}, "Nobody looked at an identity paper"),
        ({"at_least_years": 0, "identity_checked": True}, "younger than this studio pierces"),
        (MINOR, "A guardian must be present"),
        (MINOR | {"guardian_present": True}, "Nobody looked at the guardian's identity paper"),
        (MINOR | BESIDE, "The guardian hasn't agreed to the photos"),
    ],
)
@pytest.mark.practice(source="common practice: age, identity, guardian; the law of the place")
def test_nothing_is_confirmed_while_age_and_consent_are_unmet(
    file: ClientFile, kept, age: dict, said: str
) -> None:
    client, assessment = kept
    piercer = file.people.add("Alex Invented", Role.PIERCER, "invented password")
    asked = replace(assessment, talk={"age": age})
    with pytest.raises(NotConfirmedError, match=said):
        confirm_as(asked, piercer, True)
    # Nor with a word that was given elsewhere.
    with pytest.raises(NotConfirmedError, match=said):
        save(file, client, asked, confirm(asked, piercer.name, True), measured_by="", token="t")
    assert file.revisions(client) == []


def test_a_minor_whose_guardian_is_there_and_agrees_is_no_reason_to_refuse(
    file: ClientFile, kept
) -> None:
    client, assessment = kept
    piercer = file.people.add("Alex Invented", Role.PIERCER, "invented password")
    asked = replace(assessment, talk={"age": MINOR | BESIDE | {"guardian_photo_consent": True}})
    given = confirm_as(asked, piercer, True)
    saved = save(file, client, asked, given, measured_by="", token="t")
    assert file.revision(saved.id).saved.talk == asked.talk


def test_the_studios_own_ages_count_as_they_are_set_when_it_is_saved(
    file: ClientFile, kept
) -> None:
    client, assessment = kept
    manager = file.people.add("Robin Invented", Role.MANAGER, "invented password")
    given = confirm_as(assessment, manager, True)
    set_age_rules(file, manager, AgeRules(least_years=21, adult_from_years=21))
    with pytest.raises(NotConfirmedError, match="younger than this studio pierces"):
        save(file, client, assessment, given, measured_by="", token="t")
    apprentice = file.people.add("Kim Sample", Role.APPRENTICE, "invented password")
    with pytest.raises(NotAllowedError):
        set_age_rules(file, apprentice, AgeRules())
