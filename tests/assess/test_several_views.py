"""The rendered sample sets: photos and marks in, dots in space out, held against the truth."""

from __future__ import annotations

import json
from dataclasses import replace
from pathlib import Path
from typing import Any

import numpy as np
import pytest

from assess.marks import CardShift
from assess.measure import read_photos
from assess.read_marks import parse_marks
from assess.several_views import assumed_in, lens_name, several_views, upright
from assess.space import MOVED_LINE, in_space, placement_in_space
from calibration.draws import Draws
from calibration.lens import lens_prior
from calibration.photo import CaptureFacts, PhotoError, read_photo
from calibration.views import ViewsSolved

SAMPLES = Path(__file__).parents[2] / "sample_images"
DRAWS = Draws(1, 20_000)
FACTS = CaptureFacts(2000, 1500, "Invented Optics", "Sample 12", focal_35mm=37.0)


def measured(
    name: str, u_shift_mm: float, unmarked: tuple[str, str] | None = None
) -> tuple[ViewsSolved, dict[str, Any]]:
    """Return a sample set's dots in space, and the truth; one end of A may stay unmarked."""
    folder = SAMPLES / name
    told = json.loads((folder / "marks.json").read_text("utf-8"))
    for photo in told["photos"]:
        if unmarked and photo["file"] == unmarked[0]:
            del photo["placements"][0][unmarked[1]]
    marks = parse_marks(told)
    marks = marks.model_copy(update={"card_shift": CardShift(u_mm=u_shift_mm)})
    photos = {p.file: read_photo((folder / p.file).read_bytes()) for p in marks.photos}
    readings = read_photos(marks, photos, None)
    usual = {p.file: p.sigma_px or 2.0 for p in marks.photos}
    found = several_views(marks, photos, readings, usual)
    assert isinstance(found, ViewsSolved), found
    return found, json.loads((folder / "square-on.truth.json").read_text())


@pytest.fixture(scope="module")
def pronounced() -> tuple[ViewsSolved, dict[str, Any]]:
    return measured("pronounced", 0.0)


@pytest.fixture(scope="module")
def flat() -> tuple[ViewsSolved, dict[str, Any]]:
    return measured("flat", 0.0)


def test_pixels_and_marks_give_the_dots_in_space(pronounced) -> None:
    found, truth = pronounced
    points = found.points
    assert not found.said
    assert {r.fault for r in found.refused} <= {"one_view"}
    true = {f"tie: {name}": tie["card_mm"] for name, tie in truth["ties"].items()}
    places = truth["placements"]["A"]["points"]
    true |= {f"A/{kind}": point["card_mm"] for kind, point in places.items()}
    assert {"A/entry", "A/exit", "A/crest", "A/floor", "tie: lobe"} <= set(points.names)
    for name in points.names:
        rows = points.rows(name)
        gap = points.place(name) - np.array(true[name])
        assert gap @ np.linalg.solve(points.covariance[rows, rows], gap) < 16.3, name


def test_what_is_marked_on_the_edge_is_never_triangulated() -> None:
    found, _ = measured("pronounced", 0.0, unmarked=("front.jpg", "exit"))
    assert "A/exit" not in found.points.names  # its dot is seen once, its edge square-on
    assert [(r.name, r.fault, r.photos) for r in found.refused] == [
        ("A/exit", "one_view", ("below.jpg",))
    ]


@pytest.mark.parametrize("name", ["pronounced", "flat"])
def test_relief_is_that_of_the_ear(name: str, request) -> None:
    found, truth = request.getfixturevalue(name)
    placement = placement_in_space("A", in_space(found, DRAWS), truth["side"])
    assert placement.relief_mm is not None
    low, high = np.quantile(placement.relief_mm, [0.005, 0.995])
    # Along the card's normal, a few degrees off the ear's own, along which the truth counts.
    points = truth["placements"]["A"]["points"]
    relief = points["floor"]["card_mm"][2] - points["crest"]["card_mm"][2]
    assert low < relief < high


def test_the_flat_ear_is_told_from_the_pronounced_one_by_relief_alone(pronounced, flat) -> None:
    reliefs = []
    for (found, truth), seed in ((pronounced, 1), (flat, 2)):
        placement = placement_in_space("A", in_space(found, Draws(seed, 20_000)), truth["side"])
        assert placement.relief_mm is not None
        reliefs.append(placement.relief_mm)
    assert np.mean(reliefs[0] > reliefs[1]) > 0.99


def test_photos_share_a_lens_by_size_model_and_zoom() -> None:
    def name(facts: CaptureFacts, *, mirrored: bool = False) -> str:
        return lens_name(facts, lens_prior(facts), mirrored=mirrored)

    assert name(FACTS) == name(replace(FACTS))
    assert name(FACTS) != name(replace(FACTS, digital_zoom=2.0))
    assert name(FACTS) != name(replace(FACTS, model="Sample 13"))
    assert name(FACTS) != name(replace(FACTS, width=1500, height=2000))
    assert name(FACTS) != name(FACTS, mirrored=True)


def test_what_nobody_told_is_assumed() -> None:
    placement = {"label": "A", "entry": [1, 2], "exit": [3, 4], "snapped": ["exit"], "u_px": 0.3}
    photo = {"file": "a.jpg", "placements": [placement], "ties": {"lobe": [5, 6]}}
    marks = {"format": "rimspan-marks/1", "side": "left", "photos": [photo]}
    assert assumed_in(parse_marks(marks)) == {"A/entry", "tie: lobe", MOVED_LINE}
    told = marks | {"card_shift": {"u_mm": 0.2}, "photos": [photo | {"sigma_px": 1.0}]}
    assert assumed_in(parse_marks(told)) == frozenset()


def test_a_visit_with_one_readable_photo_has_no_several_views() -> None:
    folder = SAMPLES / "flat"
    marks = parse_marks((folder / "marks.json").read_bytes())
    photos = {p.file: PhotoError("Dark.", "Nothing is seen.", "Again.") for p in marks.photos}
    readings = read_photos(marks, photos, None)
    usual = {p.file: 2.0 for p in marks.photos}
    assert several_views(marks, photos, readings, usual) is None


def test_up_is_along_the_marked_head_else_the_cards() -> None:
    folder = SAMPLES / "flat"
    marks = parse_marks((folder / "marks.json").read_bytes())
    marks = marks.model_copy(update={"photos": marks.photos[:1]})
    photos = {p.file: read_photo((folder / p.file).read_bytes()) for p in marks.photos}
    readings, usual = read_photos(marks, photos, None), {p.file: 1.5 for p in marks.photos}
    up = upright(marks, readings, usual, 0.0, DRAWS)
    assert up.shape == (2, DRAWS.count)
    np.testing.assert_allclose(np.linalg.norm(up, axis=0), 1.0)
    assert up[1].max() < -0.9  # the samples' heads are upright within a few degrees
    assert 0.05 < np.rad2deg(np.arctan2(up[0], -up[1]).std()) < 1.0
    bare = marks.photos[0].model_copy(update={"head_up": None})
    none = upright(marks.model_copy(update={"photos": (bare,)}), readings, usual, 0.0, DRAWS)
    np.testing.assert_array_equal(none, [[0.0], [-1.0]])
