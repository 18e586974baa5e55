"""Marking again without a browser: what arrives is kept, learned from, and measured as a mean."""

from __future__ import annotations

import copy
import json
import re
from collections.abc import Callable
from importlib import resources
from typing import Any

import jsonschema
import numpy as np
import pytest

from assess.reading import U_MARK_MM
from assess.repeatability import U_DEFINITION_MM, Scatter, mark_uncertainty, pooled_scatter
from rimspan.screens.again_words import UNDER_WAY, repeated_words
from rimspan.screens.document import new_document, with_hand, with_marks, with_photo
from rimspan.screens.stations import marks_word

ALEX, KIM = "Alex Invented", "Kim Sample"
SPOTS = ("entry", "exit", "below")
ENDS = {"label": "1", "entry": [800.0, 600.0], "exit": [800.0, 640.0]}
OWN = mark_uncertainty(Scatter(0.12, 24, 4, 1))

Passes = Callable[..., dict[str, Any]]


def said(photo: dict[str, Any], known: Any = OWN) -> str:
    return " ".join(repeated_words(photo, known))


def passed(*passes: dict[str, Any], by: str = ALEX, **changes: Any) -> dict[str, Any]:
    """Return a draft's photo whose first pass is its marks."""
    made = [{"by": by, "placements": [each]} for each in passes]
    return {"placements": [passes[0]], "x_passes": made} | changes


def test_the_words_name_scatter_freedom_what_it_replaces_and_the_definition_apart() -> None:
    words = said(passed(ENDS, ENDS, ENDS))
    assert f"Marked 3 times by {ALEX}. The mean counts; the first marks are drawn faint." in words
    assert (
        "Own repeatability: 0.12 mm across and down, with 24 degrees of freedom. It takes the "
        f"place of the assumed {U_MARK_MM:g} mm." in words
    )
    assert f"Apart from it stands {U_DEFINITION_MM:g} mm where two good piercers" in words
    # u of a t with 24 degrees of freedom: 0.12 sqrt(24/22); of the mean with 0.1 mm: 0.12 mm.
    assert "a mean of 3 marks counts as uncertain by 0.12 mm." in words


def test_few_repeats_are_weighed_with_the_assumption() -> None:
    """u² = (6 · 0.2² + 4 · 0.12²) / 10: 0.172 mm."""
    words = said(passed(ENDS, ENDS), mark_uncertainty(Scatter(0.12, 4, 2, 1)))
    assert "Marked twice by" in words
    assert "with 4 degrees of freedom. From 8 degrees of freedom on it takes the place" in words
    assert "until then the two are weighed, which makes 0.17 mm." in words


def test_points_that_lag_behind_are_named() -> None:
    early = {"label": "1", "entry": [800.0, 600.0]}
    words = said(passed(ENDS, early))
    assert "Marked less often, or moved since: exit of placement 1." in words
    assert "The photo counts as marked once; choose “Mark again”" in words
    assert "a mark counts as uncertain by 0.16 mm." in words


def test_the_most_is_said_and_others_are_for_comparison() -> None:
    photo = passed(*[ENDS] * 5)
    photo["x_passes"].append({"by": KIM, "placements": [ENDS]})
    words = said(photo)
    assert f"Marked 5 times by {ALEX}, which is the most." in words
    assert f"The marks of {KIM} are for comparison." in words


def test_of_an_unknown_hand_that_marked_once_nothing_is_said() -> None:
    assert repeated_words(passed(ENDS), mark_uncertainty(None)) == []
    assert repeated_words({"placements": [ENDS]}, OWN) == []
    assert "Marked once by" in said(passed(ENDS))


def test_marks_belong_to_who_put_them_last() -> None:
    document = with_photo(new_document("left"), "a.jpg", "aa")
    document = with_marks(document, "a.jpg", {"placements": [ENDS]}, ALEX)
    (photo,) = document["photos"]
    assert with_hand(photo)["x_passes"] == [{"by": ALEX, "placements": [ENDS]}]
    (lines,) = with_marks(
        document, "a.jpg", {"placements": [ENDS], "outer_rim": [[1, 1], [2, 2]]}, KIM
    )["photos"]
    assert lines["x_marked_by"] == ALEX
    (nobodys,) = with_marks(document, "a.jpg", {"placements": [ENDS | {"exit": [9, 9]}]})["photos"]
    assert with_hand(nobodys) == nobodys
    assert "x_marked_by" not in nobodys


def test_what_a_file_says_of_its_marks_stands() -> None:
    told = {"placements": [ENDS], "sigma_px": 0.7, "x_marked_by": ALEX}
    assert with_hand(told) == told


def test_the_station_says_that_a_pass_is_not_finished() -> None:
    document = with_photo(new_document("left"), "a.jpg", "aa")
    running = {"placements": [ENDS], "x_again": {"by": ALEX, "placements": []}}
    assert marks_word(with_marks(document, "a.jpg", running)) == "pass not finished"


@pytest.fixture
def passes(flat_document: dict[str, Any]) -> Passes:
    """Return the flat photo's marks with some passes, each 1.5 px from the first."""
    (first,) = flat_document["photos"][0]["placements"]

    def make(count: int, by: str = ALEX, **changes: Any) -> dict[str, Any]:
        rng = np.random.default_rng(5)
        made = [copy.deepcopy(first)]
        for _ in range(count - 1):
            off = {k: [float(v) for v in first[k] + 1.5 * rng.standard_normal(2)] for k in SPOTS}
            made.append(first | off)
        return passed(*made, by=by, **changes)

    return make


def send(visit: Any, marks: dict[str, Any]) -> Any:
    sha256 = visit.draft()["photos"][0]["x_sha256"]
    sent = {"rev": 7, "photo": "flat.jpg", "marks": marks}
    return visit.arrives(f"marking {visit.client} left {sha256}", sent)


def test_passes_that_arrive_are_kept_learned_from_and_told(measured: Any, passes: Passes) -> None:
    send(measured, passes(3)).open("marks")
    assert len(measured.draft()["photos"][0]["x_passes"]) == 3
    scatter = pooled_scatter(measured.file.repeats.samples(ALEX))
    assert scatter is not None
    assert (scatter.dof, scatter.points) == (12, 3)
    assert f"Own repeatability: {scatter.s_mm:.2f} mm" in measured.words
    assert "with 12 degrees of freedom" in measured.words
    # Taken back, they are gone from the past too.
    send(measured, {"placements": passes(3)["placements"]})
    assert measured.file.repeats.samples() == []


def test_a_photo_that_was_taken_out_meanwhile_is_no_fault(measured: Any, passes: Passes) -> None:
    measured.arrives(
        f"marking {measured.client} left {'0' * 64}",
        {"rev": 1, "photo": "gone.jpg", "marks": passes(2)},
    )
    assert measured.file.repeats.samples() == []


def test_the_mean_and_its_sigma_are_saved_as_plain_marks(measured: Any, passes: Passes) -> None:
    draft = passes(3)
    send(measured, draft).open("sign")
    measured.at.checkbox[0].check()
    measured.press("Save the assessment")
    (revision,) = measured.file.revisions(measured.client)
    schema = json.loads(resources.files("assess").joinpath("marks.schema.json").read_text("utf-8"))
    jsonschema.validate(revision.marks, schema)
    (photo,) = revision.marks["photos"]
    assert not [name for name in photo if name.startswith("x_")]
    for kind in SPOTS:
        every = [each["placements"][0][kind] for each in draft["x_passes"]]
        np.testing.assert_allclose(photo["placements"][0][kind], np.mean(every, axis=0), atol=1e-9)
    # 0.2 mm are 1.05 px in the flat photo (0.19 mm a pixel); the hand here has 1.5 px.
    own = pooled_scatter(measured.file.repeats.samples(ALEX))
    assert own is not None
    u_mm = mark_uncertainty(own).of_mean(3)
    assert photo["sigma_px"] == pytest.approx(u_mm / 0.19, rel=0.05)


def test_another_photo_marked_once_takes_what_is_known_of_the_hand(
    measured: Any, passes: Passes
) -> None:
    """The past is of another photo; here the same hand marks once, and it counts."""
    send(measured, passes(5))
    known = mark_uncertainty(pooled_scatter(measured.file.repeats.samples(ALEX)))
    assert known.own
    other = measured.file.create_client("Kim Sample").id
    draft = measured.draft()
    (photo,) = draft["photos"]
    kept = measured.file.photo_bytes(photo["x_sha256"])
    measured.file.add_photo(other, kept, "flat.jpg", "left")
    first = {k: v for k, v in photo.items() if k not in {"x_passes", "x_marked_by", "sigma_px"}}
    measured.file.save_draft(other, "left", draft | {"photos": [first | {"x_marked_by": ALEX}]})
    measured.client = other
    measured.at.session_state["client"] = other
    measured.at.session_state["side"] = "left"
    words = measured.open("marks").words
    assert f"Marked once by {ALEX}." in words
    assert f"a mark counts as uncertain by {known.of_mean(1):.2f} mm." in words


def test_numbers_are_held_back_while_a_pass_runs(measured: Any, passes: Passes) -> None:
    running = {"by": f"{KIM}", "placements": []}
    send(measured, passes(2) | {"x_again": running}).open("marks")
    assert UNDER_WAY in measured.words
    assert not re.search(r"channel [\d.]+ mm", measured.words)
    assert "Own repeatability" not in measured.words


def test_repeats_kept_elsewhere_between_looking_and_signing_ask_for_another_look(
    measured: Any, passes: Passes
) -> None:
    send(measured, passes(3)).open("sign")
    measured.at.checkbox[0].check()
    measured.run()
    more = measured.file.repeats.samples(ALEX)
    wide = [s for s in more if s.number == 1]
    client = measured.file.create_client("Kim Sample").id
    shifted = [
        type(s)(ALEX, "b" * 64, "1", s.point, n, s.x_mm + n, s.y_mm) for s in wide for n in (1, 2)
    ]
    measured.file.repeats.save(client, "b" * 64, ALEX, shifted)
    next(b for b in measured.at.button if b.label == "Save the assessment").click()
    measured.run()
    assert "The draft changed meanwhile. Look at it again." in measured.words
    assert not measured.file.revisions(measured.client)


def test_the_past_is_read_once_while_marks_move(
    measured: Any, passes: Passes, monkeypatch: pytest.MonkeyPatch
) -> None:
    from rimspan.clientfile.repeats import Repeats

    send(measured, passes(3)).open("marks")
    read: list[str | None] = []
    samples = Repeats.samples

    def counted(self: Repeats, by: str | None = None) -> Any:
        read.append(by)
        return samples(self, by)

    monkeypatch.setattr(Repeats, "samples", counted)
    moved = passes(3)
    moved["placements"] = [moved["placements"][0] | {"below": [5.0, 5.0]}]
    send(measured, moved).run()
    assert "Marked less often, or moved since: below of placement only." in measured.words
    assert read == []  # the passes are the same, and so is what they tell
    send(measured, passes(4)).run()
    assert read == [ALEX]
