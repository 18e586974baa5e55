"""How an outline differs from the line on the rim that another visit's photo shows of it.

Seen from another side it is another line, at another depth; the tissue near the piercing swells,
and a smooth line leaves the rim's own shape a little.  The figures come from the parameter ears.
"""

from __future__ import annotations

from collections.abc import Mapping

import numpy as np

from assess.recheck_carry import PLANE_OF, TURN_MM, UNKNOWNS, Pair, turning
from assess.recheck_lines import Feet
from calibration.frames import Array
from calibration.inputs import root_of

LEFT_OUT_MM = 8.0
"""Tissue nearer than this to the post's middle line is left out: it swells (assumption)."""
HEIGHT_MM: Mapping[str, float] = {"outer": 0.6, "inner": 1.35}
"""How far toward the viewer an outline lies before the plane of the post, as the 14 parameter ears
have it on average: seen from another side it moves against the post by so much."""
DEPTH_SD_MM: Mapping[str, tuple[float, float, float]] = {
    "outer": (0.35, 0.5, 0.5),
    "inner": (0.6, 0.4, 0.4),
}
"""How much that differs: all of an outline together, from ear to ear; from place to place along
it; and slowly, as the rim bends in and out as a whole (the same ears, rounded up)."""
U_SHAPE_MM, SHAPE_LENGTH_MM = 0.04, 3.0
"""How far a smooth line of such pieces lies off a rim (three of the same ears: 0.02 to 0.08)."""
U_SWOLLEN_MM, SWOLLEN_LENGTH_MM = 0.1, 2.0
"""How far swelling still reaches where what is left out ends, and how soon it goes (assumption)."""
DEPTH_LENGTH_MM, SLOW_LENGTH_MM = 8.0, 25.0
NORMAL_BY_TILT = np.array([[0.0, -1.0], [1.0, 0.0]])
"""How far the plane's normal goes aside for each millimetre up, by its two tilts."""


def seen_change(pair: Pair, unknowns: Array) -> Array:
    """Return by how much the line of sight goes aside more than the baseline's, to the rim."""
    first, later = (NORMAL_BY_TILT @ unknowns[PLANE_OF[which][1]] for which in ("baseline", "now"))
    turn = turning(float(unknowns[0] / TURN_MM))
    return np.asarray(turn @ (pair.now.slope - later) - (pair.baseline.slope - first))


def by_height(aside: Array, turn_rad: float) -> Array:
    """Return how gaps answer to the unknowns by what stands before the plane, (N, P)."""
    out = np.zeros((len(aside), UNKNOWNS))
    out[:, PLANE_OF["baseline"][1]] = aside @ NORMAL_BY_TILT
    out[:, PLANE_OF["now"][1]] = -aside @ turning(turn_rad) @ NORMAL_BY_TILT
    return out


def shape_root(feet: Feet) -> Array:
    """Return what the rim's shape moves of the gaps, (N, N), where the line leaves it."""
    apart = feet.along_mm[:, None] - feet.along_mm[None, :]
    return root_of(U_SHAPE_MM**2 * np.exp(-0.5 * (apart / SHAPE_LENGTH_MM) ** 2))


def swelling(away_mm: Array) -> Array:
    """Return what swelling that reaches further than what is left out moves of the gaps, (N, 1)."""
    return np.asarray(U_SWOLLEN_MM * np.exp(-(away_mm - LEFT_OUT_MM) / SWOLLEN_LENGTH_MM))[:, None]


def depth_root(pair: Pair, kind: str, feet: Feet, turn_rad: float) -> Array:
    """Return what an outline's depth moves of the gaps, (N, N), the view having changed."""
    together, local, slow = DEPTH_SD_MM[kind]
    apart = feet.along_mm[:, None] - feet.along_mm[None, :]
    depth = together**2 + local**2 * np.exp(-0.5 * (apart / DEPTH_LENGTH_MM) ** 2)
    depth = depth + slow**2 * np.exp(-0.5 * (apart / SLOW_LENGTH_MM) ** 2)
    change = feet.normal @ pair.view_change(turn_rad)
    seen = np.outer(change, change) + pair.u_view**2 * feet.normal @ feet.normal.T
    return root_of(depth * seen)
