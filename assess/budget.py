"""The first-order budget of a channel: which input brings which part of the variance.

References
----------
JCGM 100:2008, 5.1.2 (law of propagation) with numeric sensitivities, 5.1.3 note 2.
"""

from __future__ import annotations

from collections.abc import Mapping

import numpy as np

from assess.marks import RimPlane
from assess.one_view import MarkedView, sensitivity
from assess.rim_plane import PlaneDraws, on_rim
from calibration.frames import Array

Budget = Mapping[str, float]
"""Input -> its part of the variance (mm²)."""


def span_budget(
    view: MarkedView, ends: tuple[str, str], plane: RimPlane, u_scale: Array, u_common: float
) -> dict[str, float]:
    """Return the parts of the variance of the distance between two marks in the rim's plane.

    Parameters
    ----------
    view : MarkedView
    ends : names of the two marks
    plane : where the rim's plane is, with its u
    u_scale : (3,) array
        Relative standard uncertainty of the card's scale along each axis, independent.
    u_common : float
        The same, shared by all axes.
    """
    at = sensitivity(view)
    count = len(view.points_px)
    start = np.concatenate([at.hits.ravel(), at.centre, [plane.offset_mm, 0, 0], np.ones(3)])
    steps = np.concatenate([np.full(2 * count + 4, 1e-3), np.full(2, 1e-5), np.full(3, 1e-5)])
    moved = start + np.concatenate([np.diag(steps), -np.diag(steps)])
    lengths = _length(moved, count, [view.index(end) for end in ends], view.weights())
    slope = (lengths[: len(start)] - lengths[len(start) :]) / (2 * steps)
    by_hit = slope[: 2 * count].reshape(count, 2)
    by_centre = slope[2 * count : 2 * count + 3]
    by_offset, by_tilt = slope[2 * count + 3], slope[2 * count + 4 : 2 * count + 6]
    by_scale = slope[2 * count + 6 :]
    by_lens = np.einsum("kc,kcp->p", by_hit, at.hits_by_lens) + by_centre @ at.centre_by_lens
    by_mark = np.einsum("kc,kcd->kd", by_hit, at.hits_by_mark)
    parts = {
        f"mark of the {end.rsplit('/', 1)[-1]}": _square(by_mark[view.index(end)])
        * view.sigma_px[end] ** 2
        for end in ends
    }
    parts["card corners, pose and lens"] = float(by_lens @ view.fit.covariance @ by_lens)
    parts["offset of the rim from the card"] = float(by_offset**2) * plane.u_offset_mm**2
    parts["tilt of the rim against the card"] = (
        _square(by_tilt) * float(np.deg2rad(plane.u_tilt_deg)) ** 2
    )
    parts["scale of the print"] = (
        float(np.sum((by_scale * u_scale) ** 2)) + float(by_scale.sum()) ** 2 * u_common**2
    )
    return parts


def _square(vector: Array) -> float:
    return float(vector @ vector)


def _length(inputs: Array, count: int, ends: list[int], weights: Array) -> Array:
    """Return the span for each row of inputs, (R,) mm."""
    hits = inputs[:, : 2 * count].reshape(-1, count, 2)
    centre = inputs[:, 2 * count : 2 * count + 3]
    plane = PlaneDraws(inputs[:, 2 * count + 3], inputs[:, 2 * count + 4 : 2 * count + 6])
    points = on_rim(hits, centre, plane, weights) * inputs[:, None, 2 * count + 6 :]
    return np.asarray(np.linalg.norm(points[:, ends[0]] - points[:, ends[1]], axis=-1))


def shares(parts: Budget) -> list[dict[str, float | str]]:
    """Return the budget as the result file holds it, the largest share first."""
    total = sum(parts.values())
    if total <= 0.0:
        return []
    rows = sorted(parts.items(), key=lambda part: -part[1])
    return [{"input": name, "share": part / total} for name, part in rows if part > 0.0]
