"""Band width against a distance transform and against closed forms."""

import numpy as np
import pytest
from scipy.ndimage import distance_transform_edt

from assess.rim import arc_length, inscribed_widths, resample


def arc(radius_x: float, radius_y: float, count: int = 400) -> np.ndarray:
    """Return the upper half of an ellipse, (count, 2)."""
    angle = np.linspace(np.pi, 2 * np.pi, count)
    return np.column_stack([radius_x * np.cos(angle), radius_y * np.sin(angle)])


@pytest.mark.published(source="closed form", where="ring between concentric circles: R - r")
def test_a_circular_ring_is_as_wide_as_its_radii_differ() -> None:
    width = inscribed_widths(arc(20, 20), arc(14, 14))
    inside = np.isfinite(width)
    assert inside.sum() > 300
    np.testing.assert_allclose(width[inside], 6.0, atol=0.003)


@pytest.mark.published(
    source="closed form",
    where="ellipse ring at the vertex: b - b' while the circle fits the inner curvature",
)
def test_an_ellipse_ring_has_its_closed_form_width_at_the_vertex() -> None:
    outer, inner = arc(18, 25, 1201), arc(12, 19, 1201)
    width = inscribed_widths(outer, inner)
    assert width[600] == pytest.approx(25 - 19, abs=0.005)


@pytest.mark.published(
    source="scipy.ndimage.distance_transform_edt", where="its maxima are inscribed radii"
)
def test_widths_agree_with_the_distance_transform() -> None:
    """Every circle touches at its place; its centre's distance to the outside is its radius."""
    step = 0.02
    outer, inner = arc(18, 25, 800), arc(12.5, 20, 800)
    x, y = np.meshgrid(np.arange(-20, 20, step), np.arange(-27, 1, step))
    band = ((x / 18) ** 2 + (y / 25) ** 2 < 1) & ((x / 12.5) ** 2 + (y / 20) ** 2 > 1)
    distance = distance_transform_edt(band) * step
    width = inscribed_widths(outer, inner)
    tangent = np.gradient(outer, axis=0)
    normal = np.column_stack([-tangent[:, 1], tangent[:, 0]])
    normal /= np.hypot(*normal.T)[:, None]
    for i in range(150, 650, 50):
        centre = outer[i] + normal[i] * width[i] / 2
        row, column = np.round((centre[1] + 27) / step), np.round((centre[0] + 20) / step)
        found = distance[int(row), int(column)]
        assert 2 * found == pytest.approx(width[i], abs=3 * step)


@pytest.mark.published(source="closed form", where="arc = 2R asin(c/2R): c 10, R 20 -> 10.1072")
def test_arc_length_of_few_marks_on_a_circle() -> None:
    half = np.arcsin(10 / 40)
    angle = np.linspace(-half, half, 4)
    marks = np.column_stack([20 * np.sin(angle), -20 * np.cos(angle)])
    assert arc_length(resample(marks, 0.5))[-1] == pytest.approx(10.1072, abs=0.005)
