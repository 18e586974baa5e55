"""Each rendered sample is the view it was rendered as; a made pose is the view it was made for."""

from __future__ import annotations

import json
from functools import cache
from pathlib import Path

import numpy as np
import pytest

from assess.reading import PhotoReading, read_view
from assess.scale import print_scale
from assess.view_set import (
    BEYOND_DEG,
    FAR_ASIDE_DEG,
    NEAR_VIEW_DEG,
    STEP_DEG,
    VIEWS,
    elevation_deg,
    missing_views,
    sight_of,
    view_of,
)
from calibration.lens import Camera
from calibration.photo import Photo, read_photo
from calibration.pose import PlaneFit
from sample_images.scene import look_at
from sample_images.sets import SAMPLES
from sample_images.sets import VIEWS as RENDERED

ROOT = Path(__file__).resolve().parents[2]
NAMES = [view.name for view in VIEWS]


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


def blind() -> PhotoReading:
    return PhotoReading("x.jpg", (9, 9), None, None, print_scale(None, None), (), "No card.")


@pytest.mark.parametrize("name", NAMES)
@pytest.mark.parametrize("ear", SAMPLES)
def test_a_sample_is_the_view_it_was_rendered_as(ear: str, name: str) -> None:
    reading = sample(ear, name)
    view = view_of(reading)
    assert view is not None
    assert view.name.partition("-")[0] == name.partition("-")[0]  # above, below or square
    found = elevation_deg(reading)
    assert found is not None
    # The cards stand up to 4 degrees askew on the ears.
    rendered_deg, _, _ = RENDERED[name]
    assert found == pytest.approx(rendered_deg, abs=5.0)


@pytest.mark.parametrize("way", ["mirrored", "upside down"])
def test_above_stays_above_however_the_picture_is_turned(way: str) -> None:
    photo = read_photo((ROOT / "sample_images" / "three" / "above-1.jpg").read_bytes())
    turned = photo.pixels[:, ::-1] if way == "mirrored" else photo.pixels[::-1, ::-1]
    reading = read_view(Photo(np.ascontiguousarray(turned), photo.facts), file="turned.jpg")
    assert reading.mirrored == (way == "mirrored")
    view = view_of(reading)
    assert view is not None
    assert view.name == "above-1"


@pytest.mark.parametrize("ear", SAMPLES)
def test_what_is_missing_is_named_in_order(ear: str) -> None:
    everything = [sample(ear, name) for name in NAMES]
    assert missing_views(everything) == ()
    assert [v.name for v in missing_views(everything[:1])] == NAMES[1:]
    for i, name in enumerate(NAMES):
        rest = everything[:i] + everything[i + 1 :]
        (missing,) = missing_views(rest)  # of two from one side the one left is the nearer view
        assert missing.name.partition("-")[0] == name.partition("-")[0]


def test_two_photos_of_one_stretch_are_two_views_if_they_differ() -> None:
    alike = [made(0.0), made(30.0, 20.0), made(30.0, 25.0)]
    assert [v.name for v in missing_views(alike)] == ["above-2", "below-1", "below-2"]
    apart = [made(0.0), made(30.0, 20.0), made(30.0, -20.0)]
    assert [v.name for v in missing_views(apart)] == ["below-1", "below-2"]


def test_without_photos_all_five_are_missing() -> None:
    assert missing_views([]) == missing_views([blind()]) == VIEWS


def test_a_photo_without_a_pose_is_no_view() -> None:
    assert view_of(blind()) is None
    assert elevation_deg(blind()) is None


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
    asides = {np.sign(view.aside_deg) * step for step in STEP_DEG}
    for elevation in np.linspace(view.from_deg + 0.01, view.to_deg - 0.01, 5):
        for aside in asides:
            assert view_of(made(float(elevation), float(aside))) is view


def test_the_views_step_to_both_sides_above_and_below() -> None:
    for above in (True, False):
        steps = [v.aside_deg for v in VIEWS if (v.elevation_deg > 0) == above and v.aside_deg]
        assert sorted(steps) == [-25.0, 25.0]


@pytest.mark.parametrize(
    ("elevation", "aside", "name"),
    [
        (NEAR_VIEW_DEG - 0.1, 0, "square-on"),
        (NEAR_VIEW_DEG + 0.1, 0, "above-1"),
        (-NEAR_VIEW_DEG - 0.1, 0, "below-1"),
        (37.4, 0, "above-1"),
        (37.6, 0, "above-2"),
        (-43.9, 0, "below-1"),
        (-44.1, 0, "below-2"),
        (50.0 + BEYOND_DEG - 0.1, 0, "above-2"),
        (50.0 + BEYOND_DEG + 0.1, 0, None),
        (0, NEAR_VIEW_DEG - 0.1, "square-on"),
        (0, NEAR_VIEW_DEG + 0.1, None),
        (0, -40, None),
        (30, 25, "above-1"),
        (44, -30, "above-2"),
        (-20, 25, "below-1"),
        (-50, -25, "below-2"),
        (-35, FAR_ASIDE_DEG - 0.1, "below-1"),
        (-35, FAR_ASIDE_DEG + 0.1, None),
    ],
)
def test_between_and_beyond_the_views(elevation: float, aside: float, name: str | None) -> None:
    view = view_of(made(elevation, aside))
    assert (view.name if view else None) == name
