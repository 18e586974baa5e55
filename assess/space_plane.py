"""The rim's plane as several views see it, for what the same visit's single photos measure.

A single photo takes the rim's offset and tilt as told, with millimetres of uncertainty; the ends
that several views triangulated lie in that plane and say where it is.

References
----------
JCGM 102:2011, 6.2 (several outputs of one model); the fit is a linear regression with a normal
prior on the tilt.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from assess.marks import RimPlane
from assess.view_inputs import OFFSET_LINE, TILT_LINE
from assess.view_model import OFFSET, TILT
from calibration.frames import Array
from calibration.inputs import Input, root_of
from calibration.space_points import SpacePoints

U_FLAT_MM = 0.5
"""How far an end lies off the rim's plane (standard deviation, assumed; no source)."""
U_OFFSET_MM = 50.0
"""What is known of the offset before any end is seen: nothing that matters."""


@dataclass(frozen=True, slots=True)
class SeenPlane:
    """The rim's plane: height (mm, toward the viewer) at a place, and the tangents of two tilts.

    ``at`` is ``[height, a, b]``: at a place (x, y) off the middle the plane stands ``height - a y
    + b x`` high, a and b the tangents of the tilts about the card's x and y axes.  ``covariance``
    (3, 3) is theirs, ``middle_mm`` (2,) the middle of the ends.
    """

    at: Array
    covariance: Array
    middle_mm: Array

    def plane(self, middle_mm: Array) -> RimPlane:
        """Return offset and u as a marks file tells them, about the middle of a photo's marks."""
        height, u = self._height(middle_mm)
        slopes = np.sqrt(np.mean(self.at[1:] ** 2 + np.diag(self.covariance)[1:]))
        return RimPlane(
            offset_mm=height, u_offset_mm=u, u_tilt_deg=float(np.rad2deg(np.arctan(slopes)))
        )

    def inputs(self, middle_mm: Array) -> tuple[Input, Input]:
        """Return offset and tilt as a single photo's model takes them, about its marks' middle.

        Taken as independent: about the middle of the ends they are, but for how the dots' depths
        go together.
        """
        height, u = self._height(middle_mm)
        source = "seen in several views"
        offset = Input.scalar(OFFSET, height, u, line=OFFSET_LINE, source=source)
        tilt = np.arctan(self.at[1:])
        root = root_of(self.covariance[1:, 1:]) * np.cos(tilt)[:, None] ** 2
        return offset, Input(TILT, TILT_LINE, tilt, root, source=source)

    def _height(self, middle_mm: Array) -> tuple[float, float]:
        x, y = middle_mm - self.middle_mm
        row = np.array([1.0, -y, x])
        return float(row @ self.at), float(np.sqrt(row @ self.covariance @ row))


def seen_plane(points: SpacePoints, ends: Sequence[str], told: RimPlane) -> SeenPlane | None:
    """Return the rim's plane from the ends that several views triangulated; None without any.

    Parameters
    ----------
    points : the dots, in the card's frame of the photo that is to be measured
    ends : names of entries and exits among them
    told : what is known of the plane's tilt without them
    """
    names = [name for name in ends if name in points.names]
    if not names:
        return None
    at = np.array([points.place(name) for name in names])
    middle = at[:, :2].mean(axis=0)
    rows = [points.rows(name).start + 2 for name in names]
    height_u = points.covariance[np.ix_(rows, rows)] + U_FLAT_MM**2 * np.eye(len(names))
    x, y = (at[:, :2] - middle).T
    design = np.column_stack([np.ones(len(names)), -y, x])
    u_tilt = float(np.tan(np.deg2rad(max(told.u_tilt_deg, 1e-3))))
    prior = np.diag([U_OFFSET_MM, u_tilt, u_tilt]) ** 2
    gain = prior @ design.T @ np.linalg.inv(design @ prior @ design.T + height_u)
    covariance = prior - gain @ design @ prior
    return SeenPlane(gain @ -at[:, 2], (covariance + covariance.T) / 2, middle)
