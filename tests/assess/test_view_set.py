"""Each rendered sample is the view it was rendered as; a made pose is the view it was made for."""

from __future__ import annotations

import json
from functools import cache
from pathlib import Path

import cv2
import numpy as np
import pytest

from assess.reading import PhotoReading, read_view
from assess.scale import print_scale
from assess.view_set import (
    NEAR_VIEW_DEG,
    STEEPEST_DEG,
    VIEWS,
    View,
    is_upper,
    missing_views,
    off_deg,
    sight_of,
    view_of,
)
from calibration.lens import Camera
from calibration.photo import Photo, read_photo
from calibration.pose import PlaneFit
from sample_images.scene import look_at
from sample_images.sets import SAMPLES, sample_set
from sample_images.sets import STRAIGHT as RENDERED

ROOT = Path(__file__).resolve().parents[2]
NAMES = [view.name for view in VIEWS]
AS_ASKED = "pronounced"
"""The sample that is taken from where the guide asks; of the others the phone went straight up and
down."""
STRAIGHT = tuple(ear for ear in SAMPLES if ear != AS_ASKED)
ENDS = ("entry", "exit")


@cache
def sample(ear: str, name: str) -> PhotoReading:
    place = ROOT / "sample_images" / ear / f"{name}.jpg"
    side = json.loads(place.with_suffix(".truth.json").read_text("utf-8"))["side"]
    return read_view(read_photo(place.read_bytes()), file=place.name, side=side)


def made(elevation: float, aside: float = 0.0) -> PhotoReading:
    """Return a reading whose line of sight has this elevation and turn to the right, deg."""
    rise, turn = np.deg2rad([elevation, aside])
    ear = np.array([69.0, 60.0, 0.0])
    sight = [np.sin(turn) * np.cos(rise), -np.sin(rise), -np.cos(turn) * np.cos(rise)]
    rvec, tvec = look_at(ear + 270.0 * np.array(sight), ear, 5.0)
    camera = Camera(3000.0, 3000.0, 1999.5, 1499.5, ())
    fit = PlaneFit(camera, np.ravel(rvec), np.ravel(tvec), np.eye(8), 0.1, 58)
    return PhotoReading(
        "made.jpg",
        (4000, 3000),
        None,
        fit,
        print_scale(None, None),
        (),
        None,
        target_px=(1999.5, 1499.5),
    )


def elevation_deg(reading: PhotoReading) -> float:
    assert reading.fit is not None
    assert reading.target_px is not None
    _, down, _ = sight_of(reading.fit, reading.target_px)
    return float(np.rad2deg(np.arcsin(-down)))


def blind() -> PhotoReading:
    return PhotoReading("x.jpg", (9, 9), None, None, print_scale(None, None), (), "No card.")


def side_of(ear: str) -> str:
    truth = ROOT / "sample_images" / ear / "square-on.truth.json"
    return str(json.loads(truth.read_text("utf-8"))["side"])


@pytest.mark.parametrize("name", RENDERED)
@pytest.mark.parametrize("ear", STRAIGHT)
def test_a_sample_is_the_view_it_was_rendered_as(ear: str, name: str) -> None:
    reading = sample(ear, name)
    view = view_of(reading, side_of(ear))
    assert view is not None
    assert view.name == (name if name == "square-on" else name.partition("-")[0])
    # The cards stand up to 4 degrees askew on the ears.
    rendered_deg, _, _ = RENDERED[name]
    assert elevation_deg(reading) == pytest.approx(rendered_deg, abs=5.0)


@pytest.mark.parametrize("asked", VIEWS, ids=NAMES)
def test_a_photo_of_the_set_as_asked_is_that_view(asked: View) -> None:
    """By its reading, and by its true pose from the ends' middle, in the card's frame."""
    side = side_of(AS_ASKED)
    reading = sample(AS_ASKED, asked.name)
    assert view_of(reading, side) is asked
    place = ROOT / "sample_images" / AS_ASKED / f"{asked.name}.truth.json"
    told = json.loads(place.read_text("utf-8"))
    turn, _ = cv2.Rodrigues(np.array(told["rvec"]))
    ends = [p["points"][end]["card_mm"] for p in told["placements"].values() for end in ENDS]
    way = -turn.T @ np.array(told["tvec"]) - np.mean(ends, axis=0)
    right, down, away = way / np.linalg.norm(way)
    rise, aside = np.rad2deg([np.arcsin(-down), np.arctan2(right, -away)])
    behind = aside if side == "left" else -aside
    assert asked.rise_deg[0] <= rise <= asked.rise_deg[1]
    assert asked.behind_deg[0] <= behind <= asked.behind_deg[1]
    rendered_deg, _, _ = sample_set(AS_ASKED).sights[asked.name]
    assert rise == pytest.approx(rendered_deg, abs=0.1)


@pytest.mark.parametrize("way", ["mirrored", "upside down"])
def test_above_stays_above_however_the_picture_is_turned(way: str) -> None:
    photo = read_photo((ROOT / "sample_images" / "three" / "above-1.jpg").read_bytes())
    turned = photo.pixels[:, ::-1] if way == "mirrored" else photo.pixels[::-1, ::-1]
    reading = read_view(Photo(np.ascontiguousarray(turned), photo.facts), file="turned.jpg")
    assert reading.mirrored == (way == "mirrored")
    view = view_of(reading, side_of("three"))
    assert view is not None
    assert view.name == "above"


def test_of_the_set_as_asked_no_view_is_missing() -> None:
    everything = [sample(AS_ASKED, name) for name in NAMES]
    assert missing_views(everything, side_of(AS_ASKED)) == ()


@pytest.mark.parametrize("ear", STRAIGHT)
def test_straight_up_and_down_the_views_from_the_sides_are_missing(ear: str) -> None:
    everything = [sample(ear, name) for name in RENDERED]
    assert [v.name for v in missing_views(everything, side_of(ear))] == ["behind", "front"]
    assert [v.name for v in missing_views(everything[:1], side_of(ear))] == NAMES[1:]


@pytest.mark.parametrize("side", ["left", "right"])
def test_what_is_missing_is_named_in_order(side: str) -> None:
    everything = [made(*view.sight_deg(side)) for view in VIEWS]
    assert missing_views(everything, side) == ()
    for i, view in enumerate(VIEWS):
        assert missing_views(everything[:i] + everything[i + 1 :], side) == (view,)


def test_the_face_lies_to_the_other_side_on_the_other_ear() -> None:
    from_the_left = made(-15.0, -45.0)
    told = [view_of(from_the_left, side) for side in ("left", "right")]
    assert [view.name for view in told if view] == ["front", "behind"]


def test_without_photos_all_five_are_missing() -> None:
    assert missing_views([], "left") == missing_views([blind()], "left") == VIEWS


def test_a_photo_without_a_pose_is_no_view() -> None:
    assert view_of(blind(), "left") is None


@pytest.mark.parametrize("aside", [-12.0, 0.0, 9.0])
@pytest.mark.parametrize("elevation", [-34.0, -8.0, 0.0, 21.0])
def test_the_sight_is_that_of_the_made_camera(elevation: float, aside: float) -> None:
    reading = made(elevation, aside)
    assert elevation_deg(reading) == pytest.approx(elevation, abs=1e-6)
    assert reading.fit is not None
    assert reading.target_px is not None
    sight = sight_of(reading.fit, reading.target_px)
    assert np.linalg.norm(sight) == pytest.approx(1.0)
    assert np.rad2deg(np.arctan2(sight[0], -sight[2])) == pytest.approx(aside, abs=1e-6)


@pytest.mark.parametrize("view", VIEWS)
def test_anywhere_in_its_stretch_a_photo_is_that_view(view) -> None:
    for rise in np.linspace(*view.rise_deg, 5):
        for behind in np.linspace(*view.behind_deg, 5):
            photo = made(float(rise), float(behind))
            assert view_of(photo, "left") is view
            # 10 degrees each way at the most: half the diagonal of a square, in space
            assert off_deg(photo, view, "left") <= 11.2


def test_the_views_lie_all_round_the_ear_two_for_each_end() -> None:
    upper = [v for v in VIEWS[1:] if is_upper(v)]
    assert [v.name for v in upper] == ["above", "behind"]
    round_deg = sorted(np.rad2deg(np.arctan2(*v.sight_deg("left"))) % 360 for v in VIEWS[1:])
    gaps = np.diff([*round_deg, round_deg[0] + 360])
    assert np.all((gaps > 60) & (gaps < 120))


@pytest.mark.parametrize(
    ("elevation", "behind", "name"),
    [
        (NEAR_VIEW_DEG - 0.1, 0, "square-on"),
        (NEAR_VIEW_DEG + 0.1, 0, "above"),
        (-NEAR_VIEW_DEG - 0.1, 0, "below"),
        (0, NEAR_VIEW_DEG - 0.1, "square-on"),
        (0, NEAR_VIEW_DEG + 0.1, "behind"),
        (0, -NEAR_VIEW_DEG - 0.1, "front"),
        (30, 25, "behind"),
        (36, 25, "above"),
        (30, -25, "above"),
        (-30, -40, "front"),
        (-38, -25, "below"),
        (-50, 25, "below"),
        (STEEPEST_DEG - 0.1, 0, "above"),
        (STEEPEST_DEG + 0.1, 0, None),
        (0, STEEPEST_DEG + 0.1, None),
    ],
)
def test_between_and_beyond_the_views(elevation: float, behind: float, name: str | None) -> None:
    for side, right in (("left", 1.0), ("right", -1.0)):
        view = view_of(made(elevation, right * behind), side)
        assert (view.name if view else None) == name
