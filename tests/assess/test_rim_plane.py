"""Rays meet the rim's plane where geometry says."""

import numpy as np
import pytest

from assess.channel import angle_deg, elevation_deg, unwrapped
from assess.rim_plane import PlaneDraws, on_rim

CENTRE = np.array([50.0, 40.0, -300.0])


def seen_on_card(points: np.ndarray, centre: np.ndarray = CENTRE) -> np.ndarray:
    """Return where rays through points of space meet the card's plane, (K, 2)."""
    stretch = -centre[2] / (points[:, 2] - centre[2])
    return (centre + stretch[:, None] * (points - centre))[:, :2]


def test_points_of_a_level_plane_come_back() -> None:
    points = np.array([[40.0, 30, -10], [45, 38, -10]])
    plane = PlaneDraws(np.array(10.0), np.zeros(2))
    found = on_rim(seen_on_card(points), CENTRE, plane, np.ones(2))
    np.testing.assert_allclose(found, points, atol=1e-9)


@pytest.mark.parametrize("tilt_deg", [(6.0, 0.0), (0.0, -8.0), (4.0, 5.0)])
def test_points_of_a_tilted_plane_come_back(tilt_deg: tuple[float, float]) -> None:
    plane = PlaneDraws(np.array(10.0), np.deg2rad(tilt_deg))
    normal = plane.normal()
    # In a plane through a middle 10 mm up, symmetric about the middle's ray.
    middle = np.array([42.0, 33.0, -10.0])
    along = np.cross(normal, [1.0, 0.0, 0.0])
    along = along / np.linalg.norm(along)
    points = np.array([middle + 4 * along, middle - 4 * along])
    found = on_rim(seen_on_card(points), CENTRE, plane, np.ones(2))
    # Perspective moves the marks' middle off the points' middle by under 0.1 mm.
    assert np.linalg.norm(found[0] - found[1]) == pytest.approx(8.0, abs=0.01)
    np.testing.assert_allclose((found - found[0]) @ normal, 0.0, atol=1e-9)


def test_elevation_is_positive_from_above() -> None:
    top, bottom = np.array([[0.0, -4, 0]]), np.array([[0.0, 4, 0]])
    normal = np.array([[0.0, 0, -1]])
    above = np.array([[0.0, -100.0, -100.0]])
    assert elevation_deg(top, bottom, above, normal)[0] == pytest.approx(45.0)
    assert elevation_deg(top, bottom, above * [1, -1, 1], normal)[0] == pytest.approx(-45.0)


@pytest.mark.parametrize(
    ("side", "top", "expected"),
    [
        ("left", [0, -1, 0], 0.0),
        ("left", [-1, -1, 0], 45.0),  # a left ear's face is to the viewer's left
        ("right", [1, -1, 0], 45.0),
        ("right", [-1, -1, 0], -45.0),
        ("left", [0, 1, 0], 180.0),
        ("right", [0, 1, 0], 180.0),
    ],
)
def test_angle_is_positive_toward_the_face(side, top, expected) -> None:
    found = angle_deg(np.array([top], float), np.zeros((1, 3)), np.array([0.0, -1.0]), side)
    assert found[0] == pytest.approx(expected)


def test_angle_from_a_marked_head() -> None:
    up = np.array([[np.sin(0.2), -np.cos(0.2)]])  # the head leans to the viewer's right
    found = angle_deg(np.array([[0.0, -5, 0]]), np.zeros((1, 3)), up, "left")
    assert found[0] == pytest.approx(np.rad2deg(0.2))


def test_angles_about_180_degrees_are_averaged_across_the_jump() -> None:
    angles = unwrapped(np.array([179.0, -179.0, 178.0, -178.0]))
    assert abs(angles.mean()) == pytest.approx(180.0)
    assert angles.std() < 2
