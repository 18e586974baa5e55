"""A pen dot near a tap -> its centre to a fraction of a pixel, or why there is none.

Dark, round, small and sharp-edged places are looked for; each is fitted as an elliptic spot,
and counts as a pen dot only if its size, roundness, darkness, colour and border are a pen's.
Ghosts of wiped dots are too faint, freckles too faint and brown, smears too long, shadows too
soft, hair no spot at all.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy.ndimage import gaussian_filter, label, maximum_filter, uniform_filter

from calibration.frames import Array, Image
from tracing.light import Light, log_light
from tracing.spot_fit import SpotFit, fit_spot

REACH_MM = 3.0
"""How far from the tap a dot is looked for."""
MARGIN_MM = 1.8
SCALES_MM = (0.2, 0.28, 0.38, 0.52)
"""Of the filters: a dot of diameter d answers most at d / (2 sqrt 2)."""
INK = np.array([0.35, 0.45, 0.20], dtype=np.float32)
"""Weights of red, green and blue in what an ink takes away."""
LEAST_BLOB = 0.05
LEAST_DARK = 0.40
LEAST_EXPLAINED, LEAST_EXPLAINED_LONG = 0.66, 0.85
LEAST_SNR = 4.0
LEAST_MM, MOST_MM, MOST_LONG_MM = (0.4, 0.2), 1.7, 1.5
MOST_BORDER_MM = 0.3
WAIST = 1.25
LEAST_STEP, ALIKE = 0.12, 0.96
FAR_MM, SKIN_AGAIN = (1.6, 2.6), 0.2
MOST_TRIED = 6
TAP_MM = 1.2
"""Places further from the tap than this are tried later."""
MOST_DARK = 2.6


FINE_MM = 0.07
"""Pixels smaller than this are put together: a dot has enough of them."""
U_FIT, U_LEAST_PX, U_MIDDLE_MM, U_SLOPE_MM = 2.0, 0.05, 0.008, 0.012
"""Standard uncertainty of the centre: times the fit's own, at least, and by how far a dot's
middle is from its picture's on rounded or unevenly lit skin; fitted to rendered dots."""
WHY = {
    "none": "No pen dot within 3 mm: nothing small, round and dark is there.",
    "faint": "No pen dot within 3 mm: what is there is too faint, like skin or a wiped dot.",
    "small": "No pen dot within 3 mm: what is there is too small.",
    "long": "No pen dot within 3 mm: what is there runs on, like a smear, hair or a shadow.",
    "two": "No pen dot within 3 mm: what is there looks like two run together, or like hairs.",
    "soft": "No pen dot within 3 mm: what is there has no border, like a shadow.",
    "brown": "No pen dot within 3 mm: what is there is brown and faint, like a freckle.",
}


@dataclass(frozen=True, slots=True, eq=False)
class Dot:
    """A pen dot: its centre, (2,) px, standard uncertainty on each axis, diameter."""

    point_px: Array
    u_px: float
    diameter_mm: float


@dataclass(frozen=True, slots=True)
class NoDot:
    """Why no dot was taken."""

    code: str
    sentence: str


def snap(picture: Image, near_px: tuple[float, float] | Array, mm_per_px: float) -> Dot | NoDot:
    """Return the pen dot nearest a tap.

    Parameters
    ----------
    picture : (H, W, 3) array, RGB
    near_px : (2,) array, px
    mm_per_px : float
        At the skin.
    """
    near = np.asarray(near_px, dtype=np.float64)
    height, width = picture.shape[:2]
    if not (-0.5 <= near[0] <= width - 0.5 and -0.5 <= near[1] <= height - 0.5):
        return NoDot("outside", "The point lies outside the photo.")
    room = (REACH_MM + MARGIN_MM) / mm_per_px + 3
    low = np.maximum(np.floor(near - room), 0).astype(int)
    high = np.ceil(near + room).astype(int) + 1
    light, shrunk = _coarser(log_light(picture[low[1] : high[1], low[0] : high[0]]), mm_per_px)
    local, scale = (near - low + 0.5) / shrunk - 0.5, mm_per_px * shrunk
    found = _candidates(light, local, scale)
    reasons = []
    for i, (centre, scale_px, _) in enumerate(found):
        fit, fault = _fitted(light, centre, scale_px, _rivals(found, i), scale)
        if fit is not None and np.hypot(*(fit.centre - local)) * scale <= REACH_MM:
            return _dot(fit, low, shrunk, scale)
        if fault is not None:
            reasons.append(fault)
    return NoDot("none", _why(reasons))


def _coarser(light: Light, mm_per_px: float) -> tuple[Light, int]:
    """Return the picture with fewer pixels where a dot has very many, and the factor."""
    factor = max(1, round(FINE_MM / mm_per_px))
    if factor == 1:
        return light, 1
    height, width = (side // factor * factor for side in light.shape[:2])
    parts = light[:height, :width].reshape(height // factor, factor, width // factor, factor, 3)
    return np.asarray(parts.mean(axis=(1, 3)), dtype=np.float32), factor


def _dot(fit: SpotFit, low: Array, shrunk: int, mm_per_px: float) -> Dot:
    """Return the dot in the photo's own pixels."""
    long, short = fit.half_axes
    slope = float(np.sqrt((long / short) ** 2 - 1.0))
    model_px = np.hypot(U_MIDDLE_MM, U_SLOPE_MM * slope) / mm_per_px
    u_px = float(np.sqrt((U_FIT * fit.u_px) ** 2 + model_px**2)) * shrunk
    diameter = 2.0 * float(np.sqrt(long * short)) * mm_per_px
    return Dot((fit.centre + 0.5) * shrunk - 0.5 + low, float(np.hypot(u_px, U_LEAST_PX)), diameter)


def _why(reasons: list[str]) -> str:
    """Return why none of the places that were tried is a pen dot."""
    for code in ("two", "long", "soft", "brown", "faint", "small"):
        if code in reasons:
            return WHY[code]
    return WHY["none"]


def _rivals(found: list[tuple[Array, float, float]], i: int) -> Array:
    """Return the places as spot-like as candidate ``i`` that lie outside it, (K, 2) px."""
    centre, scale_px, strength = found[i]
    apart = [
        other
        for other, _, rival in found
        if rival > 0.5 * strength and np.hypot(*(other - centre)) > 2.0 * scale_px
    ]
    return np.array(apart, dtype=np.float64).reshape(-1, 2)


def _fitted(
    light: Light, centre: Array, scale_px: float, others: Array, mm_per_px: float
) -> tuple[SpotFit | None, str | None]:
    """Return the spot at a place, without a border beside it or with one, and its fault."""
    radius, fault = float(np.sqrt(2.0) * scale_px), None
    for cut in (False, True):
        fit = fit_spot(light, centre, radius, 3.2 * scale_px + 3.0, others, mm_per_px, cut=cut)
        if fit is None:
            continue
        now = _fault(fit, mm_per_px) or _sprawl(light, fit, mm_per_px)
        if now is None:
            return fit, None
        fault = fault or now
    return None, fault


def _candidates(light: Light, near: Array, mm_per_px: float) -> list[tuple[Array, float, float]]:
    """Return places that look like small dark spots, the nearest first, with scale and strength."""
    dark = -(light @ INK)
    best = np.zeros(dark.shape, dtype=np.float32)
    at_scale = np.zeros(dark.shape, dtype=np.float32)
    for scale_mm in SCALES_MM:
        sigma = max(scale_mm / mm_per_px, 0.9)
        bend = _bend(dark, sigma)
        better = bend > best
        best[better], at_scale[better] = bend[better], sigma
    peaks = (best == maximum_filter(best, size=3)) & (best > LEAST_BLOB)
    y, x = np.nonzero(peaks)
    away = np.hypot(x - near[0], y - near[1]) * mm_per_px
    likely = np.minimum(best[y, x], 0.5) * np.exp(-0.5 * (away / TAP_MM) ** 2)
    order = [i for i in np.argsort(-likely) if away[i] <= REACH_MM + 0.3][:MOST_TRIED]
    order.sort(key=lambda i: away[i])
    return [
        (
            np.array([x[i], y[i]], dtype=np.float64),
            float(at_scale[y[i], x[i]]),
            float(best[y[i], x[i]]),
        )
        for i in order
    ]


def _bend(dark: Light, sigma: float) -> Light:
    """Return the smaller of a hill's two bends, times sigma squared; 0 where it is no hill."""
    xx = gaussian_filter(dark, sigma, order=(0, 2))
    yy = gaussian_filter(dark, sigma, order=(2, 0))
    xy = gaussian_filter(dark, sigma, order=(1, 1))
    mean, gap = (xx + yy) / 2, np.sqrt(((xx - yy) / 2) ** 2 + xy**2)
    return np.asarray(np.maximum(-(mean + gap), 0.0) * sigma**2)


def _fault(fit: SpotFit, mm_per_px: float) -> str | None:
    """Return what tells a spot from a pen dot, or None."""
    long_mm, short_mm = (2.0 * half * mm_per_px for half in fit.half_axes)
    red, green, blue = -fit.change
    dark = float(-fit.change @ INK)
    long_one = long_mm > 1.7 * short_mm
    least = LEAST_EXPLAINED_LONG if long_one else LEAST_EXPLAINED
    faults = {
        "faint": dark < max(LEAST_DARK, LEAST_SNR * fit.noise) or fit.explained < least,
        "small": dark > MOST_DARK or long_mm < LEAST_MM[0] or short_mm < LEAST_MM[1],
        "long": long_mm > (MOST_LONG_MM if long_one else MOST_MM)
        or long_mm > _most_stretch(fit) * short_mm,
        "soft": fit.blur_px > 1.6 and fit.blur_px * mm_per_px > MOST_BORDER_MM,
        "brown": dark < 0.8 and blue > 1.25 * green and green > 1.1 * red,
    }
    return next((name for name, holds in faults.items() if holds), None)


def _most_stretch(fit: SpotFit) -> float:
    """Return how long a dot may look: skin that turns away soon ends, or shows one spot clearly."""
    if fit.ends:
        return 5.0
    return 2.5 if fit.explained > 0.98 else 1.9


def _sprawl(light: Light, fit: SpotFit, mm_per_px: float) -> str | None:
    """Return what is wrong with what is as dark as the spot and joined to it, or None.

    A smear runs on beyond its spot, two dots leave a bright waist in the middle of theirs.
    """
    height, width = light.shape[:2]
    y, x = np.mgrid[:height, :width]
    dx, dy = x - fit.start[0], y - fit.start[1]
    reach = 1.7 * fit.half_axes[0] + 2.5
    near = np.hypot(x - fit.centre[0], y - fit.centre[1]) <= reach
    ground = (fit.ground[0] + dx[near, None] * fit.ground[1] + dy[near, None] * fit.ground[2]) @ INK
    share = np.zeros((height, width))
    share[near] = (light[near] @ INK - ground) / float(fit.change @ INK)
    if fit.beyond is not None:
        normal, away, other = fit.beyond[:2], fit.beyond[2], fit.beyond[3:]
        share[dx * normal[0] + dy * normal[1] > away - 0.3 * fit.blur_px] = 0.0
        if not _other_ground(light, fit, other - fit.ground[0], mm_per_px):
            return "two"
    joined, _ = label(share > 0.5)
    row, column = (round(float(v)) for v in fit.centre[::-1])
    row, column = np.clip(row, 1, height - 2), np.clip(column, 1, width - 2)
    own = int(joined[row - 1 : row + 2, column - 1 : column + 2].max())
    if joined[row, column] == 0 and (own == 0 or fit.beyond is None):
        return "two"
    if fit.beyond is None and _waisted(share, joined == own, row, column):
        return "two"
    rows, columns = np.nonzero(joined == own)
    far = float(np.hypot(columns - fit.centre[0], rows - fit.centre[1]).max())
    return "long" if far > 1.35 * fit.half_axes[0] + fit.blur_px + 1.0 else None


def _waisted(share: Array, own: NDArray[np.bool_], row: int, column: int) -> bool:
    """Return whether the middle is clearly brighter than the spot's darkest part."""
    even = uniform_filter(share, 3)
    return bool(float(even[own].max()) > WAIST * float(even[row, column]))


def _other_ground(light: Light, fit: SpotFit, step: Array, mm_per_px: float) -> bool:
    """Return whether what lies beyond a border is neither skin nor another dot's ink."""
    size, whole = float(np.linalg.norm(step)), float(np.linalg.norm(fit.change))
    if size < LEAST_STEP * np.sqrt(3.0):
        return False
    like_ink = float(step @ fit.change) > ALIKE * size * whole and size > 0.2 * whole
    return not like_ink or _goes_on(light, fit, mm_per_px)


def _goes_on(light: Light, fit: SpotFit, mm_per_px: float) -> bool:
    """Return whether beyond a border there is no skin again after the width of a dot."""
    if fit.beyond is None:
        return False
    ways = np.arange(fit.beyond[2] + FAR_MM[0] / mm_per_px, fit.beyond[2] + FAR_MM[1] / mm_per_px)
    places = fit.start + ways[:, None] * fit.beyond[:2]
    height, width = light.shape[:2]
    x, y = np.rint(places).astype(int).T
    inside = (x >= 0) & (y >= 0) & (x < width) & (y < height)
    if inside.sum() < 2:
        return False
    away = light[y[inside], x[inside]] - fit.ground[0]
    return float(np.sqrt((away**2).mean())) > SKIN_AGAIN
