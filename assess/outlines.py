"""An outer contour in one photo: the plane that touches the rim there, and how the rim runs.

Every contour's plane holds the camera's centre and the contour's tangent, so all of them stand
square, nearly, to planes across the rim.  From several heights they give the slope at which the
rim runs out of the card's plane, which one photo can't.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from assess.edge_line import REACH_MM, EdgeLine, edge_line
from calibration.frames import Array
from calibration.pose import PlaneFit

LEAST_OUTLINES, LEAST_SPREAD_DEG = 3, 30.0
"""So many outlines, seen from heights so far apart, tell of the rim's section and its run."""


@dataclass(frozen=True, slots=True)
class Outline:
    """An outer contour in one photo, px of the unmirrored picture, with its camera before the ear.

    ``sigma_px`` is the u of a vertex, each axis.
    """

    photo: str
    camera: PlaneFit
    contour_px: Array
    sigma_px: float

    def px_mm(self, at: Array) -> float:
        """Return how many px a millimetre takes at a place, (3,) mm."""
        camera = self.camera
        return float(camera.camera.fx / np.linalg.norm(at - camera.centre_mm))

    def touching(self, at: Array, normal_xy: Array) -> tuple[Array, EdgeLine] | None:
        """Return the plane that touches the rim near a place: its normal, (3,) unit, out of it.

        And the contour's tangent in the picture; None where it shows none.

        Parameters
        ----------
        at : (3,) array, mm
        normal_xy : (2,) array
            Out of the rim, in the card's plane: where from ``at`` the contour is looked for.
        """
        camera, out = self.camera, np.array([*normal_xy, 0.0])
        start, end = camera.project(np.stack([at, at + out]))
        reach = REACH_MM * self.px_mm(at)
        line = edge_line(self.contour_px, start, end - start, self.sigma_px, reach)
        if line is None:
            return None
        # Two places on the tangent in the picture and the camera's centre.
        ends = np.stack([line.at, line.at + 20.0 * line.along])
        rays = np.column_stack([camera.on_plane(ends, float(-at[2])), np.full(2, at[2])])
        normal = np.cross(*(rays - camera.centre_mm))
        normal *= np.sign(normal @ out) / np.linalg.norm(normal)
        return normal, line


def spread_enough(rises_rad: Sequence[float]) -> bool:
    """Return whether outlines whose planes rise so are enough of them and far enough apart."""
    return (
        len(rises_rad) >= LEAST_OUTLINES
        and float(np.rad2deg(np.ptp(rises_rad))) >= LEAST_SPREAD_DEG
    )


def run_slope(
    outlines: Sequence[Outline], at: Array, normal_xy: Array, along: Array
) -> float | None:
    """Return how steeply the rim runs away from the viewer along its tangent; None if unknown.

    Parameters
    ----------
    outlines : of several photos
    at : (3,) array
        The entry, mm.
    normal_xy : (2,) array
        Out of the rim, in the card's plane.
    along : (2,) array
        The rim's tangent in the card's plane, the way that the slope counts.
    """
    found = [plane for each in outlines if (plane := each.touching(at, normal_xy)) is not None]
    planes = np.array([normal for normal, _ in found]).reshape(-1, 3)
    rises = np.arctan2(-planes[:, 2], planes[:, :2] @ normal_xy)
    if not spread_enough(rises.tolist()):
        return None
    # The run (along, slope) lies in each of the planes; by least squares.
    return float(-(planes[:, 2] @ (planes[:, :2] @ along)) / (planes[:, 2] @ planes[:, 2]))
