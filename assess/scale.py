"""How true the print is: check bars read with calipers, or an unverified print."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from assess.marks import CardMarks
from calibration.card import Card
from calibration.draws import Draws
from calibration.frames import Array

U_UNVERIFIED = 0.006
"""Relative u of a print whose check bars weren't read."""


@dataclass(frozen=True, slots=True)
class PrintScale:
    """Factor from nominal to real millimetres across and down, with relative u."""

    across: float
    down: float
    u_axes: tuple[float, float]
    u_common: float
    verified: bool

    def corrected(self, corners_mm: Array) -> Array:
        """Return nominal places on the card, (N, 2) mm, as the print has them."""
        return np.asarray(corners_mm * np.array([self.across, self.down]))

    def u_vector(self) -> Array:
        """Return the independent relative u along the card's x, y and z, (3,)."""
        return np.array([*self.u_axes, 0.0])

    def draw(self, draws: Draws) -> Array:
        """Return draws of the factor still open on the millimetres, (M, 3)."""
        common = self.u_common * draws.normal("print scale")
        axes = draws.normal("print scale by axis", 2) * np.asarray(self.u_axes)
        depth = axes.mean(axis=1, keepdims=True)
        return np.asarray(1.0 + common[:, None] + np.concatenate([axes, depth], axis=1))


def print_scale(card: Card | None, marks: CardMarks | None) -> PrintScale:
    """Return the scale of a print from its check bars, or 1 with the u of an unverified one."""
    if card is None:  # an ID-1 card or a ruler brings its own scale and u
        return PrintScale(1.0, 1.0, (0.0, 0.0), 0.0, verified=True)
    if marks is None or marks.check_bar_mm is None:
        return PrintScale(1.0, 1.0, (0.0, 0.0), U_UNVERIFIED, verified=False)
    ratio = [read / bar for read, bar in zip(marks.check_bar_mm, card.check_bar_mm, strict=True)]
    u = [marks.u_check_bar_mm / bar for bar in card.check_bar_mm]
    return PrintScale(ratio[0], ratio[1], (u[0], u[1]), 0.0, verified=True)
