"""A client's file on the screens: consents, voids, moved photos, walk-ins, erasing, two chairs."""

from __future__ import annotations

from typing import Any

import pytest

from rimspan.clientfile import Role
from rimspan.screens import chair
from tests.rimspan.clientfile.made import picture
from tests.rimspan.screens.conftest import ALEX, Visit

KIM = "Kim Sample"


def sign(visit: Any, **fields: str) -> None:
    visit.open("sign")
    for key, name in fields.items():
        visit.at.selectbox(key=key.replace("_", " ")).select(name)
    visit.at.checkbox[0].check()
    visit.press("Save the assessment")
    assert "Saved as revision" in visit.words


def test_measured_decided_and_pierced_are_three_fields(measured: Any) -> None:
    measured.signs_in(KIM, Role.APPRENTICE)
    measured.signs_in()
    sign(measured, measured_by=KIM, pierced_by=ALEX)
    (revision,) = measured.file.revisions(measured.client)
    assert (revision.measured_by, revision.decided_by, revision.pierced_by) == (KIM, ALEX, ALEX)
    words = measured.open("timeline").words
    for line in (f"Measured by {KIM}", f"Decided by {ALEX}", f"Pierced by: {ALEX}"):
        assert line in words


def test_a_consent_is_noted_and_withdrawn_and_then_no_photo_is_kept(visit: Any) -> None:
    visit.consult().open("file")
    assert "wasn't asked yet" in visit.words
    visit.at.text_input(key="consent note").set_value("on paper")
    visit.press("Consent given")
    assert "gave the consent to photos" in visit.words
    assert f"noted by {ALEX}." in visit.words
    visit.press("Consent withdrawn")
    assert "withdrew the consent to photos" in visit.words
    given, withdrawn = visit.file.consents.of(visit.client)
    assert (given.given, given.note, given.by) == (True, "on paper", ALEX)
    assert (withdrawn.given, withdrawn.note) == (False, "")
    visit.open("photos")
    visit.at.file_uploader[0].upload("a.jpg", picture(), "image/jpeg")
    visit.run()
    assert "withdrew the consent" in visit.words
    assert visit.file.photos(visit.client) == []


def test_a_revision_is_made_void_with_a_reason_and_stays_readable(measured: Any) -> None:
    sign(measured)
    measured.open("timeline").press("Open again")
    (revision,) = measured.file.revisions(measured.client)
    measured.press("Void, for good")
    assert "isn't made void without a name and a reason" in measured.words
    assert measured.file.revision(revision.id).void is None
    measured.at.text_input(key=f"void {revision.id}").set_value("the wrong ear was marked")
    measured.run().press("Void, for good")
    assert "the wrong ear was marked" in measured.words
    assert f"by {ALEX}" in measured.words
    void = measured.file.revision(revision.id).void
    assert (void.by, void.reason) == (ALEX, "the wrong ear was marked")
    assert "channel is 7." in measured.words
    assert "Void, for good" not in [b.label for b in measured.at.button]


def test_a_photo_goes_to_the_right_client_with_a_trace(measured: Any) -> None:
    other = measured.file.create_client(KIM).id
    measured.open("file")
    measured.press("Move the photo")
    assert "without a reason" in measured.words
    measured.at.text_input(key="move reason").set_value("taken for somebody else")
    measured.press("Move the photo")
    assert f"flat.jpg lies in the file of {KIM} now." in measured.words
    assert measured.file.photos(measured.client) == []
    (moved,) = measured.file.photos(other)
    assert [p["x_sha256"] for p in measured.file.draft(other, "left")["photos"]] == [moved.sha256]
    assert measured.draft()["photos"] == []
    rows = measured.at.table[0].value
    assert "photo moved to another client" in list(rows["What"])
    assert measured.file.verify() == []


def test_who_did_what_and_when_stands_in_the_history(measured: Any) -> None:
    sign(measured)
    measured.open("file")
    (rows,) = [table.value for table in measured.at.table]
    assert rows["What"].iloc[0] == "assessment saved: no. 1"
    assert rows["By"].iloc[0] == f"{ALEX}, measured by {ALEX}"
    assert rows["What"].iloc[-1] == "client created"


def test_a_client_is_erased_by_name(measured: Any) -> None:
    measured.open("file").press("Erase this client for good")
    assert "nobody was erased" in measured.words
    measured.at.text_input(key="erase name").set_value("Robin Example")
    measured.run().press("Erase this client for good")
    assert measured.title == "Rimspan"
    assert "The client is erased." in measured.words
    assert measured.file.clients() == []


def test_an_apprentice_neither_hands_out_nor_erases(measured: Any) -> None:
    measured.signs_in(KIM, Role.APPRENTICE)
    words = measured.open("file").words
    measured.at.session_state["client"], measured.at.session_state["side"] = measured.client, "left"
    words = measured.open("file").words
    assert "A manager erases a client." in words
    assert "A piercer hands out" in words
    assert not measured.at.get("download_button")


def test_a_walk_in_is_kept_only_when_somebody_wants_it(visit: Any) -> None:
    visit.run().press("A walk-in, without a name")
    assert visit.title == "Walk-in, not kept"
    walk_in = visit.at.session_state["client"]
    assert visit.file.clients() == []
    visit.press("Keep this client")
    assert "The name is empty." in visit.words
    visit.at.text_input(key="keep name").set_value("Robin Example")
    visit.run().press("Keep this client")
    assert visit.title == "Robin Example"
    assert [client.id for client in visit.file.clients()] == [walk_in]
    visit.open("clients").press("A walk-in, without a name")
    visit.press("Let go")
    assert visit.title == "Rimspan"
    assert "let go" in visit.words
    assert len(visit.file.clients()) == 1


def test_who_comes_second_is_told_and_sees_the_newest_draft(
    measured: Any, monkeypatch: pytest.MonkeyPatch
) -> None:
    other = Visit(measured.store)
    other.client, other.at.session_state["client"] = measured.client, measured.client
    other.at.session_state["side"] = "left"
    other.signs_in(KIM, Role.PIERCER)
    sits = {"at": measured}
    monkeypatch.setattr(chair, "written", lambda: sits["at"].written)
    assert "another chair" not in measured.open("marks").words
    sits["at"] = other
    assert f"{ALEX} has this ear open at another chair." in other.open("marks").words
    other.at.number_input(key="relief_mm only").set_value(4.5)
    other.run()
    sits["at"] = measured
    words = measured.run().words
    assert f"{KIM} has this ear open at another chair." in words
    assert f"{KIM} changed this draft there at" in words
    assert measured.at.number_input(key="relief_mm only").value == 4.5
    # Its next change goes to the newest draft: both stand there.
    measured.at.number_input(key="fold_depth_mm only").set_value(6.0)
    measured.run()
    read = measured.draft()["caliper"]["only"]
    assert (read["relief_mm"], read["fold_depth_mm"]) == (4.5, 6.0)


def test_marks_that_another_chair_made_meanwhile_are_not_written_over(measured: Any) -> None:
    (photo,) = measured.draft()["photos"]
    key = f"marking {measured.client} left {photo['x_sha256']}"
    marks = {name: held for name, held in photo.items() if not name.startswith("x_")}
    placement = marks["placements"][0]
    theirs = marks | {"placements": [placement | {"label": "theirs"}]}
    mine = marks | {"placements": [placement | {"label": "mine"}]}
    sent = {"rev": 3, "photo": "flat.jpg"}
    measured.open("marks")
    measured.arrives(key, sent | {"marks": theirs, "hand": "theirs"})
    measured.arrives(key, sent | {"marks": mine, "hand": "mine"})
    assert measured.draft()["photos"][0]["placements"][0]["label"] == "theirs"
