"""The channel and its angle: the straight way from entry to exit.

Photos first, calipers joined to them by weighted least squares (the same length measured
twice, weights one over the variance); calipers alone where no photo shows both ends.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

import numpy as np
from scipy.stats import chi2

from assess.budget import Line
from assess.marks import CaliperMarks
from calibration.draws import Draws
from calibration.frames import Array
from calibration.inputs import ASSUMED_DOF
from calibration.quantity import Quantity

Method = Literal["views", "one_view", "caliper"]

ALPHA = 0.05
"""How often photo and calipers that agree would be said to disagree."""

U_PRESSED_MM = 0.1
"""Of a caliper reading, for tissue that the jaws press (assumed; no source).

A line of the stated u, not one more: whoever states u says how near the tissue as it lies the
reading is.  Pressing only shortens, but no figure has a source, so nothing is taken off.
"""

CALIPER_LINES = ("calipers", "tissue pressed by the calipers")
"""The caliper lines of the channel's budget: reading and pressing."""


@dataclass(frozen=True, slots=True)
class Axis:
    """A placement as one view gives it, or several."""

    channel_mm: Array  # (M,)
    room_below_mm: Array | None  # (M,), None where the next structure isn't marked
    angle_deg: Array  # (M,)
    middle_mm: Array  # (M, 3), the middle of the channel, card frame
    lines: tuple[Line, ...]
    """The first-order budget of the channel."""
    method: Method = "one_view"


@dataclass(frozen=True, slots=True)
class Channel:
    """The channel's draws (mm) with the method that weighs most and its first-order budget."""

    draws: Array
    method: Method
    lines: tuple[Line, ...]
    agreement: Agreement | None = None
    """Where both photo and calipers read it."""

    @property
    def parts_mm2(self) -> dict[str, float]:
        """Return each line's part of the variance, mm²."""
        return {line.name: line.variance for line in self.lines}


@dataclass(frozen=True, slots=True)
class Agreement:
    """The same channel by photo and by calipers, and whether the two agree.

    Chi-squared with one degree of freedom on their difference, at level :data:`ALPHA`.  A
    disagreement is said; it makes no uncertainty larger.
    """

    photo: Quantity
    caliper: Quantity

    @property
    def difference_mm(self) -> float:
        """Return photo less calipers."""
        return self.photo.value - self.caliper.value

    @property
    def u_difference_mm(self) -> float:
        """Return the difference's standard uncertainty; the two share no input."""
        return float(np.hypot(self.photo.u, self.caliper.u))

    @property
    def chi_squared(self) -> float:
        """Return the difference over its u, squared."""
        return (self.difference_mm / max(self.u_difference_mm, 1e-9)) ** 2

    @property
    def critical(self) -> float:
        """Return what chi-squared stays under in 95 of 100 cases where the two agree."""
        return float(chi2.ppf(1.0 - ALPHA, 1))

    @property
    def agrees(self) -> bool:
        """Return whether the difference is one that their uncertainty allows."""
        return self.chi_squared <= self.critical


def unwrapped(angle: Array) -> Array:
    """Return draws of an angle without the jump at 180 degrees, about their mean direction."""
    rad = np.deg2rad(angle)
    mean = float(np.rad2deg(np.arctan2(np.sin(rad).mean(), np.cos(rad).mean())))
    return np.asarray(mean + (angle - mean + 180.0) % 360.0 - 180.0)


def caliper_draws(value: float, u: float, draws: Draws, name: str) -> Array:
    """Return a caliper reading's draws (mm): normal, and never below zero."""
    return np.maximum(value + u * draws.normal(f"calipers: {name}"), 0.0)


def caliper_lines(u: float) -> tuple[Line, ...]:
    """Return the lines of a caliper reading's stated variance: pressing, and the rest.

    Pressing has at most half, so a very small u isn't all called pressing.
    """
    variance = max(u, 1e-9) ** 2
    pressed = min(U_PRESSED_MM**2, variance / 2)
    reading, pressing = CALIPER_LINES
    rest = Line(reading, variance - pressed, "normal", np.inf, "measured", f"as told: {u:.2g} mm")
    part = f"{np.sqrt(pressed):.2g} mm of what was told"
    return rest, Line(pressing, pressed, "normal", ASSUMED_DOF, "assumed", part)


def combine(
    axis: Axis | None, reading: CaliperMarks | None, label: str, draws: Draws
) -> Channel | None:
    """Return the channel from what there is, or None."""
    if reading is None or reading.channel_mm is None:
        if axis is None:
            return None
        return Channel(axis.channel_mm, axis.method, axis.lines)
    u = reading.u_channel_mm or 0.0
    caliper = caliper_draws(reading.channel_mm, u, draws, f"channel of {label}")
    if axis is None:
        return Channel(caliper, "caliper", caliper_lines(u))
    # By first order, so that a weight doesn't hang on the seed.
    variance = sum(line.variance for line in axis.lines)
    weight = u**2 / (u**2 + variance)
    mixed = weight * axis.channel_mm + (1.0 - weight) * caliper
    seen, read = ((weight, axis.lines), (1.0 - weight, caliper_lines(u)))
    lines = tuple(line.weighed(part) for part, lines in (seen, read) for line in lines)
    method: Method = axis.method if weight > 0.5 else "caliper"
    photo = Quantity.from_draws(axis.channel_mm, "mm")
    agreement = Agreement(photo, Quantity.from_draws(caliper, "mm"))
    return Channel(mixed, method, lines, agreement)
