"""A photo's passes become samples in mm and one plain entry of the marks file."""

from __future__ import annotations

import copy
import math
from collections.abc import Callable
from typing import Any

import numpy as np
import pytest

from assess.passes import by_hand, mark_samples, measured_entry, piercers
from assess.read_marks import parse_marks
from assess.reading import PhotoReading
from assess.repeatability import (
    U_DEFINITION_MM,
    Scatter,
    mark_uncertainty,
    pooled_scatter,
)
from assess.scale import print_scale

MM_PER_PX = 0.2
OWN = mark_uncertainty(Scatter(0.12, 24, 4, 1))
Reading = Callable[..., PhotoReading]


def placement(x: float, y: float, **changes: Any) -> dict[str, Any]:
    """Return a placement whose entry is at (x, y) px and whose exit lies 35 px below."""
    return {"label": "1", "entry": [x, y], "exit": [x, y + 35.0]} | changes


def photo(*passes: dict[str, Any], by: str = "Alex Invented", **changes: Any) -> dict[str, Any]:
    """Return a draft's photo whose first pass is its marks."""
    return {
        "file": "a.jpg",
        "x_sha256": "ab",
        "placements": [copy.deepcopy(passes[0])],
        "x_passes": [{"by": by, "placements": [each]} for each in passes],
    } | changes


THREE = (placement(800.0, 600.0), placement(803.0, 600.0), placement(800.0, 603.0))


def test_samples_are_millimetres_in_the_cards_plane(reading: Reading) -> None:
    """0.2 mm a pixel, (60, 50) mm at the photo's middle (799.5, 599.5)."""
    found = mark_samples(photo(*THREE), reading(), name="ab")
    entries = [s for s in found if s.point == "entry"]
    assert [(s.by, s.photo, s.label, s.number) for s in entries] == [
        ("Alex Invented", "ab", "1", number) for number in (1, 2, 3)
    ]
    at = [(s.x_mm, s.y_mm) for s in entries]
    np.testing.assert_allclose(at, [(60.1, 50.1), (60.7, 50.1), (60.1, 50.7)], atol=1e-9)
    scatter = pooled_scatter(found)
    assert scatter is not None
    assert (scatter.dof, scatter.points) == (8, 2)
    # Three marks 3 px apart: variance 3 px² on each axis.
    assert scatter.s_mm == pytest.approx(MM_PER_PX * math.sqrt(3))


def test_a_plane_nearer_the_camera_has_smaller_millimetres(reading: Reading) -> None:
    spans = []
    for offset in (0.0, 30.0):
        first, second, _ = (
            s.x_mm
            for s in mark_samples(photo(*THREE), reading(), name="ab", offset_mm=offset)
            if s.point == "entry"
        )
        spans.append(second - first)
    assert spans[1] / spans[0] == pytest.approx(270 / 300)


def test_a_mirrored_photo_gives_the_cards_own_places(reading: Reading) -> None:
    turned = [placement(1599.0 - p["entry"][0], p["entry"][1]) for p in THREE]
    plain = mark_samples(photo(*THREE), reading(), name="ab")
    assert mark_samples(photo(*turned), reading(mirrored=True), name="ab") == plain


def test_points_found_in_the_picture_tell_nothing_about_a_hand(reading: Reading) -> None:
    snapped = placement(800.0, 600.0, snapped=["entry"], u_px=0.3)
    assert set(by_hand([snapped])) == {("1", "exit")}
    found = mark_samples(photo(snapped, *THREE[1:]), reading(), name="ab")
    assert [(s.point, s.number) for s in found] == [
        ("exit", 1),
        *((point, number) for number in (2, 3) for point in ("entry", "exit")),
    ]


def test_piercers_count_their_own_passes_and_the_nameless_none(reading: Reading) -> None:
    draft = photo(*THREE)
    draft["x_passes"][1]["by"] = " Kim Sample "
    draft["x_passes"][2]["by"] = "  "
    assert piercers(draft) == ("Alex Invented", "Kim Sample")
    found = mark_samples(draft, reading(), name="ab")
    assert {(s.by, s.number) for s in found} == {("Alex Invented", 1), ("Kim Sample", 1)}


def test_a_photo_without_a_pose_has_no_millimetres() -> None:
    blank = PhotoReading("a.jpg", (9, 9), None, None, print_scale(None, None), (), "No card.")
    draft = photo(*THREE)
    assert mark_samples(draft, blank, name="ab") == ()
    bare = {key: value for key, value in draft.items() if key != "x_passes"}
    assert measured_entry(draft, blank, OWN) == bare


def test_the_mean_of_the_passes_is_measured(reading: Reading) -> None:
    draft = photo(*THREE)
    before = copy.deepcopy(draft)
    entry = measured_entry(draft, reading(), OWN)
    assert draft == before
    assert entry["placements"] == [{"label": "1", "entry": [801.0, 601.0], "exit": [801.0, 636.0]}]
    assert entry["sigma_px"] == pytest.approx(
        math.hypot(OWN.u_mm / math.sqrt(3), U_DEFINITION_MM) / MM_PER_PX
    )
    assert "x_passes" not in entry
    plain = {"format": "rimspan-marks/1", "side": "left", "photos": [entry]}
    parsed = parse_marks(plain)  # the format takes it as it is
    assert parsed.photos[0].sigma_px == entry["sigma_px"]


def test_more_passes_never_go_below_the_definition(reading: Reading) -> None:
    found = [
        measured_entry(photo(*[THREE[0]] * n), reading(), OWN)["sigma_px"] * MM_PER_PX
        for n in (1, 2, 5)
    ]
    assert found == sorted(found, reverse=True)
    assert found[-1] > U_DEFINITION_MM


def test_the_point_with_the_fewest_passes_rules_the_photo(reading: Reading) -> None:
    short = {"label": "1", "entry": [801.0, 600.0]}  # no exit in this pass
    entry = measured_entry(photo(THREE[0], THREE[1], short), reading(), OWN)
    assert entry["placements"][0]["exit"] == [801.5, 635.0]
    assert entry["sigma_px"] == pytest.approx(OWN.of_mean(2) / MM_PER_PX)


def test_a_point_moved_afterwards_counts_as_marked_once(reading: Reading) -> None:
    draft = photo(*THREE)
    draft["placements"][0]["exit"] = [800.0, 650.0]
    entry = measured_entry(draft, reading(), OWN)
    assert entry["placements"][0]["exit"] == [800.0, 650.0]
    assert entry["placements"][0]["entry"] == [801.0, 601.0]
    assert entry["sigma_px"] == pytest.approx(OWN.of_mean(1) / MM_PER_PX)


def test_snapped_points_keep_their_place_and_u(reading: Reading) -> None:
    snapped = placement(800.0, 600.0, snapped=["entry"], u_px=0.3)
    entry = measured_entry(photo(snapped, *THREE[1:]), reading(), OWN)
    (found,) = entry["placements"]
    assert (found["entry"], found["snapped"], found["u_px"]) == ([800.0, 600.0], ["entry"], 0.3)
    assert found["exit"] == [801.0, 636.0]
    both = placement(800.0, 600.0, snapped=["entry", "exit"], u_px=0.3)
    untouched = measured_entry(photo(both, *THREE[1:]), reading(), OWN)
    assert untouched["placements"] == [both]
    assert "sigma_px" not in untouched


def test_another_piercers_passes_are_for_comparison_only(reading: Reading) -> None:
    draft = photo(*THREE)
    far = {"by": "Kim Sample", "placements": [placement(900.0, 700.0)]}
    both = draft | {"x_passes": [*draft["x_passes"], far]}
    assert measured_entry(both, reading(), OWN) == measured_entry(draft, reading(), OWN)


def test_marked_once_by_an_unknown_hand_the_contracts_assumption_stands(reading: Reading) -> None:
    unknown = mark_uncertainty(None)
    assert "sigma_px" not in measured_entry(photo(THREE[0]), reading(), unknown)
    assert "sigma_px" not in measured_entry({"file": "a.jpg", "placements": []}, reading(), OWN)
    # Three passes count even before anything is learned of the hand.
    entry = measured_entry(photo(*THREE), reading(), unknown)
    assert entry["sigma_px"] * MM_PER_PX == pytest.approx(math.hypot(0.2 / math.sqrt(3), 0.1))


def test_ties_keep_what_one_mark_has(reading: Reading) -> None:
    draft = photo(*THREE, ties={"one": [700.0, 500.0]})
    assert measured_entry(draft, reading(), OWN)["u_ties_px"] == pytest.approx(
        OWN.of_mean(1) / MM_PER_PX
    )
    told = draft | {"u_ties_px": 0.3}
    assert measured_entry(told, reading(), OWN)["u_ties_px"] == 0.3
