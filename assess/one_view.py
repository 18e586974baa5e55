"""One photo's marks as lines of sight, linear in the marks and in the lens and pose.

Refitting lens and pose for every draw gives the same answer at a hundred times the cost.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np

from calibration.frames import Array
from calibration.inputs import ASSUMED_DOF, Input, root_of
from calibration.pose import LEAST_CORNERS, PlaneFit

LENS_LINE = "card corners, pose and lens"
MARK_STEP_PX = 0.01
HEAD_UP = ("head up/from", "head up/to")
"""The marks of a line that points up along the head."""
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
        """Return each mark's part in the middle about which the plane turns, (K,), sum 1."""
        weights = np.array([float(name in self.pivots) for name in self.points_px])
        return np.asarray(weights / weights.sum())


@dataclass(frozen=True, slots=True)
class Sight:
    """Camera centre and hits on the card's plane, and how they answer to the inputs.

    Rows: the centre (3), then each mark's hit (2), mm, card frame.
    """

    view: MarkedView
    estimate: Array  # (3 + 2K,)
    by_lens: Array  # (3 + 2K, 8), by ln f, k1, rvec, tvec
    by_mark: Array  # (K, 2, 2), hit by pixel

    def lens(self) -> Input:
        """Return lens and pose as one input of eight components, as they deviate."""
        fit = self.view.fit
        # Two priors count as observations; a fallback scale has no residuals to judge its u by.
        free = 2.0 * fit.corners + 2.0 - 8.0
        return Input(
            f"card corners: {self.view.name}",
            LENS_LINE,
            np.zeros(8),
            root_of(fit.covariance),
            dof=free if fit.corners >= LEAST_CORNERS else ASSUMED_DOF,
            source=f"{fit.corners} corners of the card, and what is known of the lens",
        )

    def mark_root(self, name: str) -> Array:
        """Return what a mark's own uncertainty moves of its hit, (2, 2) mm."""
        return np.asarray(self.view.sigma_px[name] * self.by_mark[self.view.index(name)])

    def joint(self) -> Input:
        """Return centre and hits as one input whose covariance holds lens, pose and marks.

        Triangular, so that the first marks' draws don't change when marks are added.
        """
        marks = np.zeros((len(self.estimate), 2 * len(self.by_mark)))
        for k, name in enumerate(self.view.points_px):
            marks[3 + 2 * k : 5 + 2 * k, 2 * k : 2 * k + 2] = self.mark_root(name)
        roots = np.concatenate([self.by_lens @ self.lens().root, marks], axis=1)
        upper = np.linalg.qr(roots.T, mode="r")
        signs = np.where(np.diag(upper) < 0.0, -1.0, 1.0)
        name = f"lines of sight: {self.view.name}"
        return Input(name, name, self.estimate, (signs[:, None] * upper).T)


def sight(view: MarkedView) -> Sight:
    """Return the view's lines of sight with their derivatives (central differences)."""
    fit, pixels = view.fit, view.pixels()
    columns = []
    for step, shift in zip(_STEPS, np.diag(_STEPS), strict=True):
        plus, minus = (_centre_and_hits(fit, s * shift, pixels) for s in (1.0, -1.0))
        columns.append((plus - minus) / (2 * step))
    shifts = MARK_STEP_PX * np.array([[1.0, 0.0], [0.0, 1.0]])
    by_mark = [
        (fit.on_plane(pixels + shift) - fit.on_plane(pixels - shift)) / (2 * MARK_STEP_PX)
        for shift in shifts
    ]
    return Sight(
        view,
        _centre_and_hits(fit, np.zeros(8), pixels),
        np.stack(columns, axis=-1),
        np.stack(by_mark, axis=-1),
    )


def _centre_and_hits(fit: PlaneFit, shift: Array, pixels: Array) -> Array:
    moved = fit.with_parameters(fit.parameters + shift)
    return np.concatenate([moved.centre_mm, moved.on_plane(pixels).ravel()])
