"""Which of the five views of an ear a photo is, and which of them are still missing.

The five fan out in height; the upper and the lower ones also to the sides, of two one to the
right and one to the left.  A photo counts as the view whose elevation is nearest to its own, to
whichever side it steps.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from typing import Literal

import numpy as np

from assess.reading import PhotoReading
from calibration.frames import Array
from calibration.pose import PlaneFit

ViewName = Literal["square-on", "above-1", "above-2", "below-1", "below-2"]

NEAR_VIEW_DEG = 15.0
"""An elevation further than this from every view's is none of the five; square-on, so is a line of
sight that far from the card's normal (assumed)."""
STEP_DEG = (20.0, 30.0)
"""How far to the side the upper and the lower photos are to be taken."""
FAR_ASIDE_DEG = 35.0
"""An upper or a lower photo from further aside is none of the five: the step, and 5 by eye."""


@dataclass(frozen=True, slots=True)
class View:
    """One of the five: the elevation to aim at, the stretch to aim within, the step aside, deg.

    Elevations are of the line of sight over the card's normal, positive from above; steps are
    turns about the vertical, positive to the right.
    """

    name: ViewName
    elevation_deg: float
    from_deg: float
    to_deg: float
    aside_deg: float


_STEP_DEG = sum(STEP_DEG) / 2
VIEWS: tuple[View, ...] = (
    View("square-on", 0.0, -10.0, 10.0, 0.0),
    View("above-1", 20.0, 15.0, 25.0, _STEP_DEG),
    View("above-2", 35.0, 30.0, 40.0, -_STEP_DEG),
    View("below-1", -20.0, -25.0, -15.0, _STEP_DEG),
    View("below-2", -35.0, -40.0, -30.0, -_STEP_DEG),
)
"""In the order in which they are taken."""


def sight_of(fit: PlaneFit, target_px: tuple[float, float]) -> Array:
    """Return the direction from the ear to the camera, (3,) of length 1, card frame.

    Parameters
    ----------
    fit : camera and pose in the unmirrored picture
    target_px : where the ear is in it
    """
    at = fit.on_plane(np.array([target_px]), 0.0)[0]
    line = fit.centre_mm - np.array([*at, 0.0])
    return np.asarray(line / np.linalg.norm(line))


def elevation_deg(reading: PhotoReading) -> float | None:
    """Return how far from above (positive) or below the ear is seen, deg; None without a pose.

    It is the angle between the line of sight and the card's horizontal plane, which holds the
    card's normal and its x axis: the card's arrow, not gravity, says what is up.
    """
    if reading.fit is None or reading.target_px is None:
        return None
    _, down, _ = sight_of(reading.fit, reading.target_px)
    return float(np.rad2deg(np.arcsin(np.clip(-down, -1.0, 1.0))))


def view_of(reading: PhotoReading) -> View | None:
    """Return which of the five views a photo is.

    None where its card gave no pose, or where it is seen from too far aside or too steeply to
    be any of them.
    """
    if reading.fit is None or reading.target_px is None:
        return None
    right, down, away = sight_of(reading.fit, reading.target_px)
    rise, aside = np.rad2deg([np.arcsin(np.clip(-down, -1.0, 1.0)), np.arctan2(right, -away)])
    view = min(VIEWS, key=lambda each: abs(each.elevation_deg - rise))
    if view.name == "square-on":
        near = -away >= np.cos(np.deg2rad(NEAR_VIEW_DEG))
    else:
        near = abs(view.elevation_deg - rise) <= NEAR_VIEW_DEG and abs(aside) <= FAR_ASIDE_DEG
    return view if near else None


def missing_views(readings: Iterable[PhotoReading]) -> tuple[View, ...]:
    """Return the views that no photo shows yet, in the order in which they are taken."""
    there = {view.name for reading in readings if (view := view_of(reading)) is not None}
    return tuple(view for view in VIEWS if view.name not in there)
