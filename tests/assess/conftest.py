"""A photo's reading without a photo: a known camera square-on before the card."""

from __future__ import annotations

from collections.abc import Callable

import numpy as np
import pytest

from assess.reading import PhotoReading
from assess.scale import print_scale
from calibration.card import FRAME
from calibration.find import CardSeen
from calibration.lens import Camera
from calibration.pose import PlaneFit

SIZE = (1600, 1200)
FOCAL_PX, DISTANCE_MM = 1500.0, 300.0
MM_PER_PX = DISTANCE_MM / FOCAL_PX
"""0.2 mm in the card's plane."""


def square_on(mirrored: bool = False) -> PhotoReading:
    """Return the reading of a photo from 300 mm, the card's (60, 50) mm in its middle."""
    camera = Camera(FOCAL_PX, FOCAL_PX, (SIZE[0] - 1) / 2, (SIZE[1] - 1) / 2, (0.0,) * 5)
    place = np.array([-60.0, -50.0, DISTANCE_MM])
    fit = PlaneFit(camera, np.zeros(3), place, 1e-12 * np.eye(8), 0.1, 58)
    seen = CardSeen(FRAME, np.zeros(0, dtype=np.int64), np.zeros((0, 2)), mirrored, 0)
    target = ((SIZE[0] - 1) / 2, (SIZE[1] - 1) / 2)
    scale = print_scale(FRAME, None)
    return PhotoReading("a.jpg", SIZE, seen, fit, scale, (), None, 0.0, DISTANCE_MM, 0.8, target)


@pytest.fixture
def reading() -> Callable[..., PhotoReading]:
    return square_on
