"""A few taps along a rim -> a proposed contour, to a fraction of a pixel, with its uncertainty."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from calibration.frames import Array, Image
from calibration.refused import Refused
from tracing.gaps import BROAD_MM, bridged, gaps_in, standard_u_mm
from tracing.light import Light, log_light
from tracing.search import REACH_MM, Kind, Way, clearness, on_edge, wide_way
from tracing.strip import Guide, chords
from tracing.taps import along_taps

ROW_MM, ROW_LEAST_PX = 0.2, 1.0
LONGEST_MM = 250.0
LEAST_TAPS = 3


@dataclass(frozen=True, slots=True, eq=False)
class Contour:
    """A proposed line, (N, 2) px in the order of the taps; ``u_px`` (N,), across it.

    ``gaps`` are stretches [i, j] of the line, ends included, where the picture shows no edge:
    there the line follows the taps alone.
    """

    line: Array
    u_px: Array
    gaps: tuple[tuple[int, int], ...]


class NoContour(Refused):
    """Why nothing is proposed."""


def trace(
    picture: Image, taps_px: Array, kind: Kind, mm_per_px: float, *, snug: bool = True
) -> Contour | NoContour:
    """Return the contour that a few taps mean.

    Parameters
    ----------
    picture : (H, W, 3) array, RGB
    taps_px : (N, 2) array, px, along the rim in order
    kind : ``"outer"``, where the rim ends against what lies behind; ``"inner"``, the crease
        under the fold's edge
    mm_per_px : float
        At the rim.
    snug : bool
        Whether the way found is then refined to the edge; for comparing.
    """
    taps = _distinct(np.asarray(taps_px, dtype=np.float64))
    refusal = _refused(taps, picture.shape[:2], mm_per_px)
    if refusal is not None:
        return refusal
    low, light = _near(picture, taps, mm_per_px)
    local = taps - low
    guide = along_taps(local, max(ROW_LEAST_PX, ROW_MM / mm_per_px))
    way = wide_way(light, guide, local, kind, mm_per_px)
    if snug:
        way = on_edge(light, way, kind, mm_per_px)
    clear = clearness(light, way.guide, kind, mm_per_px)
    return _judged(way, guide, local, clear, low, kind, mm_per_px)


def _distinct(taps: Array) -> Array:
    """Return the taps without those that repeat the one before."""
    keep = np.concatenate([[True], np.hypot(*np.diff(taps, axis=0).T) > 1e-6])
    return np.asarray(taps[keep])


def _refused(taps: Array, shape: Sequence[int], mm_per_px: float) -> NoContour | None:
    if len(taps) < LEAST_TAPS:
        return NoContour(
            "too_few_taps",
            f"There are {len(taps)} different taps.",
            "A rim bends; two places do not tell how.",
            "Tap three or four places along the rim, in order.",
        )
    size = np.array([shape[1], shape[0]])
    if bool((taps < -0.5).any() or (taps > size - 0.5).any()):
        return NoContour(
            "outside",
            "A tap lies outside the photo.",
            "There is no picture there.",
            "Tap within the photo.",
        )
    if chords(taps)[-1] * mm_per_px > LONGEST_MM:
        return NoContour(
            "too_long",
            "The taps run over more than 250 mm.",
            "An ear is not that long.",
            "Check which card is in the photo, and tap along the rim only.",
        )
    return None


def _near(picture: Image, taps: Array, mm_per_px: float) -> tuple[Array, Light]:
    """Return the corner of the part round the taps, (2,) px, and its light."""
    room = (2 * REACH_MM + 2.0) / mm_per_px + 4
    low = np.maximum(np.floor(taps.min(axis=0) - room), 0).astype(int)
    high = np.ceil(taps.max(axis=0) + room).astype(int)
    return low.astype(np.float64), log_light(picture[low[1] : high[1], low[0] : high[0]])


def _judged(
    way: Way,
    guide: Guide,
    taps: Array,
    clear: Array,
    low: Array,
    kind: Kind,
    mm_per_px: float,
) -> Contour:
    """Return the contour with its uncertainty; where there is no edge it follows the taps."""
    gaps = gaps_in((clear < 1.0) | (way.wide_sd_mm > BROAD_MM), way.guide.step_px * mm_per_px)
    line, u_mm = way.guide.points, standard_u_mm(way, kind)
    if gaps:
        line, away_mm = bridged(way.guide, guide, taps, gaps, mm_per_px)
        u_mm = np.hypot(u_mm, away_mm)
    return Contour(line + low, u_mm / mm_per_px, gaps)
