"""From rays to the rim's plane: where a single view's marks lie in space.

The rim's plane stands ``offset`` in front of the card's, turned by two small angles about
the card's x and y axes.  A single photo can't see either, so both are uncertain inputs,
shared by everything measured in it.  The plane turns about the middle of the marks, since
that is where the offset is read.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from assess.marks import RimPlane
from calibration.draws import Draws
from calibration.frames import Array


@dataclass(frozen=True, slots=True)
class PlaneDraws:
    """The rim's plane: offset (mm, toward the viewer), (...,); tilt (rad), (..., 2)."""

    offset_mm: Array
    tilt_rad: Array

    def normal(self) -> Array:
        """Return the plane's unit normal toward the viewer in the card frame, (..., 3)."""
        slope = np.tan(self.tilt_rad)
        normal = np.stack([slope[..., 1], -slope[..., 0], -np.ones_like(self.offset_mm)], axis=-1)
        return np.asarray(normal / np.linalg.norm(normal, axis=-1, keepdims=True))


def plane_draws(plane: RimPlane, draws: Draws) -> PlaneDraws:
    """Return the rim plane's draws: normal about the readings with their u."""
    offset = plane.offset_mm + plane.u_offset_mm * draws.normal("rim offset")
    tilt = np.deg2rad(plane.u_tilt_deg) * draws.normal("rim tilt", 2)
    return PlaneDraws(offset, tilt)


def on_rim(hits: Array, centre: Array, plane: PlaneDraws, pivots: Array) -> Array:
    """Return where the rays meet the rim's plane.

    Parameters
    ----------
    hits : (..., K, 2) array, mm
        Where each ray meets the card's plane.
    centre : (..., 3) array, mm
        The camera's centre in the card frame.
    plane : PlaneDraws
    pivots : (K,) array of weights
        How much each mark counts for the middle about which the plane turns.

    Returns
    -------
    (..., K, 3) array, mm, card frame
    """
    direction = np.concatenate([hits, np.zeros((*hits.shape[:-1], 1))], axis=-1)
    direction = direction - centre[..., None, :]
    weights = pivots / pivots.sum()
    middle_ray = np.einsum("...kc,k->...c", direction, weights)
    to_level = (-plane.offset_mm - centre[..., 2]) / middle_ray[..., 2]
    middle = to_level[..., None] * middle_ray  # from the camera's centre
    normal = plane.normal()
    reach = np.einsum("...c,...c->...", normal, middle)
    along = np.einsum("...c,...kc->...k", normal, direction)
    stretch = (reach[..., None] / along)[..., None]
    return np.asarray(centre[..., None, :] + stretch * direction)
