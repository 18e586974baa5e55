"""What the tables of the second visit are written with."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

FOUND_TILT_DEG, FOUND_SHIFT_MM = 8.0, 2.5
"""A change over this is to be found."""


def percent(flags: Sequence[bool]) -> str:
    """Return a share in per cent, and of how many."""
    return f"{100 * float(np.mean(flags)):.1f} ({len(flags)})" if flags else "- (0)"


def rms(errors: Sequence[float]) -> float:
    """Return the root of the mean of squares."""
    return float(np.sqrt(np.mean(np.square(errors))))
