"""Which photos measure a placement: several views, one view, calipers, in that order."""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

import numpy as np
import pytest

from assess.measure import measure
from assess.read_marks import parse_marks
from assess.result import PlacementOut, Result
from calibration.photo import Photo, PhotoError, read_photo

FOLDER = Path(__file__).parents[2] / "sample_images" / "pronounced"
TRUTH = json.loads((FOLDER / "square-on.truth.json").read_text())["placements"]["A"]


@pytest.fixture(scope="module")
def photos() -> dict[str, Photo | PhotoError]:
    return {path.name: read_photo(path.read_bytes()) for path in FOLDER.glob("*.jpg")}


def document() -> dict[str, Any]:
    found: dict[str, Any] = json.loads((FOLDER / "marks-examined.json").read_text())
    return found


def exit_marked_once() -> dict[str, Any]:
    """Leave out the exit in the photo from the front: one from below shows it, too."""
    found = document()
    (photo,) = [p for p in found["photos"] if p["file"] == "front.jpg"]
    del photo["placements"][0]["exit"]
    return found


def result(marks: dict[str, Any], photos: dict[str, Photo | PhotoError]) -> Result:
    return measure(parse_marks(marks), photos, draws=20_000).result


def only(found: Result) -> PlacementOut:
    (placement,) = found.placements
    return placement


def test_one_view_measures_where_an_end_is_seen_once_and_says_so(photos) -> None:
    found = result(exit_marked_once(), photos)
    placement = only(found)
    assert placement.method == "one_view"
    assert placement.lean is None
    assert any("exit of A is marked in below.jpg only" in said for said in found.several_views)
    tilt = next(row for row in placement.budget if row.input.startswith("tilt"))
    assert tilt.source == "seen in several views"


def test_several_views_measure_where_both_ends_are_seen_twice(photos) -> None:
    marks = document()
    del marks["caliper"]
    placement = only(result(marks, photos))
    assert placement.method == "views"
    assert placement.channel is not None
    assert placement.relief is not None
    assert not any(row.input.startswith(("tilt", "offset", "visible")) for row in placement.budget)
    assert sum(row.share for row in placement.budget) == pytest.approx(1.0, abs=0.01)
    for quantity, true in (
        (placement.channel, TRUTH["channel_mm"]),
        (placement.relief, TRUTH["relief_mm"]),
    ):
        assert abs(quantity.value - true) < 3 * quantity.u + 0.1
    points = {name: np.array(p["card_mm"]) for name, p in TRUTH["points"].items()}
    axis = points["entry"] - points["exit"]
    lean = np.rad2deg(np.arcsin(-axis[2] / np.linalg.norm(axis)))
    assert placement.lean is not None
    assert abs(placement.lean.value - lean) < 3 * placement.lean.u
    assert placement.seen_in["A/exit"] == ["front.jpg", "below.jpg"]


def test_relief_by_views_and_depth_rod_is_surer_than_either(photos) -> None:
    both = only(result(document(), photos)).relief
    rod_less = document()
    for name in ("relief_mm", "u_relief_mm"):
        del rod_less["caliper"]["A"][name]
    seen = only(result(rod_less, photos)).relief
    assert both is not None
    assert seen is not None
    assert both.u < min(seen.u, document()["caliper"]["A"]["u_relief_mm"])


def test_calipers_heavier_than_views_name_the_method(photos) -> None:
    marks = document()
    marks["caliper"]["A"] |= {"channel_mm": 7.0, "u_channel_mm": 0.01}
    assert only(result(marks, photos)).method == "caliper"


def test_the_other_ear_among_the_photos_is_said_and_one_view_measures(photos) -> None:
    """The marks of two photos are exchanged: no dot in space, and the reason in words."""
    marks = document()
    above, below = (
        next(p for p in marks["photos"] if p["file"] == name) for name in ("above.jpg", "below.jpg")
    )
    for name in ("placements", "ties"):
        above[name], below[name] = below[name], above[name]
    found = result(marks, photos)
    assert only(found).method == "one_view"
    assert any("above.jpg" in said and "below.jpg" in said for said in found.several_views)


def test_the_seat_along_the_rim_is_measured_where_the_contours_are_traced(photos) -> None:
    """The sample's axis stands square to the rim's run, as it was built."""
    seat = only(result(exit_marked_once(), photos)).seat
    assert seat is not None
    for end in (seat.entry, seat.exit):
        assert end.along is not None
        assert end.along.low < 0.0 < end.along.high
        assert end.across is None
        assert "across it not measured" in end.sentence
    bare = exit_marked_once()
    for photo in bare["photos"]:
        photo.pop("outer_rim", None)
    untraced = only(result(bare, photos)).seat
    assert untraced is not None
    assert untraced.entry.along is None
    assert "Trace both contours" in untraced.entry.sentence
