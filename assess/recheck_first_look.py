"""A new photo before anything is marked in it: how far its view is off the baseline's."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np

from assess.reading import PhotoReading
from assess.recheck import MOST_VIEW_DEG
from assess.recheck_change import NotComparable
from assess.recheck_match import projected_outlines
from assess.recheck_view import PlaneView
from calibration.frames import Array


@dataclass(frozen=True, slots=True, eq=False)
class FirstLook:
    """How far the view is off the baseline's, deg, by the cards; the baseline's outlines, px.

    ``refused`` is why the two aren't compared, or None.
    """

    off_deg: float
    refused: NotComparable | None
    outline_px: Mapping[str, Array]


def first_look(
    baseline: PlaneView, first: PhotoReading, now: PhotoReading, offset_mm: float = 0.0
) -> FirstLook | None:
    """Return how a photo's view compares; None without a card.

    Both views are taken where the ear is looked for in them, as nothing is marked in the new one:
    beside it, at the post, the line of sight is another one by some degrees.

    Parameters
    ----------
    baseline : a marked photo of the baseline in its rectified plane
    first : what that photo says of its card
    now : what the new photo says of its card
    offset_mm : the rim's offset from the card at this visit
    """
    then, later = _looked(first, offset_mm), _looked(now, offset_mm)
    if then is None or later is None or now.fit is None:
        return None
    ways = [np.array([*each.slope, 1.0]) for each in (then, later)]
    cosine = ways[0] @ ways[1] / (np.linalg.norm(ways[0]) * np.linalg.norm(ways[1]))
    off = float(np.rad2deg(np.arccos(np.clip(cosine, -1.0, 1.0))))
    aside = np.rad2deg(np.arctan(later.slope) - np.arctan(then.slope))
    refused = None
    if off > MOST_VIEW_DEG:
        refused = NotComparable("view", off, (float(aside[0]), float(aside[1])))
    post = np.array([*(later.at + baseline.pivot - then.at), -offset_mm])
    post_px = now.straight(now.fit.project(post[None]))[0]
    return FirstLook(off, refused, projected_outlines(baseline, now, offset_mm, post_px))


@dataclass(frozen=True, slots=True, eq=False)
class _Looked:
    """Where the ear is looked for, (2,) mm, and how the line of sight goes aside there, (2,)."""

    at: Array
    slope: Array


def _looked(reading: PhotoReading, offset_mm: float) -> _Looked | None:
    if reading.fit is None or reading.target_px is None:
        return None
    at = reading.fit.on_plane(np.array([reading.target_px]), offset_mm)[0]
    centre = reading.fit.centre_mm
    return _Looked(at, (centre[:2] - at) / (-centre[2] - offset_mm))
