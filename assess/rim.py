"""Width of the rim band along the rim: the largest inscribed circle at each place.

The band lies between the outer contour and the inner one, both from front to back in the
rim's plane.  At an arc position of the outer contour the width is the diameter of the circle
that touches it there from inside and just touches the band's other side.
"""

from __future__ import annotations

import numpy as np
from scipy.interpolate import make_interp_spline

from calibration.frames import Array

OWN_GAP_MM = 3.0
"""Nearer than this along the outer contour its own jitter, not its shape, bounds the circle."""


def arc_length(line: Array) -> Array:
    """Return the arc position (mm) of each point of a polyline, (N, 2) in mm."""
    steps = np.hypot(*np.diff(line, axis=0).T)
    return np.concatenate([[0.0], np.cumsum(steps)])


def resample(line: Array, step_mm: float) -> Array:
    """Return a polyline's smooth curve at even arc steps, (M, 2) in mm.

    A cubic spline through the points by chord length; between few points it follows the
    curve that the points lie on where straight chords would cut it short by their sagitta.
    """
    keep = np.append(True, np.any(np.diff(line, axis=0) != 0, axis=1))
    line = line[keep]
    arc = arc_length(line)
    count = max(4, round(arc[-1] / step_mm) + 1)
    spline = make_interp_spline(arc, line, k=min(3, len(line) - 1))
    dense = np.asarray(spline(np.linspace(0.0, arc[-1], 4 * count)))
    along = arc_length(dense)
    even = np.linspace(0.0, along[-1], count)
    return np.column_stack([np.interp(even, along, dense[:, i]) for i in (0, 1)])


def smooth(line: Array, step_mm: float, sigma_mm: float) -> Array:
    """Return ``line`` with the piercer's jitter averaged over neighbours, (N, 2) in mm.

    Marks closer than they are exact carry a zigzag that no rim has; a running mean over a
    stretch of about six standard uncertainties of a mark, at most 2 mm, removes it.
    """
    reach = min(2.0, 6.0 * sigma_mm)
    half = int(reach / (2.0 * step_mm))
    if half < 1 or len(line) < 2 * half + 3:
        return line
    start = 2 * line[0] - line[half:0:-1]
    end = 2 * line[-1] - line[-2 : -half - 2 : -1]
    padded = np.concatenate([start, line, end])
    kernel = np.ones(2 * half + 1) / (2 * half + 1)
    return np.column_stack([np.convolve(padded[:, i], kernel, mode="valid") for i in (0, 1)])


def inscribed_widths(outer: Array, inner: Array) -> Array:
    """Return the inscribed circle's diameter at each point of the outer contour.

    Parameters
    ----------
    outer, inner : (N, 2), (M, 2) arrays, mm
        Densely sampled, from front to back, not crossing.

    Returns
    -------
    (N,) array, mm; NaN where the band has no other side (past the inner contour's ends).
    """
    tangent = np.gradient(outer, axis=0)
    normal = np.column_stack([-tangent[:, 1], tangent[:, 0]])
    normal /= np.hypot(*normal.T)[:, None]
    middle = len(outer) // 2
    nearest = inner[np.argmin(np.hypot(*(inner - outer[middle]).T))]
    if float((nearest - outer[middle]) @ normal[middle]) < 0:
        normal = -normal
    diameter, at = _touching(_reach(outer, inner), normal)
    own_reach = _reach(outer, outer)
    arc = arc_length(outer)
    own_reach[np.abs(arc[:, None] - arc[None, :]) < OWN_GAP_MM] = np.nan
    own, _ = _touching(own_reach, normal)
    diameter = np.minimum(diameter, own)
    open_end = (at == 0) | (at == len(inner) - 1)
    return np.where(open_end | ~np.isfinite(diameter), np.nan, diameter)


def _reach(outer: Array, other: Array) -> Array:
    return np.asarray(other[None, :, :] - outer[:, None, :])


def _touching(reach: Array, normal: Array) -> tuple[Array, Array]:
    """Return each tangent circle's least diameter to the other line, and where it touches."""
    along = np.einsum("nmk,nk->nm", reach, normal)
    square = np.einsum("nmk,nmk->nm", reach, reach)
    with np.errstate(divide="ignore", invalid="ignore"):
        diameter = np.where(along > 1e-3 * np.sqrt(square), square / along, np.inf)
    at = np.argmin(diameter, axis=1)
    return diameter[np.arange(len(reach)), at], at
