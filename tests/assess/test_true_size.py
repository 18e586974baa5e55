"""Posts drawn at true size, against OpenCV's camera model and shapely's areas."""

from collections.abc import Callable

import cv2
import numpy as np
import pytest
import shapely

from assess.ends import End
from assess.reading import PhotoReading
from assess.true_size import DrawnPost, outlines_mm, outlines_px
from calibration.lens import Camera
from calibration.pose import PlaneFit

BALL, DISC, SPIKE = End("ball", 3.0, 3.0), End("disc", 4.0, 1.0), End("pointed", 2.0, 4.0)
POST = DrawnPost((60.0, 40.0), (62.0, 46.6), 1.2, (BALL, DISC), (1.5, 1.0))
CHANNEL = float(np.hypot(2.0, 6.6))
AREAS = {
    "upper end": np.pi * 1.5**2,
    "above": 1.2 * 1.5,
    "in the rim": 1.2 * CHANNEL,
    "below": 1.2 * 1.0,
    "lower end": 4.0,
}


@pytest.mark.published(source="shapely 2 (GEOS)", where="areas and places of the parts")
def test_the_parts_have_their_true_size_and_lie_end_to_end() -> None:
    parts = {part.name: shapely.Polygon(part.outline) for part in outlines_mm(POST)}
    for name, area in AREAS.items():
        assert parts[name].area == pytest.approx(area, rel=0.004)  # a ball of 48 corners
    whole = shapely.union_all([part.buffer(1e-6) for part in parts.values()])
    assert isinstance(whole, shapely.Polygon)  # in one piece
    # From end to end: both ends, what stands out, the channel.
    along = shapely.LineString([POST.entry_mm, POST.exit_mm])
    way = (np.array(POST.exit_mm) - POST.entry_mm) / along.length
    reach = np.concatenate([part.outline for part in outlines_mm(POST)]) @ way
    assert np.ptp(reach) == pytest.approx(3.0 + 1.5 + CHANNEL + 1.0 + 1.0, abs=0.01)
    pointed = outlines_mm(DrawnPost((0.0, 0.0), (0.0, 7.0), 1.2, (SPIKE, DISC), (0.0, 0.0)))
    assert shapely.Polygon(pointed[0].outline).area == pytest.approx(4.0)


@pytest.mark.published(source="OpenCV", where="projectPoints")
def test_they_are_seen_where_opencv_s_camera_sees_them() -> None:
    camera = Camera(3000.0, 3010.0, 1999.5, 1499.5, (0.04, 0.0, 0.0, 0.0, 0.0))
    rvec, tvec = np.array([0.15, -0.1, 0.05]), np.array([-60.0, -45.0, 270.0])
    fit = PlaneFit(camera, rvec, tvec, np.zeros((8, 8)), 0.1, 58)
    matrix = np.array([[3000.0, 0.0, 1999.5], [0.0, 3010.0, 1499.5], [0.0, 0.0, 1.0]])
    for mm, px in zip(outlines_mm(POST), outlines_px(POST, fit, 6.0), strict=True):
        places = np.column_stack([mm.outline, np.full(len(mm.outline), -6.0)])
        theirs, _ = cv2.projectPoints(places, rvec, tvec, matrix, np.array([0.04, 0, 0, 0, 0]))
        np.testing.assert_allclose(px.outline, theirs.reshape(-1, 2), atol=1e-6)


def test_square_on_a_millimetre_is_as_many_px_as_the_photo_has(
    reading: Callable[..., PhotoReading],
) -> None:
    fit = reading().fit
    assert fit is not None
    for part in outlines_px(POST, fit):
        area = shapely.Polygon(part.outline).area * 0.2**2
        assert area == pytest.approx(AREAS[part.name], rel=0.004)
    # A rim that stands nearer is seen larger: 300 mm over 300 less 30.
    near = outlines_px(POST, fit, 30.0)[2].outline
    area = shapely.Polygon(near).area * 0.2**2 * 0.9**2
    assert area == pytest.approx(AREAS["in the rim"], rel=1e-6)


def test_on_a_mirrored_photo_it_lies_mirrored(reading: Callable[..., PhotoReading]) -> None:
    fit = reading().fit
    assert fit is not None
    plain, flipped = outlines_px(POST, fit), outlines_px(POST, fit, mirrored_width_px=1600)
    for ours, other in zip(plain, flipped, strict=True):
        np.testing.assert_allclose(other.outline[:, 0] + ours.outline[:, 0], 1599.0)
        np.testing.assert_allclose(other.outline[:, 1], ours.outline[:, 1])


def test_ends_that_coincide_are_refused() -> None:
    with pytest.raises(ValueError, match="apart"):
        outlines_mm(DrawnPost((1.0, 1.0), (1.0, 1.0), 1.2, (BALL, DISC), (0.0, 0.0)))
