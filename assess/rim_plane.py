"""From lines of sight to the rim's plane: where a single view's marks lie in space.

The rim's plane stands ``offset`` in front of the card's, turned by two small angles about
the card's x and y axes.  A single photo can't see either, so both are uncertain inputs,
shared by everything measured in it.  The plane turns about the middle of the marks, since
that is where the offset is read.
"""

from __future__ import annotations

import numpy as np

from calibration.frames import Array


def plane_slopes(tilt_rad: Array) -> Array:
    """Return ``(sx, sy)``, (2, ...): the plane's normal toward the viewer is (sx, sy, -1).

    Parameters
    ----------
    tilt_rad : (2, ...) array
        Turned about the card's x and y axes.
    """
    slope = np.tan(tilt_rad)
    return np.stack([-slope[1], slope[0]])


def on_rim(sight: Array, offset_mm: Array, slopes: Array, weights: Array) -> Array:
    """Return where the lines of sight meet the rim's plane.

    Parameters
    ----------
    sight : (3 + 2K, ...) array, mm, card frame
        The camera's centre, then for each of K marks where its line of sight meets the card's
        plane, x and y.
    offset_mm : (...) array
        Toward the viewer.
    slopes : (2, ...) array
        Of the plane, see ``plane_slopes``.
    weights : (K,) array, sum 1
        How much each mark counts for the middle about which the plane turns.

    Returns
    -------
    (3, K, ...) array, mm, card frame
    """
    centre = sight[:3]
    dx, dy = sight[3::2] - centre[0], sight[4::2] - centre[1]
    level = (offset_mm + centre[2]) / centre[2]  # of the middle's way to the card's plane
    middle = (np.tensordot(weights, dx, 1), np.tensordot(weights, dy, 1))
    reach = level * (slopes[0] * middle[0] + slopes[1] * middle[1] + centre[2])
    stretch = reach / (slopes[0] * dx + slopes[1] * dy + centre[2])
    depth = centre[2] - stretch * centre[2]
    return np.stack([centre[0] + stretch * dx, centre[1] + stretch * dy, depth])
