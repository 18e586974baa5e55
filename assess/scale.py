"""How true the print is: check bars read with calipers, or an unverified print."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from assess.marks import CardMarks
from calibration.card import Card
from calibration.frames import Array
from calibration.inputs import ASSUMED_DOF, Input

U_UNVERIFIED = 0.006
"""Relative u of a print whose check bars weren't read."""

SCALE_COMMON, SCALE_AXES = "print scale", "print scale by axis"
SCALE_LINE = "scale of the print"


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

    def inputs(self) -> tuple[Input, Input]:
        """Return what is still open about the print: common to all axes, and by axis."""
        source = "check bars read with calipers" if self.verified else "print not checked"
        common = Input.scalar(
            SCALE_COMMON,
            0.0,
            self.u_common,
            line=SCALE_LINE,
            dof=ASSUMED_DOF,
            basis="assumed",
            source=source,
            shared=True,
        )
        by_axis = Input(
            SCALE_AXES,
            SCALE_LINE,
            np.zeros(2),
            np.diag(self.u_axes),
            source=source,
            shared=True,
        )
        return common, by_axis


def scale_factors(common: Array, axes: Array) -> Array:
    """Return the factors still open on the card's millimetres along x, y and z, (3, ...).

    Parameters
    ----------
    common : (1, ...) array
    axes : (2, ...) array
        Along x and y; depth takes their mean.
    """
    return np.asarray(1.0 + common[0] + np.stack([axes[0], axes[1], 0.5 * (axes[0] + axes[1])]))


def print_scale(card: Card | None, marks: CardMarks | None) -> PrintScale:
    """Return the scale of a print from its check bars, or 1 with the u of an unverified one."""
    if card is None:  # an ID-1 card or a ruler brings its own scale and u
        return PrintScale(1.0, 1.0, (0.0, 0.0), 0.0, verified=True)
    if marks is None or marks.check_bar_mm is None:
        return PrintScale(1.0, 1.0, (0.0, 0.0), U_UNVERIFIED, verified=False)
    ratio = [read / bar for read, bar in zip(marks.check_bar_mm, card.check_bar_mm, strict=True)]
    u = [marks.u_check_bar_mm / bar for bar in card.check_bar_mm]
    return PrintScale(ratio[0], ratio[1], (u[0], u[1]), 0.0, verified=True)
