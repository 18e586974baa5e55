"""What another photo would bring, foretold, against what it brings."""

import numpy as np
import pytest

from calibration.joint_problem import PrintPrior
from calibration.next_view import camera_toward, covariance_with, foretold, span_u, span_u_mm
from calibration.views import ViewsSolved, measure_views
from tests.dot_sets import DOTS, MIDDLE, dot_set

BARS = PrintPrior((0.0005, 0.0006), 0.0)
ENDS = ("A/entry", "A/exit")
AROUND = (0.0, 20.0, 35.0, -28.0, -45.0)


def solved(photos, u_shift_mm: float) -> ViewsSolved:
    found = measure_views(photos, u_shift_mm, BARS)
    assert isinstance(found, ViewsSolved)
    assert set(DOTS) <= set(found.points.names)
    return found


@pytest.mark.parametrize("u_shift_mm", [0.0, 0.5])
@pytest.mark.parametrize("last", [4, 2])
def test_what_is_foretold_comes_true(last: int, u_shift_mm: float) -> None:
    photos = dot_set(np.random.default_rng(21), u_px=1.0, elevations=AROUND, hide=False).photos
    fewer = [photo for i, photo in enumerate(photos) if i != last]
    before, after = solved(fewer, u_shift_mm), solved(photos, u_shift_mm)
    camera = after.found.camera(last)
    foretold = covariance_with(before, camera, list(photos[last].marks), 1.0)
    u = [span_u_mm(before, c, ENDS) for c in (before.points.covariance, foretold)]
    came = span_u_mm(after, after.points.covariance, ENDS)
    assert u[0] > u[1]
    assert u[1] == pytest.approx(came, rel=0.1)


@pytest.mark.parametrize("u_shift_mm", [0.0, 0.5])
def test_what_is_foretold_before_any_mark_comes_true(u_shift_mm: float) -> None:
    """Of the cameras alone, at places some millimetres off the dots'."""
    photos = dot_set(np.random.default_rng(31), u_px=1.0, elevations=AROUND, hide=False).photos
    found = solved(photos, u_shift_mm)
    names = [name for name in DOTS if name in found.points.names]
    roughly = {n: DOTS[n] + np.random.default_rng(5).normal(0.0, 1.5, 3) for n in names}
    views = [(found.found.camera(i), names, 1.0) for i in range(len(photos))]
    u = span_u(roughly, foretold(views, roughly, u_shift_mm), ENDS)
    came = span_u_mm(found, found.points.covariance, ENDS)
    assert u == pytest.approx(came, rel=0.3)
    one = foretold(views[:1], roughly, u_shift_mm)
    assert span_u(roughly, one, ENDS) > 20 * u  # one photo tells no depth


def test_a_photo_that_shows_nothing_known_brings_nothing() -> None:
    before = solved(dot_set(np.random.default_rng(22)).photos, 0.0)
    camera = before.found.camera(0)
    same = covariance_with(before, camera, ["B/entry"], 1.0)
    np.testing.assert_array_equal(same, before.points.covariance)


def test_a_camera_looks_where_it_is_told() -> None:
    like = dot_set(np.random.default_rng(23)).cameras[0]
    sight = np.array([0.2, -0.6, -1.0])
    camera = camera_toward(like, MIDDLE, sight, 250.0)
    seen = camera.project(MIDDLE[None])[0]
    np.testing.assert_allclose(seen, [like.camera.cx, like.camera.cy], atol=1e-6)
    way = camera.centre_mm - MIDDLE
    assert np.linalg.norm(way) == pytest.approx(250.0)
    np.testing.assert_allclose(way / 250.0, sight / np.linalg.norm(sight), atol=1e-9)
