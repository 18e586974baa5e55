"""The rim as a curve to plan on: places by arc length, axes through it, and its mirror image.

All in the rim's plane, mm, x right and y down as on the card.  The arc counts along the outer
contour from front to back; an axis leans from the inward normal, positive toward the back.  Both
count the same on an ear and on its mirror image.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from assess.rim import arc_length, resample, smooth
from calibration.frames import UP, Array

STEP_MM = 0.25
NORMAL_OVER_MM = 3.0
"""A stretch of the contour whose direction is the rim's there; shorter ones show jitter."""


@dataclass(frozen=True, slots=True, eq=False)
class RimCurve:
    """Outer and inner contour from front to back, (N, 2) and (M, 2) mm, and up along the head.

    ``outer_mm`` lies at even steps of arc.  ``seen`` are the outer contour's points as they are
    seen, in any unit, (N, 2): px of a photo, or the contour itself.
    """

    outer_mm: Array
    inner_mm: Array
    up: Array
    seen: Array

    @property
    def arc_mm(self) -> Array:
        """Return the arc position of each outer point, (N,) mm."""
        return arc_length(self.outer_mm)

    @property
    def length_mm(self) -> float:
        """Return how long the outer contour is."""
        return float(self.arc_mm[-1])

    def at(self, arc_mm: Array) -> Array:
        """Return the outer contour's points at arc positions, (..., 2) mm."""
        return along(self.arc_mm, self.outer_mm, arc_mm)

    def arc_of(self, place: Array) -> float:
        """Return the arc position of the outer contour's point nearest to a place, (2,) mm."""
        start, way = self.outer_mm[:-1], np.diff(self.outer_mm, axis=0)
        square = np.maximum(np.sum(way * way, axis=1), 1e-12)
        part = np.clip(np.sum((place - start) * way, axis=1) / square, 0.0, 1.0)
        at = int(np.argmin(np.hypot(*(start + part[:, None] * way - place).T)))
        arc = self.arc_mm
        return float(arc[at] + part[at] * (arc[at + 1] - arc[at]))

    def frame(self, arc_mm: Array) -> tuple[Array, Array]:
        """Return the inward normal and the tangent toward the back, (..., 2) unit vectors."""
        half = NORMAL_OVER_MM / 2
        place = np.clip(np.asarray(arc_mm, dtype=np.float64), half, self.length_mm - half)
        chord = self.at(place + half) - self.at(place - half)
        tangent = chord / np.hypot(chord[..., 0], chord[..., 1])[..., None]
        inward = self.hand * np.stack([-tangent[..., 1], tangent[..., 0]], axis=-1)
        return inward, tangent

    @property
    def hand(self) -> float:
        """Return +1 where the inner contour lies to the right of the way as seen, else -1."""
        middle = len(self.outer_mm) // 2
        way = self.outer_mm[min(middle + 4, len(self.outer_mm) - 1)] - self.outer_mm[middle - 4]
        reach = self.inner_mm - self.outer_mm[middle]
        nearest = reach[np.argmin(np.hypot(*reach.T))]
        return 1.0 if way[0] * nearest[1] - way[1] * nearest[0] > 0.0 else -1.0

    def direction(self, arc_mm: Array, lean_deg: Array) -> Array:
        """Return the axes from entry to exit, (..., 2) unit vectors."""
        inward, tangent = self.frame(arc_mm)
        lean = np.deg2rad(np.asarray(lean_deg, dtype=np.float64))[..., None]
        return np.asarray(np.cos(lean) * inward + np.sin(lean) * tangent)

    def lean_of(self, arc_mm: Array, direction: Array) -> Array:
        """Return by how much a direction, (2,), leans from the inward normals, deg."""
        inward, tangent = self.frame(arc_mm)
        return np.asarray(np.rad2deg(np.arctan2(tangent @ direction, inward @ direction)))

    def chord_mm(self, arc_mm: Array, direction: Array) -> Array:
        """Return how far the inner contour is along the axes, (K,) mm; NaN where it isn't met.

        Parameters
        ----------
        arc_mm : (K,) array
        direction : (K, 2) array of unit vectors
        """
        start, steps = self.at(arc_mm)[:, None, :], np.diff(self.inner_mm, axis=0)[None, :, :]
        to = self.inner_mm[None, :-1, :] - start
        way = direction[:, None, :]
        with np.errstate(divide="ignore", invalid="ignore"):
            bend = _cross(way, steps)
            reach, on = _cross(to, steps) / bend, _cross(to, way) / bend
        met = (reach > 0.0) & (on >= 0.0) & (on <= 1.0)
        nearest = np.where(met, reach, np.inf).min(axis=1)
        return np.where(np.isfinite(nearest), nearest, np.nan)

    def top_mm(self) -> float | None:
        """Return the arc position of the rim's highest place, None where that is a contour's end.

        The highest place of the auricle (superaurale) is a landmark that both ears have.
        """
        height = self.outer_mm @ self.up
        best = int(np.argmax(height))
        if best in {0, len(height) - 1}:
            return None
        before, here, after = height[best - 1 : best + 2]
        bend = before - 2.0 * here + after
        shift = 0.5 * (before - after) / bend if bend < 0.0 else 0.0
        return float(self.arc_mm[best] + shift * (self.arc_mm[best + 1] - self.arc_mm[best]))

    def mirrored(self) -> RimCurve:
        """Return the mirror image, x turned to the other side: the other ear, were it alike."""
        flip = np.array([-1.0, 1.0])
        return RimCurve(
            self.outer_mm * flip, self.inner_mm * flip, self.up * flip, self.seen * flip
        )


def rim_curve(
    outer_mm: Array, inner_mm: Array, *, up: Array = UP, sigma_mm: float = 0.0
) -> RimCurve:
    """Return the curve through contours as they were marked, in mm of the rim's plane.

    Parameters
    ----------
    outer_mm, inner_mm : (N, 2), (M, 2) arrays
        From front to back.
    up : (2,) array
        Up along the head.
    sigma_mm : standard uncertainty of a mark, whose jitter is averaged over neighbours
    """
    outer, inner = (
        smooth(resample(line, STEP_MM), STEP_MM, sigma_mm) for line in (outer_mm, inner_mm)
    )
    unit = np.asarray(up, dtype=np.float64) / np.hypot(*up)
    return RimCurve(outer, inner, unit, outer)


def along(arc: Array, line: Array, places: Array) -> Array:
    """Return a polyline's points, (..., 2), at places of its arc."""
    return np.stack([np.interp(places, arc, line[:, i]) for i in (0, 1)], axis=-1)


def _cross(a: Array, b: Array) -> Array:
    return np.asarray(a[..., 0] * b[..., 1] - a[..., 1] * b[..., 0])
