"""The centre of a post's round end, a ball or a disc, near a tap.

An end is round or, a disc seen from aside, an ellipse: light or hue changes across its border all
the way round, brighter here and darker there as metal reflects.  The border is found on rays from a
rough centre, and a circle with an ellipse's second harmonic laid through it; what lies off
(a glint, a hair, tissue before it) counts less.  Where no closed border is seen nothing is taken.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

import cv2
import numpy as np
from scipy.ndimage import map_coordinates

from calibration.frames import Array, Image
from tracing.light import Light, log_light

RADIUS_MM = (1.0, 3.2)
"""Ends are that wide and high, halved (common practice, no source)."""
REACH_MM = 1.5
"""Further from the tap nothing is taken."""
RAYS = 72
LEAST_STEP = 0.06
"""Least change of log light across the border: skin's own texture makes less."""
HUE = 3.0
"""What hue counts beside light: metal mirrors light unevenly, but has one hue."""
LEAST_SHARE = 0.6
"""Of the rays that must meet the border."""
OUTER_SHARE = 0.6
"""An outer ring as clear as that, of the clearest one, is the border."""
BEYOND, BEYOND_SHARE = 1.6, 0.18
"""Another border within so many radii on such a share of the rays: the end isn't clear."""
BAR_RAYS, BALL_SHARE = 14, 0.08
"""On so many rays side by side, 70 degrees, the post itself may lie beyond a ball: an end whose
second harmonic is less than that, in radii."""
OFF_SHARE = 0.12
"""A border point further off, in radii, is none of the end's."""
SCATTER = 0.05
"""Most scatter of the border, in radii: beyond it the thing isn't round."""
U_FLOOR_PX = 0.15
"""Least u of a centre: a camera's blur, and light that makes one side look further out."""
U_ROUND = 0.03
"""And so many radii besides: reflections move a border to one side (rendered balls)."""

Reason = Literal["outside", "nothing round", "not closed", "not round", "not clear"]


@dataclass(frozen=True, slots=True)
class RoundEnd:
    """A round end: its centre (x, y) px, radius px, and the centre's u, each axis, px."""

    x: float
    y: float
    radius_px: float
    u_px: float


@dataclass(frozen=True, slots=True)
class NoRoundEnd:
    """Why nothing was taken."""

    reason: Reason


def round_end(picture: Image, near: Array, mm_per_px: float) -> RoundEnd | NoRoundEnd:
    """Return the centre of the round end near a tap, with its u, or why there is none.

    Parameters
    ----------
    picture : (H, W, 3) array, RGB
    near : (2,) array, px
        The tap.
    mm_per_px : size of a pixel at the end, mm
    """
    high, wide = picture.shape[:2]
    least, most = (r / mm_per_px for r in RADIUS_MM)
    span = int(np.ceil(1.3 * most + REACH_MM / mm_per_px)) + 2
    x0, y0 = (round(float(v)) - span for v in near)
    if x0 < 0 or y0 < 0 or x0 + 2 * span >= wide or y0 + 2 * span >= high:
        return NoRoundEnd("outside")
    light = _look(log_light(picture[y0 : y0 + 2 * span + 1, x0 : x0 + 2 * span + 1]))
    soft = np.asarray(cv2.GaussianBlur(light, (0, 0), max(0.8, 0.05 / mm_per_px)), np.float64)
    tap = near - np.array([x0, y0])
    rough = _rough(soft, tap, (least, most), REACH_MM / mm_per_px)
    if rough is None:
        return NoRoundEnd("nothing round")
    found = _refined(soft, *rough)
    if isinstance(found, NoRoundEnd):
        return found
    at, radius, u_px = found
    if float(np.hypot(*(at - tap))) > REACH_MM / mm_per_px or not least <= radius <= 1.1 * most:
        return NoRoundEnd("nothing round")
    return RoundEnd(float(at[0] + x0), float(at[1] + y0), radius, u_px)


def _directions() -> tuple[Array, Array]:
    turn = np.linspace(0.0, 2 * np.pi, RAYS, endpoint=False)
    return turn, np.column_stack([np.cos(turn), np.sin(turn)])


def _look(light: Light) -> Array:
    """Return light and hue, (H, W, 3), so that a change of either is a change."""
    red, green, blue = np.moveaxis(light, 2, 0)
    return np.stack([(red + green + blue) / 3, HUE * (red - green), HUE * (green - blue)], axis=2)


def _at(look: Array, points: Array) -> Array:
    """Return light and hue at places (..., 2) x, y: (..., 3)."""
    where = [points[..., 1], points[..., 0]]
    parts = [
        map_coordinates(part, where, order=1, mode="nearest") for part in np.moveaxis(look, 2, 0)
    ]
    return np.stack(parts, axis=-1)


def _size(change: Array) -> Array:
    return np.asarray(np.linalg.norm(change, axis=-1))


def _rough(
    look: Array, tap: Array, radii: tuple[float, float], reach: float
) -> tuple[Array, float] | None:
    """Return the centre and radius whose circle has the clearest border nearly all round."""
    _, ways = _directions()
    step = max(1.0, radii[0] / 4)
    aside = np.arange(-reach, reach + step / 2, step)
    centres = np.array([[x, y] for x in aside for y in aside if np.hypot(x, y) <= reach]) + tap
    found: list[tuple[float, Array, float]] = []
    for radius in np.arange(radii[0], radii[1] + step / 2, step):
        wide = max(1.0, 0.15 * radius)
        inside, outside = (_at(look, centres[:, None] + (radius + d) * ways) for d in (-wide, wide))
        change = _size(outside - inside)
        score = np.quantile(change, 1.0 - LEAST_SHARE, axis=1)
        k = int(np.argmax(score))
        found.append((float(score[k]), centres[k], float(radius)))
    most = max(score for score, _, _ in found)
    if most < LEAST_STEP:
        return None
    # Reflections draw rings inside a ball; its own border is the outermost clear one.
    clear = [i for i, (score, _, _) in enumerate(found) if score >= OUTER_SHARE * most]
    at = max(clear)
    peak = [i for i in clear if i >= at - 1]
    _, centre, radius = found[max(peak, key=lambda i: found[i][0])]
    return centre, radius


def _refined(look: Array, at: Array, radius: float) -> tuple[Array, float, float] | NoRoundEnd:
    """Return centre, radius and u by the border on rays."""
    turn, ways = _directions()
    basis = np.column_stack(
        [np.ones(RAYS), np.cos(turn), np.sin(turn), np.cos(2 * turn), np.sin(2 * turn)]
    )
    shape = np.array([radius, 0.0, 0.0, 0.0, 0.0])
    good, off, cov = np.ones(RAYS, dtype=bool), np.zeros(RAYS), np.eye(5)
    for narrow in (0.35, 0.25, 0.18, 0.18, 0.18):
        border, clear = _border(look, at, ways, basis @ shape, narrow)
        good = clear
        for _ in range(6):
            if good.sum() < LEAST_SHARE * RAYS:
                return NoRoundEnd("not closed")
            shape = np.linalg.lstsq(basis[good], border[good], rcond=None)[0]
            off = border - basis @ shape
            limit = max(OFF_SHARE * shape[0], 1.0)
            middle = 1.4826 * float(np.median(np.abs(off[good])))
            good = clear & (np.abs(off) <= min(limit, max(3.0 * middle, 0.4)))
        at = at + shape[1:3]
        shape[1:3] = 0.0
        cov = np.linalg.inv(basis[good].T @ basis[good])
    scatter = float(np.sqrt(np.sum(off[good] ** 2) / max(good.sum() - 5, 1)))
    if good.sum() < LEAST_SHARE * RAYS:
        return NoRoundEnd("not closed")
    if scatter > max(SCATTER * shape[0], 0.5) or np.hypot(*shape[3:]) > 0.35 * shape[0]:
        return NoRoundEnd("not round")
    ball = float(np.hypot(*shape[3:])) < BALL_SHARE * shape[0]
    if _border_beyond(look, at, ways, float(shape[0]), BAR_RAYS if ball else 0):
        return NoRoundEnd("not clear")
    # Neighbouring rays see the same light: about every third is one of its own.
    u_fit = scatter * float(np.sqrt(3.0 * cov[1:3, 1:3].trace() / 2))
    u_px = float(np.sqrt(u_fit**2 + U_FLOOR_PX**2 + (U_ROUND * shape[0]) ** 2))
    return at, float(shape[0]), u_px


def _border_beyond(look: Array, at: Array, ways: Array, radius: float, bar_rays: int) -> bool:
    """Return whether much of another border lies outside: then this is a ring inside the end."""
    out = radius * np.arange(0.9, BEYOND, 0.04)
    profile = _at(look, at + out[:, None] * ways[:, None])
    change = _size(profile[:, 4:] - profile[:, :-4])
    own, beyond = change[:, :4].max(axis=1), change[:, 6:].max(axis=1)
    there = (beyond > np.maximum(0.6 * own, LEAST_STEP)).astype(np.int64)
    # The bar leaves the end on one side, and has borders of its own there.
    round_again = np.cumsum(np.concatenate([[0], there, there]))
    behind = round_again[bar_rays : bar_rays + RAYS] - round_again[:RAYS]
    return bool((there.sum() - behind.max()) / (RAYS - bar_rays) > BEYOND_SHARE)


def _border(
    look: Array, at: Array, ways: Array, expected: Array, narrow: float
) -> tuple[Array, Array]:
    """Return on each ray the way to the clearest change of light near where it is expected."""
    reach = np.maximum(narrow * expected, 2.0)
    part = np.linspace(-1.0, 1.0, 41)
    ways_out = expected[:, None] + reach[:, None] * part
    profile = _at(look, at + ways_out[..., None] * ways[:, None])
    change = _size(np.gradient(profile, axis=1)) * np.exp(-0.5 * (part / 0.7) ** 2)
    peak = np.argmax(change[:, 1:-1], axis=1) + 1
    rows = np.arange(len(ways))
    left, mid, right = (change[rows, peak + d] for d in (-1, 0, 1))
    bend = np.minimum(left - 2 * mid + right, -1e-12)
    finer = np.clip(0.5 * (left - right) / bend, -0.5, 0.5)
    away = expected + reach * (part[peak] + finer * (part[1] - part[0]))
    total = _size(profile[rows, np.minimum(peak + 4, 40)] - profile[rows, np.maximum(peak - 4, 0)])
    return away, np.asarray(total > LEAST_STEP)
