"""How the light changes where a rim's edge should run on beside a dark sliver along it."""

from __future__ import annotations

from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from calibration.frames import Array
from tracing.light import FLOOR
from tracing.rim_model import Strip

BESIDE_MM, CLOSE_MM = 0.12, (0.1, 0.5)
"""From the sliver's end on; and how near the edge the light on its two sides is held together."""
FEWEST = 12
"""So many places tell on one side."""


class Step(NamedTuple):
    """How much brighter it is beyond an edge, (3,), in the logarithm of light, and how clearly.

    ``clear`` is the share of the squares that an edge there explains of what a plane bent
    outward leaves.
    """

    by: Array
    clear: float


NO_STEP = Step(np.zeros(3), 0.0)


def steps_beside(strip: Strip, p: Array) -> tuple[Step, Step]:
    """Return how the light steps on either side of a sliver, parameters (8,), at its edge."""
    aside = strip.along - p[4]
    ways = (way * aside > np.exp(p[5]) + BESIDE_MM for way in (-1.0, 1.0))
    one, other = (_step(strip, p, way) for way in ways)
    return one, other


def _step(strip: Strip, p: Array, at: NDArray[np.bool_]) -> Step:
    past = strip.outward - p[0] - p[1] * strip.along + 0.5 * p[2] * strip.along**2
    near, far = CLOSE_MM
    inside, outside = (at & (way > near) & (way < far) for way in (-past, past))
    if at.sum() < FEWEST or not inside.any() or not outside.any():
        return NO_STEP
    light = np.log(np.maximum(strip.shown, FLOOR))
    along, outward = strip.along[at], strip.outward[at]
    plain = np.column_stack([np.ones_like(along), along, outward, outward**2])
    rest, rest_plain = (
        _left(basis, light[at])
        for basis in (np.column_stack([plain, strip.parts(p)[2][at]]), plain)
    )
    by = np.median(light[outside], axis=0) - np.median(light[inside], axis=0)
    return Step(by, 1.0 - rest / max(rest_plain, 1e-9))


def _left(basis: Array, light: Array) -> float:
    """Return the squares that a basis, (P, K), leaves of the light, (P, 3)."""
    factors, *_ = np.linalg.lstsq(basis, light, rcond=None)
    return float(((light - basis @ factors) ** 2).sum())
