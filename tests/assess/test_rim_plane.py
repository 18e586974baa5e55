"""Rays meet the rim's plane where geometry says."""

import numpy as np
import pytest
from scipy.spatial.transform import Rotation

from assess.channel import unwrapped
from assess.rim_plane import on_rim, plane_slopes
from assess.view_model import angle_deg, elevation_deg

CENTRE = np.array([50.0, 40.0, -300.0])
EVEN = np.array([0.5, 0.5])


def sight(points: np.ndarray, centre: np.ndarray = CENTRE) -> np.ndarray:
    """Return the centre and where rays through points of space meet the card's plane."""
    stretch = -centre[2] / (points[:, 2] - centre[2])
    hits = (centre + stretch[:, None] * (points - centre))[:, :2]
    return np.concatenate([centre, hits.ravel()])


def test_points_of_a_level_plane_come_back() -> None:
    points = np.array([[40.0, 30, -10], [45, 38, -10]])
    found = on_rim(sight(points), np.array(10.0), np.zeros(2), EVEN)
    np.testing.assert_allclose(found.T, points, atol=1e-9)


@pytest.mark.parametrize("tilt_deg", [(6.0, 0.0), (0.0, -8.0), (4.0, 5.0)])
def test_points_of_a_tilted_plane_come_back(tilt_deg: tuple[float, float]) -> None:
    slopes = plane_slopes(np.deg2rad(tilt_deg))
    normal = np.array([*slopes, -1.0]) / np.linalg.norm([*slopes, 1.0])
    # In a plane through a middle 10 mm up, symmetric about the middle's ray.
    middle = np.array([42.0, 33.0, -10.0])
    along = np.cross(normal, [1.0, 0.0, 0.0])
    along = along / np.linalg.norm(along)
    points = np.array([middle + 4 * along, middle - 4 * along])
    found = on_rim(sight(points), np.array(10.0), slopes, EVEN).T
    # Perspective moves the marks' middle off the points' middle by under 0.1 mm.
    assert np.linalg.norm(found[0] - found[1]) == pytest.approx(8.0, abs=0.01)
    np.testing.assert_allclose((found - found[0]) @ normal, 0.0, atol=1e-9)


def test_a_plane_turned_about_x_slopes_as_the_rotation_says() -> None:
    for tilt in ([0.1, 0.0], [0.0, 0.1]):
        turned = Rotation.from_rotvec([*tilt, 0.0]).apply([0.0, 0.0, -1.0])
        np.testing.assert_allclose(plane_slopes(np.array(tilt)), turned[:2] / -turned[2])


def test_elevation_is_positive_from_above() -> None:
    axis, level = np.array([[0.0], [-1], [0]]), np.zeros((2, 1))
    above = np.array([[0.0], [-100.0], [-100.0]])
    below = above * [[1], [-1], [1]]
    assert elevation_deg(above, axis, level)[0] == pytest.approx(45.0)
    assert elevation_deg(below, axis, level)[0] == pytest.approx(-45.0)


@pytest.mark.parametrize(
    ("face", "axis", "expected"),
    [
        (1, [0, -1, 0], 0.0),
        (1, [-1, -1, 0], 45.0),  # a left ear's face is to the viewer's left
        (-1, [1, -1, 0], 45.0),
        (-1, [-1, -1, 0], -45.0),
        (1, [0, 1, 0], 180.0),
        (-1, [0, 1, 0], 180.0),
    ],
)
def test_angle_is_positive_toward_the_face(face, axis, expected) -> None:
    found = angle_deg(np.array(axis, float)[:, None], np.array([[0.0], [-1.0]]), face)
    assert found[0] == pytest.approx(expected)


def test_angle_from_a_marked_head() -> None:
    up = np.array([[np.sin(0.2)], [-np.cos(0.2)]])  # the head leans to the viewer's right
    found = angle_deg(np.array([[0.0], [-5], [0]]), up, 1)
    assert found[0] == pytest.approx(np.rad2deg(0.2))


def test_angles_about_180_degrees_are_averaged_across_the_jump() -> None:
    angles = unwrapped(np.array([179.0, -179.0, 178.0, -178.0]))
    assert abs(angles.mean()) == pytest.approx(180.0)
    assert angles.std() < 2
