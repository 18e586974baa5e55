"""Lengths from one photo: its marks as draws in the rim's plane.

A measured point is the meeting of its ray with the rim's plane.  The lens and the pose enter
through their joint covariance, linearised at the fit (refitting per draw gives the same
answer at a hundred times the cost); the plane's offset and tilt enter exactly.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np

from assess.rim_plane import PlaneDraws, on_rim
from calibration.draws import Draws
from calibration.frames import Array
from calibration.pose import PlaneFit

_STEPS = np.array([1e-5, 1e-5, 1e-6, 1e-6, 1e-6, 1e-3, 1e-3, 1e-3])


@dataclass(frozen=True, slots=True)
class MarkedView:
    """A photo's fit and its marks by name: pixels of the unmirrored photo, and their u (px)."""

    name: str
    fit: PlaneFit
    points_px: Mapping[str, tuple[float, float]]
    sigma_px: Mapping[str, float]
    pivots: frozenset[str]
    """Which marks the plane turns about the middle of."""

    def index(self, name: str) -> int:
        """Return the place of a mark among the view's marks."""
        return list(self.points_px).index(name)

    def pixels(self) -> Array:
        """Return all marks, (K, 2) px."""
        return np.array(list(self.points_px.values()), dtype=np.float64).reshape(-1, 2)

    def weights(self) -> Array:
        """Return each mark's part in the middle about which the plane turns, (K,)."""
        return np.array([float(name in self.pivots) for name in self.points_px])


@dataclass(frozen=True, slots=True)
class Sensitivity:
    """How hits (K, 2) and camera centre (3,) answer to the inputs, at the fit."""

    hits: Array
    centre: Array
    hits_by_lens: Array  # (K, 2, 8)
    centre_by_lens: Array  # (3, 8)
    hits_by_mark: Array  # (K, 2, 2)


def sensitivity(view: MarkedView) -> Sensitivity:
    """Return the view's hits on the card's plane with their derivatives (central differences)."""
    fit, pixels = view.fit, view.pixels()
    by_lens, centre_by_lens = [], []
    for i, step in enumerate(_STEPS):
        shift = np.zeros(8)
        shift[i] = step
        plus = fit.with_parameters(fit.parameters + shift)
        minus = fit.with_parameters(fit.parameters - shift)
        by_lens.append((plus.on_plane(pixels) - minus.on_plane(pixels)) / (2 * step))
        centre_by_lens.append((plus.centre_mm - minus.centre_mm) / (2 * step))
    by_mark = [
        (fit.on_plane(pixels + shift) - fit.on_plane(pixels - shift)) / (2 * 0.01)
        for shift in np.array([[0.01, 0.0], [0.0, 0.01]])
    ]
    return Sensitivity(
        fit.on_plane(pixels),
        fit.centre_mm,
        np.stack(by_lens, axis=-1),
        np.stack(centre_by_lens, axis=-1),
        np.stack(by_mark, axis=-1),
    )


def in_rim_plane(view: MarkedView, plane: PlaneDraws, scale: Array, draws: Draws) -> Array:
    """Return draws of the marks' places in space.

    Parameters
    ----------
    view : MarkedView with K marks
    plane : PlaneDraws of M draws
    scale : (M, 3) array
        Factor on the card's millimetres along each of its axes.
    draws : Draws

    Returns
    -------
    (M, K, 3) array, mm, card frame
    """
    at = sensitivity(view)
    root = _root(view.fit.covariance)
    lens = draws.normal(f"card corners: {view.name}", 8) @ root.T
    hits = at.hits + np.einsum("kcp,mp->mkc", at.hits_by_lens, lens)
    for k, name in enumerate(view.points_px):
        jitter = view.sigma_px[name] * draws.normal(f"mark: {view.name}: {name}", 2)
        hits[:, k, :] += jitter @ at.hits_by_mark[k].T
    centre = at.centre + lens @ at.centre_by_lens.T
    return on_rim(hits, centre, plane, view.weights()) * scale[:, None, :]


def _root(covariance: Array) -> Array:
    """Return a matrix whose square is the covariance, which may be singular."""
    values, vectors = np.linalg.eigh(covariance)
    return np.asarray(vectors * np.sqrt(np.clip(values, 0.0, None)))
