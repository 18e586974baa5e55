"""A pen dot near a tap -> its centre to a fraction of a pixel, or why there is none.

Dark, round, small and sharp-edged places are looked for; each is fitted as an elliptic spot,
and counts as a pen dot only if its size, roundness, darkness, colour and border are a pen's.
Ghosts of wiped dots are too faint, freckles too faint and brown, smears too long, shadows too
soft, hair no spot at all.  Where no spot is found, or a doubtful one, a dark sliver along a rim's
edge is looked for: a dot half round it.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from calibration.frames import Array, Image
from tracing.dot_places import REACH_MM, candidates
from tracing.dot_rivals import Nearby, is_ink, is_same_ink
from tracing.light import Light, log_light
from tracing.rim_fit import RimFit, fit_rim
from tracing.rim_judge import may_be_stroke, rim_fault
from tracing.rim_places import TAP_MM, rim_places
from tracing.spot_fit import SpotFit

MARGIN_MM = 1.8
MOST_SLIVERS = 3
SURE, FARTHER_MM = (0.9, 0.75, 0.75), 0.3
"""A spot explained, inside and all round less well than this may be a sliver beside something;
the sliver lies about as near to the tap and explains more."""
TOLD = {"either", "touch"}
"""Reasons why of clear dots none is taken: no sliver is meant then."""
SOME_WAY_MM, BESIDE_MM = 0.7, 0.4
"""Dots farther from the tap are taken if no sliver is nearer; so much beside a spot is its own."""
MOST_SHIFT_MM, SHIFT_MM = 0.5, 0.3
"""How far a sliver may lie from where it was looked for: farther off its strip shows but a part."""
FINE_MM = 0.07
"""Pixels smaller than this are put together: a dot has enough of them."""
U_FIT, U_LEAST_PX, U_MIDDLE, U_SLOPE_MM, U_CALM_MM = 2.0, 0.025, 0.01, 0.006, 0.04
"""Standard uncertainty of the centre: times the fit's own (what it leaves is alike from pixel to
pixel), at least, a share of the radius, by the skin's slope, and by the share of the skin beside
the dot that is not smooth (hairs, folds, an edge); fitted to rendered dots."""
U_RIM_FIT, U_RIM_LEAST_PX, U_RIM_MM = 2.0, 0.22, 0.008
"""The same of a dot half round an edge, whose edge and slope are known less well."""
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
    by = Nearby(light, local, scale, candidates(light, local, scale))
    whole = _whole(by)
    best = whole.fit if TOLD & set(whole.reasons) else _with_slivers(by, whole)
    if isinstance(best, str):
        return NoDot("none", WHY[best])
    if best is None:
        return NoDot("none", _why(whole.reasons))
    return _dot(best, low, shrunk, scale)


@dataclass(frozen=True, slots=True, eq=False)
class _Whole:
    """The nearest dot that is seen whole, or why there is none, and the ink that is no dot."""

    fit: SpotFit | None
    reasons: list[str]
    ink: SpotFit | None = None


def _whole(by: Nearby) -> _Whole:
    reasons: list[str] = []
    refused: list[SpotFit] = []
    for i in range(len(by.found)):
        fit, why = by.fitted(i)
        if fit is None or by.away_mm(fit.centre) > REACH_MM:
            continue
        if why is None:
            same = next((other for other in refused if is_same_ink(fit, other)), None)
            if same is not None:
                return _Whole(None, [*reasons, "two"], same)
            if by.is_far_fetched(fit, i):
                return _Whole(None, [*reasons, "far"], fit)
            other = by.other(fit, i)
            return _Whole(None, [other]) if other else _Whole(fit, [])
        reasons.append(why)
        refused.append(fit)
        if is_ink(fit, why, by.mm_per_px):
            better = by.whole_of(fit, i + 1)
            return _Whole(None, reasons, fit) if better is None else _Whole(better, [])
    return _Whole(None, reasons)


def _with_slivers(by: Nearby, whole: _Whole) -> SpotFit | RimFit | str | None:
    """Return the dot that is meant, seen whole or half round an edge; "either" if it is not clear.

    A sliver nearer to the tap than a dot that lies some way off may be what is meant.
    """
    fit = whole.fit
    if fit is None or _is_doubtful(fit):
        half = _half(by, whole.ink)
        if half is None or fit is None:
            return half or fit
        near = by.away_mm(half.centre) < by.away_mm(fit.centre) + FARTHER_MM
        return half if near and half.explained > fit.explained else fit
    if by.away_mm(fit.centre) < SOME_WAY_MM:
        return fit
    half = _half(by, None, apart_from=fit)
    if half is None or not by.is_as_likely(half.centre, fit.centre):
        return fit
    return "either" if by.is_as_likely(fit.centre, half.centre) else half


def _is_doubtful(fit: SpotFit) -> bool:
    """Return whether a spot's picture may rather be a sliver beside something else."""
    return fit.explained < SURE[0] or fit.within < SURE[1] or fit.around < SURE[2]


def _half(by: Nearby, ink: SpotFit | None, apart_from: SpotFit | None = None) -> RimFit | None:
    """Return the likeliest dot half round a rim's edge, or None.

    Where there is ink that is no dot it must be clearer; on a dot that is seen whole it is none.
    """
    best: tuple[float, RimFit] | None = None
    for place in rim_places(by.light, by.near, by.mm_per_px, MOST_SLIVERS):
        if apart_from is not None and _is_on(apart_from, place.centre, by.mm_per_px):
            continue
        fit = fit_rim(by.light, place, by.mm_per_px)
        if fit is None or rim_fault(fit, by.mm_per_px) is not None:
            continue
        shift_mm = float(np.hypot(*(fit.centre - place.centre))) * by.mm_per_px
        if shift_mm > MOST_SHIFT_MM or (ink is not None and may_be_stroke(fit)):
            continue
        ways = (by.away_mm(fit.centre) / TAP_MM) ** 2 + (shift_mm / SHIFT_MM) ** 2
        likely = float(np.log(fit.gain)) - 0.5 * ways
        if best is None or likely > best[0]:
            best = likely, fit
    return None if best is None else best[1]


def _is_on(spot: SpotFit, place: Array, mm_per_px: float) -> bool:
    """Return whether a place, (2,) px, lies on a spot or close by."""
    return float(np.hypot(*(place - spot.centre))) < spot.half_axes[0] + BESIDE_MM / mm_per_px


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
        model_mm, least_px, diameter = U_RIM_MM, U_RIM_LEAST_PX, 2.0 * fit.radius_mm
        u_px = U_RIM_FIT * fit.u_px
    else:
        long, short = fit.half_axes
        slope = float(np.sqrt((long / short) ** 2 - 1.0))
        parts = U_MIDDLE * long * mm_per_px, U_SLOPE_MM * slope, U_CALM_MM * (1.0 - fit.calm)
        model_mm = float(np.linalg.norm(parts))
        u_px, least_px = U_FIT * fit.u_px, U_LEAST_PX
        diameter = 2.0 * float(np.sqrt(long * short)) * mm_per_px
    u_px = float(np.hypot(np.hypot(u_px, model_mm / mm_per_px) * shrunk, least_px))
    return Dot((fit.centre + 0.5) * shrunk - 0.5 + low, u_px, diameter)


def _why(reasons: list[str]) -> str:
    """Return why none of the places that were tried is a pen dot."""
    for code in (
        "either",
        "touch",
        "far",
        "two",
        "long",
        "soft",
        "brown",
        "hair",
        "faint",
        "small",
    ):
        if code in reasons:
            return WHY[code]
    return WHY["none"]
