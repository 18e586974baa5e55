"""Each page without a browser: its title, its numbers, what it says where something lacks."""

from __future__ import annotations

import json
import re
from html import unescape
from pathlib import Path
from typing import Any

import pytest
import streamlit as st
from streamlit.testing.v1 import AppTest

from assess.result import same_numbers
from assess.wording import JUDGEMENT_STATEMENT
from rimspan.assessment import assess_marks
from rimspan.clientfile import ClientFile
from rimspan.screens.document import measurable
from rimspan.screens.serving import MAIN
from rimspan.typed import JOINER, in_markdown

BANNER = "Demo data only: no passphrase."
STATEMENT_PAGES = ("marks", "answer", "sign", "timeline")


def test_the_start_page_says_what_to_do_first(visit: Any) -> None:
    visit.run()
    assert visit.title == "Rimspan"
    assert "Nobody here yet. What to do first" in visit.words
    assert "Print the card" in visit.words
    assert BANNER not in visit.words


def test_a_file_without_a_passphrase_says_on_every_page_what_it_is_for(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    with ClientFile.open(tmp_path, demo=True):
        pass
    monkeypatch.setenv("RIMSPAN_STORE", str(tmp_path))
    at = AppTest.from_file(str(MAIN), default_timeout=60).run()
    assert BANNER in "\n".join(str(element.value) for element in at.markdown)


def test_a_locked_file_is_told_before_everything_else(
    visit: Any, monkeypatch: pytest.MonkeyPatch
) -> None:
    """One line says how to open it, and nothing of it is shown; the same with a wrong key."""
    visit.file.create_client("Robin Example")
    monkeypatch.delenv("RIMSPAN_PASSPHRASE")
    st.cache_resource.clear()  # signing in opened it
    visit.run()
    assert visit.title == "The client file is locked"
    assert "give its passphrase" in visit.at.text[0].value
    assert "Robin" not in visit.words
    assert not visit.at.button
    monkeypatch.setenv("RIMSPAN_PASSPHRASE", "other invented words")
    visit.run()
    assert visit.title == "The client file can't be opened"
    assert "the passphrase doesn't open" in visit.at.text[0].value


def test_the_demo_client_is_offered_until_somebody_is_in_the_studio_s_own_file(visit: Any) -> None:
    visit.run()
    assert "Open the demo client" in [button.label for button in visit.at.button]
    assert "into this client file" in visit.words
    visit.file.create_client("Robin Example")
    visit.run()
    assert "Open the demo client" not in [button.label for button in visit.at.button]


def test_a_client_is_created_once_and_opened(visit: Any) -> None:
    visit.run()
    visit.at.text_input(key="new name").set_value("Robin Example")
    visit.press("Create the client")
    assert [client.name for client in visit.file.clients()] == ["Robin Example"]
    assert visit.title == "Robin Example"
    assert "Which ear, the client's own?" in visit.words


def test_a_nameless_client_is_refused(visit: Any) -> None:
    visit.run().press("Create the client")
    assert "The name is empty" in visit.words
    assert not visit.file.clients()


def test_clients_are_found_by_name(visit: Any) -> None:
    for name in ("Robin Example", "Kim Sample"):
        visit.file.create_client(name)
    visit.run()
    visit.at.text_input(key="search").set_value("kim")
    visit.run()
    labels = [b.label for b in visit.at.button]
    assert "Kim Sample" in labels
    assert "Robin Example" not in labels


@pytest.mark.parametrize("page", ["photos", "marks", "answer", "sign"])
def test_a_station_without_a_client_shows_the_way(visit: Any, page: str) -> None:
    assert visit.open(page).title == "No client is open"


@pytest.mark.parametrize("side", ["left", "right"])
@pytest.mark.parametrize("page", ["client", "photos", "marks", "answer", "sign", "card"])
def test_every_page_names_the_ear(visit: Any, page: str, side: str) -> None:
    visit.consult(side).open(page)
    assert f"{side.capitalize()} ear" in visit.words
    assert f'aria-label="{side} ear"' in visit.words


def test_choosing_an_ear_opens_it(visit: Any) -> None:
    visit.consult().open("client").press("Right ear")
    assert visit.at.session_state["side"] == "right"
    assert visit.at.query_params["side"] == "right"


def test_a_photo_says_what_its_card_says(visit: Any, flat_photo: bytes) -> None:
    """The invented camera stood 280 mm before the card's middle, turned by 4 degrees.

    So it is 37.0 mm above the window's middle (73 mm down the card, the camera at 36.0), where
    the ear is: 7.5 degrees.
    """
    visit.consult().open("photos")
    visit.at.file_uploader[0].upload("flat.jpg", flat_photo, "image/jpeg")
    visit.run()
    assert [p["file"] for p in visit.draft()["photos"]] == ["flat.jpg"]
    assert "58 of 58 corners" in visit.words
    tilt = re.search(r"phone (\d+) degrees from (\w+)", visit.words)
    far = re.search(r"(\d+) mm away", visit.words)
    assert tilt is not None
    assert far is not None
    assert float(tilt[1]) == pytest.approx(7.5, abs=1)
    assert tilt[2] == "above"
    assert float(far[1]) == pytest.approx(280, rel=0.15)  # no lens known: f within 15 %


def test_a_refused_file_says_why_and_is_not_kept(visit: Any) -> None:
    visit.consult().open("photos")
    visit.at.file_uploader[0].upload("text.jpg", b"no picture", "image/jpeg")
    visit.run()
    assert "text.jpg: The file is no JPEG, PNG or HEIC picture." in visit.words
    assert not visit.draft().get("photos")


def test_the_answer_says_millimetres_with_their_between(measured: Any) -> None:
    """7 mm by construction: the marks lie 7 mm apart in the card's plane."""
    measured.open("answer")
    found = re.search(r"channel is ([\d.]+) mm, between ([\d.]+) and ([\d.]+)", measured.words)
    assert found is not None
    value, low, high = (float(group) for group in found.groups())
    assert low <= 7.0 <= high
    assert value == pytest.approx(7.0, abs=0.3)
    assert JUDGEMENT_STATEMENT in measured.words
    assert "if this studio's limits are right" in measured.words


@pytest.mark.parametrize("page", STATEMENT_PAGES)
def test_the_statement_stands_under_every_result(measured: Any, page: str) -> None:
    words = measured.open(page).words
    assert JUDGEMENT_STATEMENT in words
    assert "licensed medical care the same day" in words


def test_hand_findings_go_to_the_draft(measured: Any) -> None:
    measured.open("marks")
    measured.at.number_input(key="relief_mm only").set_value(4.5)
    measured.run()
    assert measured.draft()["caliper"]["only"] == {"relief_mm": 4.5, "u_relief_mm": 0.3}
    assert measured.draft()["photos"][0]["placements"][0]["label"] == "only"


def test_saving_without_the_box_is_refused(measured: Any) -> None:
    measured.open("sign")
    assert [box.value for box in measured.at.checkbox] == [False]
    measured.press("Save the assessment")
    assert "Nothing was saved." in measured.words
    assert not measured.file.revisions(measured.client)


def sign(visit: Any) -> None:
    visit.open("sign")
    visit.at.checkbox[0].check()
    visit.press("Save the assessment")


def test_a_confirmed_assessment_is_saved_once(measured: Any) -> None:
    sign(measured)
    assert "Saved as revision 1." in measured.words
    assert "Decided by Alex Invented" in measured.words
    assert not measured.at.checkbox
    measured.open("answer").open("sign")
    assert "Saved as revision 1." in measured.words
    assert len(measured.file.revisions(measured.client)) == 1


def test_signing_drops_what_could_be_undone(measured: Any) -> None:
    (photo,) = measured.draft()["photos"]
    marks = {k: v for k, v in photo.items() if not k.startswith("x_")}
    sent = {"rev": 1, "photo": "flat.jpg", "marks": marks}
    measured.arrives(f"marking {measured.client} left {photo['x_sha256']}", sent)
    assert measured.draft()["photos"][0]["x_undo"]["past"]
    measured.run()
    sign(measured)
    assert "Saved as revision 1." in measured.words
    assert "x_undo" not in measured.draft()["photos"][0]
    assert measured.draft()["photos"][0]["placements"] == photo["placements"]


def test_a_change_after_saving_needs_a_new_signature(measured: Any) -> None:
    sign(measured)
    measured.open("marks")
    measured.at.number_input(key="relief_mm only").set_value(4.5)
    measured.run().open("sign")
    assert [box.value for box in measured.at.checkbox] == [False]


def test_the_timeline_reopens_and_measures_the_same_numbers(measured: Any) -> None:
    measured.open("answer")
    said = re.search(r"channel is [\d.]+ mm, between [\d.]+ and [\d.]+", measured.words)
    sign(measured)
    measured.open("timeline")
    assert measured.title == "Timeline of Robin Example"
    measured.press("Open again")
    assert said is not None
    assert said[0] in measured.words
    measured.press("Measure again from the saved photos and marks")
    assert "Measured again: same numbers." in measured.words


def test_a_store_that_cannot_be_opened_is_said_in_words(
    visit: Any, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    (tmp_path / "file").write_text("no folder")
    monkeypatch.setenv("RIMSPAN_STORE", str(tmp_path / "file"))
    visit.run()
    assert visit.title == "The client file can't be opened"


def test_an_address_of_an_unknown_client_opens_nobody(visit: Any) -> None:
    visit.at.query_params["client"] = "nobody"
    visit.run()
    assert visit.title == "Rimspan"
    assert visit.at.session_state["client"] is None


def test_a_reload_opens_the_same_ear(measured: Any) -> None:
    """A fresh visit that knows the address alone: the session of the first one is gone."""
    fresh = type(measured)(measured.store)
    fresh.at.query_params.update({"client": measured.client, "side": "left"})
    fresh.open("answer")
    assert re.search(r"channel is 7\.\d+ mm", fresh.words)


def test_marks_are_kept_as_they_come_and_the_millimetres_follow(
    measured: Any, flat_document: dict[str, Any]
) -> None:
    """The photo's own marks, the exit moved to the place of the structure below: 13 mm."""
    photo = {k: v for k, v in flat_document["photos"][0].items() if k != "file"}
    (placement,) = photo["placements"]
    sha256 = measured.draft()["photos"][0]["x_sha256"]
    measured.open("marks")
    assert re.search(r"channel 7\.\d+ mm, between", measured.words)
    moved = {"label": "only", "entry": placement["entry"], "exit": placement["below"]}
    sent = {"rev": 7, "photo": "flat.jpg", "marks": photo | {"placements": [moved]}}
    measured.arrives(f"marking {measured.client} left {sha256}", sent).run()
    assert measured.draft()["photos"][0]["placements"] == [moved]
    assert re.search(r"channel 1[23]\.\d+ mm, between", measured.words)
    assert "Still needed. Room below: the next structure below." in measured.words
    assert "From 4,000 draws, for a first look; the answer takes 100,000." in measured.words


def test_check_bars_that_were_read_count_in_the_photos(measured: Any) -> None:
    measured.open("photos")
    assert "The print's check bars weren't read." in measured.words
    measured.open("card")
    for way, read in (("across", 100.2), ("down", 99.9)):
        measured.at.number_input(key=f"bar {way} rimspan-frame-1").set_value(read)
        measured.run()
    card = measured.draft()["card"]
    assert card == {"id": "rimspan-frame-1", "check_bar_mm": [100.2, 99.9]}
    assert "check bars weren't read" not in measured.open("photos").words


def test_a_new_consultation_takes_over_print_and_stock_and_says_so(measured: Any) -> None:
    measured.open("card")
    for way, read in (("across", 100.2), ("down", 99.9)):
        measured.at.number_input(key=f"bar {way} rimspan-frame-1").set_value(read)
        measured.run()
    stock = [{"gauge_mm": 1.2, "lengths_mm": [7.0, 9.0]}]
    measured.file.save_draft(measured.client, "left", measured.draft() | {"posts": stock})
    sign(measured)
    other = measured.file.create_client("Kim Sample").id
    measured.at.session_state["client"] = other
    measured.open("card")
    assert measured.file.draft(other, "left") is None  # nothing is kept before it is changed
    assert "check bars 100.20 and 99.90 mm" in measured.words
    assert re.search(r"as in the assessment of \d\d \w+ \d{4}", measured.words)
    assert "As in the assessment of" in measured.open("marks").words
    measured.at.number_input(key="relief_mm 1").set_value(4.5)
    measured.run()
    draft = measured.file.draft(other, "left")
    assert draft["card"] == {"id": "rimspan-frame-1", "check_bar_mm": [100.2, 99.9]}
    assert draft["posts"][0]["lengths_mm"] == [7.0, 9.0]
    assert not draft["photos"]
    assert draft["caliper"] == {"1": {"relief_mm": 4.5, "u_relief_mm": 0.3}}

    measured.open("card").press("Another print, not read yet")
    draft = measured.file.draft(other, "left")
    assert draft["card"] == {"id": "rimspan-frame-1"}
    assert "as in the assessment" not in measured.words
    assert draft["posts"][0]["lengths_mm"] == [7.0, 9.0]


@pytest.mark.parametrize(("photos", "page"), [(False, "Photos"), (True, "marks")])
def test_one_tap_opens_an_ear_and_its_page(measured: Any, photos: bool, page: str) -> None:
    client = measured.client if photos else measured.file.create_client("Kim Sample").id
    measured.run()
    measured.at.button(key=f"open left {client}").click()
    measured.run()
    assert (measured.at.session_state["client"], measured.at.session_state["side"]) == (
        *(client, "left"),
    )
    assert measured.at.session_state["page"] == page.lower()


def test_the_answer_in_short_stands_beside_the_signature(measured: Any) -> None:
    said = measured.open("sign").words
    assert re.search(r"channel is [\d.]+ mm, between ([\d.]+) and ([\d.]+)", said)
    for words in ("Room below the exit", "At first:", "After downsizing:", "Channel by one view."):
        assert words in said


def test_the_answer_page_says_what_the_result_file_says(measured: Any) -> None:
    """Sentence for sentence: the page has no words of its own for a result."""
    draft = measured.draft()
    draft["caliper"] = {"only": {"relief_mm": 3.2, "u_relief_mm": 0.3}}
    measured.file.save_draft(measured.client, "left", draft)
    kept = measured.file.photo_bytes(draft["photos"][0]["x_sha256"])
    result = assess_marks(measurable(draft), {"flat.jpg": kept}).result
    (placement,) = result["placements"]
    read = re.sub(r"\\(?=[^\w\s])", "", measured.open("answer").words).replace(JOINER, "")
    words = " ".join(read.split())
    said = [placement["headline"], placement["risk"]["sentence"], *placement["exact"]]
    said += [reason["sentence"] for reason in placement["reasons"]]
    said += [step["sentence"] for step in placement["settle"] if step["helps"]]
    said += [post.get("sentence") or post["none"] for post in placement["posts"].values()]
    assert len(said) > 12
    for sentence in said:
        assert " ".join(sentence.split()) in words, sentence


@pytest.mark.parametrize("page", ["marks", "answer", "sign"])
def test_a_placement_s_name_is_text(measured: Any, page: str) -> None:
    """It comes from whoever wrote the marks: no link, picture or symbol may come of it."""
    name = "**b** [y](https://elsewhere.example) :smile: $x$"
    draft = measured.draft()
    placements = draft["photos"][0]["placements"]
    placements.append(placements[0] | {"label": name})
    measured.file.save_draft(measured.client, "left", draft)
    at = measured.open(page).at
    kinds = (at.title, at.subheader, at.markdown, at.caption, at.info)
    said = [str(each.value) for kind in kinds for each in kind]
    said = [words for words in said if not words.startswith("<")]  # HTML of our own
    said += [box.label for box in at.expander]
    assert any(in_markdown(name) in words for words in said)
    assert not [words for words in said if name in words]


def test_every_chance_on_the_answer_page_hangs_on_the_studio_s_limits(measured: Any) -> None:
    measured.open("answer")
    shown = [str(element.value) for element in measured.at.markdown]
    chances = [t for t in shown if "\u00a0%" in t and "share of the variance" not in t]
    assert chances
    for text in chances:
        assert "if this studio's limits are right" in unescape(text), text


def test_the_budget_stands_on_the_answer_page_line_by_line(measured: Any) -> None:
    words = measured.open("answer").words
    assert "Where the uncertainty comes from" in [box.label[:32] for box in measured.at.expander]
    for line in ("mark of the entry", "tilt of the rim against the card", "scale of the print"):
        assert f'<td data-of="input">{line}</td>' in words


def test_measuring_again_overlooks_words_that_changed(measured: Any) -> None:
    """A revision saved before results had risks and steps, and with other words."""
    sign(measured)
    (revision,) = measured.file.revisions(measured.client)
    old = json.loads(json.dumps(revision.result))
    again = json.loads(json.dumps(revision.result))
    del old["placements"][0]["risk"]
    old["placements"][0]["headline"] = "Other words."
    assert same_numbers(old, again)
    old["placements"][0]["channel"]["u"] *= 1.001
    assert not same_numbers(old, again)
