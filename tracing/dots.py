"""A pen dot near a tap -> its centre to a fraction of a pixel, or why there is none.

Dark, round, small and sharp-edged places are looked for; each is fitted as an elliptic spot,
and counts as a pen dot only if its size, roundness, darkness, colour and border are a pen's.
Ghosts of wiped dots are too faint, freckles too faint and brown, smears too long, shadows too
soft, hair no spot at all.  Where no spot is found, or a doubtful one, a dark sliver along a rim's
edge is looked for: a dot half round it.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from functools import partial

import numpy as np

from calibration.frames import Array, Image
from tracing.dot_places import REACH_MM, candidates
from tracing.dot_rivals import Nearby, is_ink, is_other_ink, is_past_a_sliver, is_same_ink
from tracing.light import Light, log_light
from tracing.rim_fit import RimFit, fit_rim
from tracing.rim_judge import is_ink_at_an_edge, rim_fault
from tracing.rim_places import rim_places
from tracing.spot_fit import SpotFit
from tracing.spot_judge import has_hue

MARGIN_MM = 1.8
MOST_SLIVERS, CLEAR_SLIVER = 6, 0.985
"""So many places are tried for a sliver, none after one that explains so much."""
FARTHEST_MM = 1.5
"""Hardly a tap lies farther from the dot that it means."""
SURE, FLAT, FARTHER_MM = (0.9, 0.8, 0.75), (0.5, 0.45), 0.3
"""A spot explained, inside and all round less well than this, or flatter (the second: however well
explained), may be a sliver beside something; the sliver lies about as near to the tap."""
SMOOTH = 0.9
"""A spot explained that well, beside which so much of the skin is smooth, is clear."""
LEFT = 1.0, 0.45
"""What a sliver leaves unexplained, as a share of what a spot leaves that it stands for: less than
this, the second where the spot is clear."""
TOLD = {"either", "touch"}
"""Reasons why of clear dots none is taken: no sliver is meant then."""
SURE_SLIVER = 0.97, 0.955
"""A sliver that explains so much counts though the edge's shadow beside it looks like a stroke; the
second with an ink's hue before a clear edge."""
FAR_BETTER = 0.35
"""So does one that leaves less than so much of what the stroke leaves unexplained."""
DARKEST = 0.1
"""Less light than this is taken for so much, where only its colour is asked for."""
FINE_MM = 0.07
"""Pixels smaller than this are put together: a dot has enough of them."""
U_FIT, U_LEAST_PX, U_MIDDLE, U_SLOPE_MM, U_CALM_MM = 2.0, 0.025, 0.01, 0.006, 0.04
"""Standard uncertainty of the centre: times the fit's own (what it leaves is alike from pixel to
pixel), at least, a share of the radius, by the skin's slope, and by the share of the skin beside
the dot that is not smooth (hairs, folds, an edge); fitted to rendered dots."""
U_RIM_FIT, U_RIM_LEAST_PX, U_RIM_MM = 1.4, 0.05, 0.011
"""The same of a dot half round an edge, whose edge and slope are known less well."""
U_RIM_LEFT_PX, U_RIM_SKIN_PX, U_BEYOND_MM, HUE, PALE = 1.3, 0.2, 0.13, 1.45, 0.7
"""Of such a dot, by the root of the share of the picture that it leaves unexplained; and if what
lies beyond has the skin's hue (ratios of its colours below the fourth) and is as bright: then the
edge itself hardly shows; where it is brighter, by how much: then the dot may end there, or be
hidden, instead of turning away."""
WHY = {
    "far": "No pen dot taken: what looks like one is farther off than something as dark.",
    "either": "Two pen dots are about as near: a tap closer to one of them tells which.",
    "touch": "No pen dot taken: two touch here, or a hair lies across one.",
    "none": "No pen dot within 3 mm: nothing small, round and dark is there.",
    "faint": "No pen dot within 3 mm: what is there is too faint, like skin or a wiped dot.",
    "small": "No pen dot within 3 mm: what is there is too small.",
    "long": "No pen dot within 3 mm: what is there runs on, like a smear, hair or a shadow.",
    "two": "No pen dot within 3 mm: what is there looks like two run together, or like hairs.",
    "soft": "No pen dot within 3 mm: what is there has no border, like a shadow.",
    "hair": "No pen dot within 3 mm: what is there looks like a gap between hairs.",
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


def snap(
    picture: Image,
    near_px: tuple[float, float] | Array,
    mm_per_px: float,
    *,
    most_slivers: int = MOST_SLIVERS,
) -> Dot | NoDot:
    """Return the pen dot nearest a tap.

    Parameters
    ----------
    picture : (H, W, 3) array, RGB
    near_px : (2,) array, px
    mm_per_px : float
        At the skin.
    most_slivers : int
        How many places are tried for one.
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
    fit, reasons, ink = _whole(Nearby(light, local, scale, candidates(light, local, scale)))
    half = None
    if not TOLD & set(reasons) and (fit is None or _is_doubtful(fit)):
        half = _half(
            light, local, scale, partial(_least, ink), alone=fit is None, most=most_slivers
        )
    best = half or fit
    if best is None:
        return NoDot("none", _why(reasons))
    if half is None and fit is not None and is_past_a_sliver(light, local, fit, scale):
        half = _half(light, local, scale, _surely, alone=False, most=most_slivers)
        return NoDot("far", WHY["far"]) if half is None else _dot(half, low, shrunk, scale)
    if half is not None and fit is not None:
        ways = [float(np.hypot(*(each.centre - local))) * scale for each in (half, fit)]
        unlike = (1.0 - half.explained) / (1.0 - fit.explained)
        better = unlike < LEFT[_is_clear(fit)] and ways[0] < ways[1] + FARTHER_MM
        best = half if better else fit
    return _dot(best, low, shrunk, scale)


def _is_doubtful(fit: SpotFit) -> bool:
    """Return whether a spot's picture may rather be a sliver beside something else."""
    round_one = fit.half_axes[1] / fit.half_axes[0]
    if _is_clear(fit):
        return round_one < FLAT[1]
    unsure = fit.explained < SURE[0] or fit.within < SURE[1] or fit.around < SURE[2]
    return unsure or round_one < FLAT[0]


def _is_clear(fit: SpotFit) -> bool:
    return fit.explained > SURE[0] and fit.calm > SMOOTH


def _whole(by: Nearby) -> tuple[SpotFit | None, list[str], SpotFit | None]:
    """Return the nearest dot that is seen whole, or why there is none and the ink that is none."""
    reasons: list[str] = []
    refused: list[SpotFit] = []
    for i in range(len(by.found)):
        fit, why = by.fitted(i)
        if fit is None or by.away_mm(fit.centre) > REACH_MM:
            continue
        if why is None:
            if any(is_same_ink(fit, other) for other in refused):
                return None, [*reasons, "two"], fit
            if by.is_far_fetched(fit, i):
                return None, [*reasons, "far"], fit
            other = by.other(fit, i)
            return (None, [other], None) if other else (fit, [], None)
        reasons.append(why)
        refused.append(fit)
        if is_ink(fit, why, by.mm_per_px):
            dot = by.around(fit, i) or by.of_other_ink(fit, i)
            return (None, reasons, fit) if dot is None else (dot, [], None)
    return None, reasons, None


def _least(ink: SpotFit | None, fit: RimFit) -> float:
    """Return which share a sliver must explain at least beside ink that is no dot, or none."""
    takes = np.log(np.maximum(fit.ink, DARKEST))
    if ink is None or (is_other_ink(takes, ink) and not has_hue(ink)):
        return 0.0  # hair, likely
    return min(_surely(fit), 1.0 - FAR_BETTER * (1.0 - ink.explained))


def _surely(fit: RimFit) -> float:
    """Return which share a sliver must explain at least to be meant beside what is clear."""
    return SURE_SLIVER[is_ink_at_an_edge(fit)]


def _half(
    light: Light,
    near: Array,
    mm_per_px: float,
    least: Callable[[RimFit], float],
    *,
    alone: bool,
    most: int,
) -> RimFit | None:
    """Return the likeliest dot half round a rim's edge, or None.

    It explains at least the share ``least`` of the squares; ``alone`` says that nothing else near
    may be a dot.
    """
    best: RimFit | None = None
    for place in rim_places(light, near, mm_per_px, most):
        fit = fit_rim(light, place, mm_per_px)
        if fit is None or float(np.hypot(*(fit.centre - near))) * mm_per_px > FARTHEST_MM:
            continue
        if fit.explained < max(least(fit), best.explained if best else 0.0):
            continue
        if rim_fault(light, fit, mm_per_px, alone=alone) is None:
            best = fit
            if fit.explained > CLEAR_SLIVER:
                break
    return best


def _coarser(light: Light, mm_per_px: float) -> tuple[Light, int]:
    """Return the picture with fewer pixels where a dot has very many, and the factor."""
    factor = max(1, round(FINE_MM / mm_per_px))
    if factor == 1:
        return light, 1
    height, width = (side // factor * factor for side in light.shape[:2])
    parts = light[:height, :width].reshape(height // factor, factor, width // factor, factor, 3)
    return np.asarray(parts.mean(axis=(1, 3)), dtype=np.float32), factor


def _dot(fit: SpotFit | RimFit, low: Array, shrunk: int, mm_per_px: float) -> Dot:
    """Return the dot in the photo's own pixels."""
    if isinstance(fit, RimFit):
        least_px, diameter = U_RIM_LEAST_PX, 2.0 * fit.radius_mm
        brighter = max(float(fit.beyond.mean()) - 1.0, 0.0) * _is_before_skin(fit)
        model_mm = float(np.hypot(U_RIM_MM, U_BEYOND_MM * brighter))
        left_px = U_RIM_LEFT_PX * float(np.sqrt(1.0 - min(fit.explained, 1.0)))
        skin_px = U_RIM_SKIN_PX * _is_before_skin(fit)
        u_px = float(np.linalg.norm([U_RIM_FIT * fit.u_px, left_px, skin_px]))
    else:
        long, short = fit.half_axes
        slope = float(np.sqrt((long / short) ** 2 - 1.0))
        parts = U_MIDDLE * long * mm_per_px, U_SLOPE_MM * slope, U_CALM_MM * (1.0 - fit.calm)
        model_mm = float(np.linalg.norm(parts))
        u_px, least_px = float(np.hypot(U_FIT * fit.u_px, fit.hidden_px)), U_LEAST_PX
        diameter = 2.0 * float(np.sqrt(long * short)) * mm_per_px
    u_px = float(np.hypot(np.hypot(u_px, model_mm / mm_per_px) * shrunk, least_px))
    return Dot((fit.centre + 0.5) * shrunk - 0.5 + low, u_px, diameter)


def _is_before_skin(fit: RimFit) -> bool:
    """Return whether what lies beyond a sliver's edge looks like skin."""
    alike = float(fit.beyond.max()) < HUE * float(fit.beyond.min())
    return alike and float(fit.beyond.mean()) > PALE


def _why(reasons: list[str]) -> str:
    """Return why none of the places that were tried is a pen dot."""
    told = ("either", "touch", "far", "two", "long", "soft", "brown", "hair", "faint", "small")
    return WHY[next((code for code in told if code in reasons), "none")]
