"""Whether two polylines cross, or one itself."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from calibration.frames import Array


def _cross(a: Array, b: Array) -> Array:
    return np.asarray(a[..., 0] * b[..., 1] - a[..., 1] * b[..., 0])


def _meets(first: Array, second: Array) -> NDArray[np.bool_]:
    """Return (N-1, M-1): which segment of ``first`` properly meets which of ``second``."""
    p, r = first[:-1, None, :], np.diff(first, axis=0)[:, None, :]
    q, s = second[None, :-1, :], np.diff(second, axis=0)[None, :, :]
    bend = _cross(r, s)
    with np.errstate(divide="ignore", invalid="ignore"):
        t = _cross(q - p, s) / bend
        w = _cross(q - p, r) / bend
    inside: NDArray[np.bool_] = (t >= 0) & (t <= 1) & (w >= 0) & (w <= 1) & (bend != 0)
    return inside


def crosses(first: Array, second: Array) -> bool:
    """Return whether two polylines, (N, 2) and (M, 2), meet anywhere."""
    return bool(_meets(first, second).any())


def crosses_itself(line: Array) -> bool:
    """Return whether a polyline, (N, 2), meets itself other than at neighbouring segments."""
    keep = np.append(True, np.any(np.diff(line, axis=0) != 0, axis=1))
    line = line[keep]
    return bool(np.triu(_meets(line, line), k=2).any())
