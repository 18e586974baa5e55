"""What tells a spot in a picture from a pen dot."""

from __future__ import annotations

import numpy as np
from scipy.ndimage import binary_opening, label, uniform_filter

from calibration.frames import Array
from tracing.light import Light
from tracing.spot_fit import SpotFit
from tracing.spot_solve import most_blur_px

INK = np.array([0.35, 0.45, 0.20], dtype=np.float32)
"""Weights of red, green and blue in what an ink takes away."""
LEAST_DARK, MOST_DARK = (0.40, 0.45), 2.6
"""The second on flattened skin, of which so much must be smooth, and as much of the spot even."""
FLAT_LEAST_CALM, FLAT_LEAST_WITHIN = 0.65, 0.5
LEAST_EXPLAINED, LEAST_EXPLAINED_LONG = 0.66, 0.85
LEAST_SNR = 4.0
LEAST_MM, MOST_MM, MOST_LONG_MM = (0.4, 0.2, 0.15), 1.55, 1.5
"""Length and width; the third is the width on flattened skin."""
FLAT_STRETCH, FLAT_EXPLAINED, FLAT_CALM = 5.5, 0.86, 0.85
"""How long a dot may look on flattened skin, if it explains so much on skin so smooth."""
GRAY, GRAY_SNR, GRAY_LONG = 0.15, 20.0, 3.0
"""What takes about as much of each colour may be a gap between hairs: it must be clearer."""
WILD, DULL = (0.5, 0.9), 0.5
"""Skin less smooth beside a spot less well explained may be hair; inks have more hue than that."""
FADED = 0.5, 1.15, 0.965, 0.95
"""What is grayer than that, paler, and explained and smooth beside it by less is a hairs' gap."""
LEAST_AROUND = 0.6
"""Share of the skin just round a dot that must look like skin."""
MOST_BLUR_PX = 1.6
"""A softer border is a dot's only in a very large picture."""
WAIST, END, NECK = 1.25, 0.3, 0.75
JOINED, ROUND = 1.6, (0.83, 0.9)
"""Half lengths within which another peak of the same stroke makes a spot two; how round (short over
long) and how well explained it is one all the same."""
AROUND_MM, ON_INK = (1.1, 1.5), (0.35, 0.3, 0.62)
"""Surroundings; by which share of the spot's darkness, at least how much, and in which share of
them they are brighter than its ground where that is ink."""
HUE_TELLS, DARKER, SHOWN = 0.4, 1.3, 0.97
"""What is so much darker than ink of a hue, and has less than this share of the hue for it, is hair
or an edge; if the spot explains so much, it has none of that in it."""
THIN_PX = 2.5
"""Half a spot's width from which a line of two pixels is no part of it."""


def fault(light: Light, fit: SpotFit, rivals: Array, mm_per_px: float) -> str | None:
    """Return what tells a spot from a pen dot, or None.

    Parameters
    ----------
    light : (H, W, 3) array
    fit : the spot
    rivals : (K, 2) array, px
        Other places that look like a spot.
    mm_per_px : float
    """
    return (
        _shape_fault(fit, mm_per_px)
        or _sprawl(light, fit, rivals)
        or ("two" if not fit.flat and _is_on_ink(light, fit, mm_per_px) else None)
    )


def _shape_fault(fit: SpotFit, mm_per_px: float) -> str | None:
    long_mm, short_mm = (2.0 * half * mm_per_px for half in fit.half_axes)
    red, green, blue = -fit.change[0]
    dark = float(-fit.change[0] @ INK)
    gray = grayness(fit)
    long_one = long_mm > 1.7 * short_mm
    least = LEAST_EXPLAINED_LONG if long_one else LEAST_EXPLAINED
    faults = {
        "faint": dark < max(LEAST_DARK[fit.flat], LEAST_SNR * fit.noise)
        or fit.explained < least
        or fit.around < LEAST_AROUND,
        "small": dark > MOST_DARK or long_mm < LEAST_MM[0] or short_mm < LEAST_MM[1 + fit.flat],
        "long": long_mm > (MOST_LONG_MM if long_one else MOST_MM)
        or long_mm > _most_stretch(fit) * short_mm,
        "soft": fit.blur_px > max(MOST_BLUR_PX, 0.95 * most_blur_px(mm_per_px)),
        "hair": is_unclear_gray(fit)
        or _is_faded_gray(fit)
        or _is_amid_hair(fit)
        or (fit.flat and fit.within < FLAT_LEAST_WITHIN)
        or (gray > 0.5 and not fit.flat and long_mm > GRAY_LONG * short_mm),
        "brown": dark < 0.8 and blue > 1.25 * green and green > 1.1 * red,
    }
    return next((name for name, holds in faults.items() if holds), None)


def grayness(fit: SpotFit) -> float:
    """Return whether a spot takes as much of each colour, 0 to 1."""
    return float(np.clip(2.0 - _hue(fit) / GRAY, 0.0, 1.0))


def _hue(fit: SpotFit) -> float:
    return float(np.ptp(fit.change[0]) / max(-fit.change[0].mean(), 0.1))


def has_hue(fit: SpotFit) -> bool:
    """Return whether a spot takes colours as ink does: not evenly, and blue not the most."""
    return _hue(fit) > DULL and float(fit.change[0, 2]) > float(fit.change[0, :2].min())


def _is_amid_hair(fit: SpotFit) -> bool:
    """Return whether a spot of little hue lies among what isn't smooth skin."""
    wild = fit.calm < WILD[0] and fit.explained < WILD[1]
    return _hue(fit) < DULL and (wild or (fit.flat and fit.calm < FLAT_LEAST_CALM))


def _is_faded_gray(fit: SpotFit) -> bool:
    gray, dark, explained, calm = FADED
    pale = float(-fit.change[0] @ INK) < dark
    return grayness(fit) > gray and pale and fit.explained < explained and fit.calm < calm


def is_unclear_gray(fit: SpotFit) -> bool:
    """Return whether a spot is no clearer than the gaps between hairs are."""
    return float(-fit.change[0] @ INK) < grayness(fit) * GRAY_SNR * fit.rough


def _most_stretch(fit: SpotFit) -> float:
    """Return how long a dot may look: skin that turns away soon ends, or shows one spot clearly."""
    if fit.flat and fit.explained > FLAT_EXPLAINED and fit.calm > FLAT_CALM:
        return FLAT_STRETCH
    if fit.ends:
        return 5.0
    return 2.5 if fit.explained > 0.98 else 1.9


def _sprawl(light: Light, fit: SpotFit, rivals: Array) -> str | None:
    """Return what is wrong with what is as dark as the spot and joined to it, or None.

    A smear runs on beyond its spot, two dots leave a bright waist in the middle of theirs.
    """
    share = _inked(light, fit, rivals)
    long, short = fit.half_axes
    inked = share > 0.5
    if short > THIN_PX:
        inked = binary_opening(inked, np.ones((3, 3)))
    joined, _ = label(inked)
    height, width = share.shape
    row, column = (round(float(v)) for v in fit.centre[::-1])
    row, column = np.clip(row, 1, height - 2), np.clip(column, 1, width - 2)
    own = int(joined[row - 1 : row + 2, column - 1 : column + 2].max())
    if own == 0 or _waisted(light, fit) or _is_joined(share, fit, rivals):
        return "two"
    rows, columns = np.nonzero(joined == own)
    far = float(np.hypot(columns - fit.centre[0], rows - fit.centre[1]).max())
    return "long" if far > 1.35 * long + fit.blur_px + 1.0 else None


def _is_on_ink(light: Light, fit: SpotFit, mm_per_px: float) -> bool:
    """Return whether a spot's ground is itself dark in its surroundings: where two dots overlap.

    Beside a rim's edge the surroundings may be brighter on one side, never all round.
    """
    height, width = light.shape[:2]
    y, x = np.mgrid[:height, :width]
    away = np.hypot(x - fit.centre[0], y - fit.centre[1]) * mm_per_px
    ring = (away > AROUND_MM[0]) & (away < AROUND_MM[1])
    if not ring.any():
        return False
    ground = float((fit.ground[0] + (fit.centre - fit.start) @ fit.ground[1:]) @ INK)
    dark = max(ON_INK[0] * float(-fit.change[0] @ INK), ON_INK[1])
    return float((light[ring] @ INK > ground + dark).mean()) > ON_INK[2]


def _is_joined(share: Array, fit: SpotFit, rivals: Array) -> bool:
    """Return whether another peak lies close by in the same stroke.

    Peaks within a round spot are uneven skin or ink: two dots in one are long.
    """
    long, short = fit.half_axes
    least = 0.9 * short if short > ROUND[0] * long and fit.explained > ROUND[1] else 0.0
    close = [r for r in rivals if least <= np.hypot(*(r - fit.centre)) < JOINED * long]
    return any(neck >= NECK * own for own, neck in (_widths(share, fit, r) for r in close))


def _inked(light: Light, fit: SpotFit, rivals: Array) -> Array:
    """Return how inked the places near a spot look, about 0 to 1, (H, W); 0 farther away.

    What lies nearer to a rival counts only where the two don't look like one stroke.
    """
    height, width = light.shape[:2]
    y, x = np.mgrid[:height, :width]
    dx, dy = x - fit.start[0], y - fit.start[1]
    away = np.hypot(x - fit.centre[0], y - fit.centre[1])
    near = away <= 1.7 * fit.half_axes[0] + 2.5
    places = np.column_stack([np.ones(near.sum()), dx[near], dy[near]])
    darker = light[near] @ INK - places @ (fit.ground @ INK)
    share = np.zeros((height, width))
    share[near] = darker / float(fit.change[0] @ INK)
    if has_hue(fit) and fit.explained > SHOWN:
        hue = fit.change[0] - fit.change[0].mean()
        hued = light[near] @ hue - places @ (fit.ground @ hue)
        other = hued < HUE_TELLS * share[near] * float(fit.change[0] @ hue)
        share[near] *= ~(other & (share[near] > DARKER))
    for rival in rivals:
        own, neck = _widths(share, fit, rival)
        if neck < NECK * own:
            share[away > np.hypot(x - rival[0], y - rival[1])] = 0.0
    return share


def _widths(share: Array, fit: SpotFit, rival: Array) -> Array:
    """Return how wide the ink is at the spot's centre and halfway to a rival, (2,) px."""
    height, width = share.shape
    way = rival - fit.centre
    across = np.array([-way[1], way[0]]) / max(float(np.hypot(*way)), 1e-9)
    reach = 1.3 * fit.half_axes[0] + 1.0
    steps = np.arange(-reach, reach + 0.25, 0.5)[:, None] * across
    places = fit.centre + np.array([[0.0], [0.5]])[..., None] * way + steps
    x, y = np.rint(places[..., 0]).astype(int), np.rint(places[..., 1]).astype(int)
    inside = (x >= 0) & (y >= 0) & (x < width) & (y < height)
    seen = share[np.clip(y, 0, height - 1), np.clip(x, 0, width - 1)] * inside
    return np.asarray(0.5 * np.clip(seen, 0.0, 1.0).sum(axis=1))


def _waisted(light: Light, fit: SpotFit) -> bool:
    """Return whether the middle is clearly brighter than what is darkest on either side of it.

    One dark side alone is a hair or an edge's shadow on a dot.
    """
    height, width = light.shape[:2]
    low = np.maximum(np.floor(fit.centre - fit.half_axes[0] - 1.0), 0).astype(int)
    high = np.minimum(np.ceil(fit.centre + fit.half_axes[0] + 2.0), [width, height]).astype(int)
    y, x = np.mgrid[low[1] : high[1], low[0] : high[0]]
    places = np.stack([np.ones_like(x), x - fit.start[0], y - fit.start[1]], axis=-1)
    darker = light[low[1] : high[1], low[0] : high[0]] @ INK - places @ (fit.ground @ INK)
    expected = places @ (fit.change @ INK)
    share = uniform_filter(darker / np.minimum(expected, -0.1), 3)
    c, s = np.cos(fit.turn_rad), np.sin(fit.turn_rad)
    dx, dy = x - fit.centre[0], y - fit.centre[1]
    along = (c * dx + s * dy) / fit.half_axes[0]
    inside = np.hypot(along, (-s * dx + c * dy) / fit.half_axes[1]) < 1.0
    middle = np.hypot(dx, dy) <= max(0.75, 0.25 * fit.half_axes[1])
    ends = [share[inside & end].max(initial=0.0) for end in (along > END, along < -END)]
    return bool(min(ends) > WAIST * share[middle].mean())
