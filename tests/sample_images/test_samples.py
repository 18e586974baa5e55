"""Every sample photo set measured against its truth, and the truth against itself."""

import json
from pathlib import Path
from typing import Any

import cv2
import jsonschema
import numpy as np
import pytest

from assess.criteria import DEFAULT_CRITERIA, Criteria, DecisionRule
from assess.measure import Measurement, measure
from assess.read_marks import parse_marks
from assess.result import result_json
from assess.view_set import VIEWS as ASKED
from calibration.card import card_by_id
from calibration.find import CardSeen, find_card
from calibration.photo import read_photo

ROOT = Path(__file__).parents[2]
SAMPLES = ROOT / "sample_images"
EARS = ("pronounced", "middling", "flat", "three")
STRAIGHT = ("square-on", "above-1", "above-2", "below-1", "below-2")
VIEWS = dict.fromkeys(EARS, STRAIGHT) | {"pronounced": tuple(view.name for view in ASKED)}
PHOTOS = [(ear, view) for ear in EARS for view in VIEWS[ear]]


def load(path: Path) -> Any:
    return json.loads(path.read_text("utf-8"))


def measured(ear: str, marks_name: str) -> Measurement:
    marks = parse_marks((SAMPLES / ear / marks_name).read_bytes())
    photos = {p.file: read_photo((SAMPLES / ear / p.file).read_bytes()) for p in marks.photos}
    return measure(marks, photos, draws=20_000)


@pytest.fixture(scope="module", params=EARS)
def ear(request: pytest.FixtureRequest) -> str:
    return str(request.param)


def test_marks_are_valid_against_the_schema(ear: str) -> None:
    schema = load(ROOT / "assess" / "marks.schema.json")
    for name in ("marks.json", "marks-examined.json"):
        jsonschema.validate(load(SAMPLES / ear / name), schema)


def dots_seen_twice(ear: str, label: str, *names: str) -> bool:
    """Return whether each of a placement's dots shows in two of the five photos or more."""
    told = [load(SAMPLES / ear / f"{view}.truth.json")["placements"] for view in VIEWS[ear]]
    return all(sum(t[label]["points"][name]["visible"] for t in told) >= 2 for name in names)


def test_the_set_as_asked_shows_both_ends_twice_and_its_spare_dots_always() -> None:
    told = [load(SAMPLES / "pronounced" / f"{view}.truth.json") for view in VIEWS["pronounced"]]
    assert dots_seen_twice("pronounced", "A", "entry", "exit", "crest", "floor")
    assert all(tie["visible"] for each in told for tie in each["ties"].values())
    # They span a triangle: its least height.
    a, b, c = (np.array(tie["card_mm"]) for tie in told[0]["ties"].values())
    doubled_mm2 = float(np.linalg.norm(np.cross(b - a, c - a)))
    assert doubled_mm2 / max(float(np.linalg.norm(e)) for e in (b - a, c - b, a - c)) > 6.0


def test_every_placement_is_within_its_uncertainty(ear: str) -> None:
    found = measured(ear, "marks.json").result
    truth = load(SAMPLES / ear / "square-on.truth.json")["placements"]
    jsonschema.validate(
        json.loads(result_json(found)), load(ROOT / "assess" / "result.schema.json")
    )
    assert {p.label for p in found.placements} == set(truth)
    for placement in found.placements:
        assert placement.channel is not None
        assert placement.relief is not None
        in_space = dots_seen_twice(ear, placement.label, "entry", "exit")
        assert placement.method == ("views" if in_space else "one_view")
        error = placement.channel.value - truth[placement.label]["channel_mm"]
        assert abs(error) / placement.channel.u < 3
        assert placement.channel.u <= 0.7
        error = placement.relief.value - truth[placement.label]["relief_mm"]
        assert abs(error) / placement.relief.u < 3
        assert sum(row.share for row in placement.budget) == pytest.approx(1.0, abs=0.01)
        assert placement.verdict != "supports"  # cover and tissue are open
        assert any("fold depth" in line for line in placement.missing)


def test_the_pronounced_ear_supports_once_examined() -> None:
    (placement,) = measured("pronounced", "marks-examined.json").result.placements
    assert placement.verdict == "supports"
    assert placement.probability is not None
    assert placement.probability >= 0.95


@pytest.mark.practice("common practice, no source")
def test_the_flat_rim_is_no_candidate() -> None:
    (placement,) = measured("flat", "marks-examined.json").result.placements
    assert placement.verdict == "does_not_support"


def test_the_band_is_as_wide_as_the_ear_was_made() -> None:
    found = measured("three", "marks.json").result
    truth = load(SAMPLES / "three" / "square-on.truth.json")["placements"]
    assert found.band is not None
    widths = np.array(found.band.width_mm)
    channels = [p["channel_mm"] for p in truth.values()]
    # The band is what is seen of the rim: about the channel, and a lip of up to 1 mm more.
    assert min(channels) - 0.7 < np.median(widths) < max(channels) + 1.2
    assert found.band.usable


def test_a_stricter_rule_of_the_studio_never_makes_the_usable_stretch_longer() -> None:
    first = measured("middling", "marks.json")
    marks = parse_marks((SAMPLES / "middling" / "marks.json").read_bytes())
    photos = {
        p.file: read_photo((SAMPLES / "middling" / p.file).read_bytes()) for p in marks.photos
    }

    def stretch_mm(rule: DecisionRule) -> float:
        criteria = Criteria("invented", "1", DEFAULT_CRITERIA.limits, rule)
        found = measure(marks, photos, draws=2000, criteria=criteria, known=first.readings)
        assert found.result.band is not None
        return sum(b - a for a, b in found.result.band.usable)

    usual = stretch_mm(DecisionRule())
    assert 0 < stretch_mm(DecisionRule(supports_from=0.9999)) < usual
    assert stretch_mm(DecisionRule(guard_factor=3.0)) < usual
    assert stretch_mm(DecisionRule(supports_from=0.5)) > usual


@pytest.mark.published(source="OpenCV's projectPoints", where="pinhole with k1")
@pytest.mark.parametrize(("ear", "view"), PHOTOS)
def test_the_truth_is_seen_where_the_camera_model_puts_it(ear: str, view: str) -> None:
    told = load(SAMPLES / ear / f"{view}.truth.json")
    camera = told["camera"]
    matrix = np.array([[camera["fx"], 0, camera["cx"]], [0, camera["fy"], camera["cy"]], [0, 0, 1]])
    points = [p for place in told["placements"].values() for p in place["points"].values()]
    seen, _ = cv2.projectPoints(
        np.array([p["card_mm"] for p in points]),
        np.array(told["rvec"]),
        np.array(told["tvec"]),
        matrix,
        np.array(camera["dist"]),
    )
    np.testing.assert_allclose(seen.reshape(-1, 2), [p["px"] for p in points], atol=0.01)


@pytest.mark.parametrize(("ear", "view"), PHOTOS)
def test_the_card_is_found_in_every_photo(ear: str, view: str) -> None:
    told = load(SAMPLES / ear / f"{view}.truth.json")
    photo = read_photo((SAMPLES / ear / f"{view}.jpg").read_bytes())
    seen = find_card(photo.pixels)
    assert isinstance(seen, CardSeen)
    assert seen.card is card_by_id(told["card"])
    true = dict(zip(told["corner_ids"], told["corners_px"], strict=True))
    gaps = seen.corners_px - np.array([true[i] for i in seen.corner_ids.tolist()])
    assert len(gaps) >= 0.6 * len(true)
    if view == "square-on":
        assert len(gaps) == len(true)
        assert np.abs(gaps).max() < 0.1 * 3
        assert np.sqrt(np.mean(gaps**2)) < 0.1
        assert np.abs(gaps.mean(axis=0)).max() < 0.05


def test_the_photos_are_small_enough_and_say_that_they_are_rendered() -> None:
    assert sum(p.stat().st_size for p in SAMPLES.rglob("*")) < 25e6
    for ear, view in PHOTOS:
        assert b"not a person" in (SAMPLES / ear / f"{view}.jpg").read_bytes()[:600]
        assert "not a person" in load(SAMPLES / ear / f"{view}.truth.json")["note"]
