"""Band width along the rim in the rim's plane, with its u and the usable stretch."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from scipy.stats import norm

from assess.criteria import Criteria
from assess.marks import PhotoMarks, RimPlane
from assess.rim import arc_length, inscribed_widths, resample, smooth
from calibration.draws import Draws
from calibration.frames import Array
from calibration.pose import PlaneFit

STEP_MM = 0.5
REPEATS = 200


@dataclass(frozen=True, slots=True)
class Band:
    """Arc position along the outer contour, width, its u (all mm), and usable stretches."""

    arc_mm: Array
    width_mm: Array
    u_width_mm: Array
    usable: tuple[tuple[float, float], ...]


def measure_band(
    fit: PlaneFit,
    contours: tuple[Array, Array],
    sigma_px: float,
    plane: RimPlane,
    u_scale: float,
    criteria: Criteria,
    u_band_mm: float,
    draws: Draws,
) -> Band | None:
    """Return the band between two contours marked in one photo, or None if it has no width.

    Parameters
    ----------
    fit : the photo's camera and pose
    contours : outer and inner contour, (N, 2) and (M, 2) px, from front to back
    sigma_px : u of a mark, px
    plane : where the rim's plane is
    u_scale : relative u of the card's scale
    criteria : the limit on the channel that a width must keep to be usable, and how surely
    u_band_mm : what the band's width leaves open about the channel, mm
    draws : Draws
    """
    height = plane.offset_mm
    mm = [fit.on_plane(line, height) for line in contours]
    px_mm = _mm_per_px(fit, contours[0], height)
    arc, width = _widths(mm, px_mm * sigma_px)
    if not np.isfinite(width).any():
        return None
    spread = _mark_spread(mm, px_mm * sigma_px, arc, draws)
    distance = float(-fit.centre_mm[2]) - height
    relative = np.hypot(u_scale, plane.u_offset_mm / distance)
    tilt = 0.5 * np.deg2rad(plane.u_tilt_deg) ** 2  # foreshortening by cos of the tilt
    u = np.sqrt(spread**2 + (width * relative) ** 2 + (width * tilt) ** 2)
    keep = np.isfinite(width) & np.isfinite(u)
    arc, width, u = arc[keep], width[keep], u[keep]
    total = np.hypot(u, u_band_mm)
    return Band(arc, width, u, _stretches(arc, _holds(width, total, criteria)))


def _holds(width: Array, u: Array, criteria: Criteria) -> Array:
    """Return where the width keeps the channel's limit by the studio's rule (booleans)."""
    limit, rule = criteria.limits["channel"], criteria.rule
    low = -np.inf if limit.low is None else limit.low
    high = np.inf if limit.high is None else limit.high
    probability = norm.cdf((high - width) / u) - norm.cdf((low - width) / u)
    inside: Array = limit.contains_by(width, rule.guard(u)) & (probability >= rule.supports_from)
    return inside


def _mm_per_px(fit: PlaneFit, line: Array, height: float) -> float:
    middle = line.mean(axis=0)
    square = fit.on_plane(middle + np.array([[0.0, 0.0], [1.0, 0.0], [0.0, 1.0]]), height)
    (a, b), (c, d) = square[1] - square[0], square[2] - square[0]
    return float(np.sqrt(abs(a * d - b * c)))


def _widths(mm: list[Array], sigma_mm: float) -> tuple[Array, Array]:
    outer, inner = (smooth(resample(line, STEP_MM), STEP_MM, sigma_mm) for line in mm)
    return arc_length(outer), inscribed_widths(outer, inner)


def _mark_spread(mm: list[Array], sigma_mm: float, arc: Array, draws: Draws) -> Array:
    """Return the standard deviation of the width over repeated marking, at each arc place."""
    few = Draws(draws.seed, REPEATS)
    sizes = [line.size for line in mm]
    jitter = sigma_mm * few.normal("contours", sum(sizes))
    widths = np.full((REPEATS, len(arc)), np.nan)
    for r in range(REPEATS):
        moved = [
            line + part.reshape(-1, 2)
            for line, part in zip(mm, np.split(jitter[r], sizes[:1]), strict=True)
        ]
        at, width = _widths(moved, sigma_mm)
        finite = np.isfinite(width)
        if finite.any():
            widths[r] = np.interp(
                arc / arc[-1], at[finite] / at[-1], width[finite], left=np.nan, right=np.nan
            )
    enough = np.isfinite(widths).sum(axis=0) >= REPEATS // 2
    spread = np.full(len(arc), np.nan)
    spread[enough] = np.nanstd(widths[:, enough], axis=0, ddof=1)
    return spread


def _stretches(arc: Array, good: Array) -> tuple[tuple[float, float], ...]:
    edges = np.flatnonzero(np.diff(np.concatenate([[0], good.astype(int), [0]])))
    return tuple(
        (float(arc[a]), float(arc[b - 1]))
        for a, b in zip(edges[::2], edges[1::2], strict=True)
        if b - a > 1
    )


def contours_of(photo: PhotoMarks) -> tuple[Array, Array] | None:
    """Return a photo's outer and inner contour, (N, 2) and (M, 2) px as stored, or None."""
    if photo.outer_rim is None or photo.inner_rim is None:
        return None
    return np.asarray(photo.outer_rim, float), np.asarray(photo.inner_rim, float)
