"""The measurement model of one view: from lines of sight to channels, angles and room below.

One function of named inputs.  The Monte Carlo, the first-order budget and any check from
outside evaluate this one.

A mark and the camera give a line of sight, which meets the card's plane at a *hit*.  The rim's
plane stands before the card's, turned by two small angles about the middle of the marks; the
line of sight meets it where the mark's place is.  Hits and the camera's centre are linear in
the marks and in the lens and pose; everything after that is exact.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np

from assess.band_model import ear_band, place_band, powers
from assess.rim_plane import on_rim, plane_slopes
from assess.scale import SCALE_AXES, SCALE_COMMON, scale_factors
from calibration.frames import Array

OUTPUTS = ("channel", "room below", "angle", "middle x", "middle y", "middle z")
"""Rows for each placement: mm, mm (NaN where not marked), deg, mm, mm, mm."""

SIGHT = "sight"
"""Camera's centre (3) and hits (2 a mark, x and y), mm, card frame: (3 + 2K, R)."""
OFFSET, TILT = "rim offset", "rim tilt"


@dataclass(frozen=True, slots=True)
class Ends:
    """Where a placement's marks stand among the view's, and which ends are visible edges."""

    label: str
    entry: int
    exit: int
    below: int | None
    outlined: tuple[bool, bool] = (False, False)


@dataclass(frozen=True, slots=True)
class ViewModel:
    """Values of the inputs -> for each placement the rows of ``OUTPUTS``.

    ``weights``, (K,), sum to 1: each mark's part in the middle about which the rim's plane
    turns.  ``head_up`` are the two marks that point up along the head, or None for the card's
    up.  ``face`` is +1 where the face lies to the left as seen (a left ear), else -1.
    """

    placements: tuple[Ends, ...]
    weights: Array
    head_up: tuple[int, int] | None
    face: float

    def __call__(self, values: Mapping[str, Array]) -> Array:
        """Return the outputs, (6 P, R), for inputs of (n, R) each."""
        centre, slopes = values[SIGHT][:3], plane_slopes(values[TILT])
        points = on_rim(values[SIGHT], values[OFFSET][0], slopes, self.weights)
        points *= scale_factors(values[SCALE_COMMON], values[SCALE_AXES])[:, None]
        up = self._up(points)
        rows = [
            self._placement(ends, points, centre, slopes, up, values) for ends in self.placements
        ]
        return np.concatenate(rows)

    def _placement(
        self,
        ends: Ends,
        points: Array,
        centre: Array,
        slopes: Array,
        up: Array,
        values: Mapping[str, Array],
    ) -> Array:
        top, bottom = points[:, ends.entry], points[:, ends.exit]
        axis, middle = top - bottom, 0.5 * (top + bottom)
        length = _length(axis)
        edge = self._edges(ends, centre - middle, axis / length, slopes, values)
        channel = np.maximum(length - edge[0] - edge[1], 0.0)
        room = np.full_like(length, np.nan)
        if ends.below is not None:
            room = _length(points[:, ends.below] - bottom) + edge[1]
        return np.stack([channel, room, angle_deg(axis, up, self.face), *middle])

    def _edges(
        self,
        ends: Ends,
        sight: Array,
        axis: Array,
        slopes: Array,
        values: Mapping[str, Array],
    ) -> tuple[Array | float, Array | float]:
        """Return how far the marked edges lie outside the real ends, entry and exit, mm."""
        if not any(ends.outlined):
            return 0.0, 0.0
        by = powers(elevation_deg(sight, axis, slopes))
        ear = np.split(values[ear_band("left" if self.face > 0.0 else "right")], 2)
        place = values[place_band(ends.label)]
        entry, exit_ = (
            np.einsum("nr,nr->r", curve, by) + own if outlined else 0.0
            for curve, own, outlined in zip(ear, place, ends.outlined, strict=True)
        )
        return entry, exit_

    def _up(self, points: Array) -> Array:
        """Return "up" in the card's plane, (2, R) or (2, 1)."""
        if self.head_up is None:
            return np.array([[0.0], [-1.0]])
        start, end = (points[:2, place] for place in self.head_up)
        up = end - start
        return np.asarray(up / np.hypot(up[0], up[1]))


def _length(vector: Array) -> Array:
    return np.asarray(np.sqrt(vector[0] ** 2 + vector[1] ** 2 + vector[2] ** 2))


def angle_deg(axis: Array, up: Array, face: float) -> Array:
    """Return the axis's angle from "up", positive toward the face, in (-180, 180].

    Parameters
    ----------
    axis : (2 or 3, R) array
        From exit to entry, card frame.
    up : (2, R) or (2, 1) array
        Up in the card's plane.
    face : +1 where the face lies to the left of up as seen (a left ear), else -1
    """
    along = axis[0] * up[0] + axis[1] * up[1]
    aside = face * (axis[0] * up[1] - axis[1] * up[0])
    angle = np.rad2deg(np.arctan2(aside, along))
    return np.where(angle <= -180.0, 180.0, angle)


def elevation_deg(sight: Array, axis: Array, slopes: Array) -> Array:
    """Return how far the line of sight rises toward the entry above the plane's normal.

    Parameters
    ----------
    sight : (3, R) array
        From the channel's middle to the camera.
    axis : (3, R) array
        Unit vector from exit to entry.
    slopes : (2, R) array
        Of the rim's plane, whose normal toward the viewer goes along ``(sx, sy, -1)``.
    """
    rise = sight[0] * axis[0] + sight[1] * axis[1] + sight[2] * axis[2]
    steep = np.sqrt(slopes[0] ** 2 + slopes[1] ** 2 + 1.0)
    out = (sight[0] * slopes[0] + sight[1] * slopes[1] - sight[2]) / steep
    return np.asarray(np.rad2deg(np.arctan2(rise, out)))
