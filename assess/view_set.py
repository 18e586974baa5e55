"""Which of the five views of an ear a photo is, and which of them are still missing.

The five fan out in height; the upper and the lower ones also to the sides, of two one to the
right and one to the left.  A photo counts as the view whose elevation is nearest to its own, to
whichever side it steps; two from one side that differ enough are both its views.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from itertools import combinations
from typing import Literal

import numpy as np

from assess.reading import PhotoReading
from calibration.frames import Array
from calibration.pose import PlaneFit

ViewName = Literal["square-on", "above-1", "above-2", "below-1", "below-2"]

NEAR_VIEW_DEG = 15.0
"""Square-on is a line of sight less far from the card's normal than this (assumed)."""
BEYOND_DEG = 18.0
"""An elevation so far outside every view's stretch is none of the five: what isn't square-on, yet
from above or below, counts for a view (assumed)."""
APART_DEG = 10.0
"""Two photos from above, or from below, that differ by so much are two views (assumed)."""
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
    View("above-1", 30.0, 25.0, 35.0, _STEP_DEG),
    View("above-2", 45.0, 40.0, 50.0, -_STEP_DEG),
    View("below-1", -38.0, -43.0, -33.0, -_STEP_DEG),
    View("below-2", -50.0, -55.0, -45.0, _STEP_DEG),
)
"""In the order in which they are taken.  They are steep: a dot seen from the side shows nothing.
Of 140 placements on 14 parameter ears, photos at 20, 35, -20 and -35 degrees show both ends twice
in 6 of 100; at 30, 45, -40 and -50, with these steps, in 29."""


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
    if -away >= np.cos(np.deg2rad(NEAR_VIEW_DEG)):
        return VIEWS[0]
    rise, aside = np.rad2deg([np.arcsin(np.clip(-down, -1.0, 1.0)), np.arctan2(right, -away)])
    view = min(VIEWS[1:], key=lambda each: abs(each.elevation_deg - rise))
    beyond = max(view.from_deg - rise, rise - view.to_deg)
    return view if beyond <= BEYOND_DEG and abs(aside) <= FAR_ASIDE_DEG else None


def missing_views(readings: Iterable[PhotoReading]) -> tuple[View, ...]:
    """Return the views that no photo shows yet, in the order in which they are taken."""
    seen = [(view, reading) for reading in readings if (view := view_of(reading)) is not None]
    there = {view.name for view, _ in seen}
    for above in (True, False):
        own = [reading for view, reading in seen if view.aside_deg and is_above(view) == above]
        if any(_apart_deg(*pair) >= APART_DEG for pair in combinations(own, 2)):
            there |= {view.name for view in VIEWS[1:] if is_above(view) == above}
    return tuple(view for view in VIEWS if view.name not in there)


def is_above(view: View) -> bool:
    """Return whether a view is from above."""
    return view.elevation_deg > 0.0


def _apart_deg(one: PhotoReading, other: PhotoReading) -> float:
    sights = [
        sight_of(reading.fit, reading.target_px)
        for reading in (one, other)
        if reading.fit is not None and reading.target_px is not None
    ]
    return float(np.rad2deg(np.arccos(np.clip(sights[0] @ sights[1], -1.0, 1.0))))
