"""Where the ear is in a photo in which nothing is marked yet, by how the card is held."""

from __future__ import annotations

from typing import Literal

import numpy as np

from calibration.card import Card
from calibration.pose import PlaneFit

BESIDE_MM = 26.0
"""From the pocket card's edge to the ear's middle (assumed: card beside the ear, on the cheek)."""


def ear_place_px(
    fit: PlaneFit, card: Card, side: Literal["left", "right"], size: tuple[int, int]
) -> tuple[float, float]:
    """Return about where the ear's middle is, px, in the unmirrored picture.

    In the window of a card that has one; else beside the card, away from the face.  A guess to
    look at and to judge sharpness by, until marks say where the ear is.

    Parameters
    ----------
    fit : camera and pose
    card : the card that is seen
    side : which ear it is; a left ear has the face on its left
    size : the photo's width and height, px; a place beyond its edge is moved to the edge
    """
    if card.window_mm is not None:
        left, top, right, bottom = card.window_mm
        at = [(left + right) / 2, (top + bottom) / 2, 0.0]
    else:
        width, height = card.body_mm
        at = [width + BESIDE_MM if side == "left" else -BESIDE_MM, height / 2, 0.0]
    seen = fit.project(np.array([at]))[0]
    x, y = np.clip(np.nan_to_num(seen), 0.0, [size[0] - 1.0, size[1] - 1.0])
    return float(x), float(y)
