"""The baseline's outline on a new photo: where the rim would be seen from the first view.

While it lies beside the rim, the phone isn't where it was.  The outline is laid by the post's
middle, or, before that is marked, where the ear is looked for.
"""

from __future__ import annotations

import numpy as np

from assess.reading import PhotoReading
from assess.recheck_view import LINES, PlaneView
from calibration.frames import Array


def projected_outlines(
    baseline: PlaneView,
    now: PhotoReading,
    offset_mm: float = 0.0,
    post_px: Array | None = None,
    turn_rad: float = 0.0,
) -> dict[str, Array]:
    """Return the baseline's outlines in the new photo as stored, (N, 2) px each, by their kind.

    Parameters
    ----------
    baseline : the baseline's photo in its rectified plane
    now : what the new photo says of its card
    offset_mm : the rim's offset from the card at this visit
    post_px : (2,) array, px of the photo as stored
        Where the post's middle is in it; else where the ear is looked for.
    turn_rad : of the ear against the card since the baseline, where it is known

    Raises
    ------
    ValueError
        If the new photo has no fit.
    """
    if now.fit is None or now.target_px is None:
        raise ValueError("a photo without a fit can't show the outline")
    anchor_px = np.array([now.target_px]) if post_px is None else now.straight(post_px[None])
    anchor = now.fit.on_plane(anchor_px, offset_mm)[0]
    c, s = np.cos(turn_rad), np.sin(turn_rad)
    found: dict[str, Array] = {}
    for kind in LINES:
        own = baseline.line(kind)
        if own:
            flat = (baseline.places[own] - baseline.pivot) @ np.array([[c, s], [-s, c]]) + anchor
            space = np.column_stack([flat, np.full(len(flat), -offset_mm)])
            found[kind] = now.straight(now.fit.project(space))
    return found
