"""A post that is in: its rod and two balls in the ear's frame, for the picture and its truth."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import trimesh
from numpy.typing import NDArray

from calibration.frames import Array
from sample_images.placement import Placement

TOUCH_MM = 0.02


@dataclass(frozen=True, slots=True)
class Metal:
    """Linear reflectance, red green blue, and the share that is mirrored (all invented)."""

    reflects: tuple[float, float, float] = (0.50, 0.49, 0.47)
    polished: float = 0.0


BRUSHED = Metal()


@dataclass(frozen=True, slots=True)
class Worn:
    """A straight post with a ball on each end, along a placement's axis.

    ``length_mm`` lies between the balls; ``above_mm`` is how far the upper ball stands off the
    skin, the rest of the spare length being below.
    """

    placement: Placement
    length_mm: float
    above_mm: float
    gauge_mm: float = 1.2
    ball_mm: float = 3.0
    metal: Metal = BRUSHED

    @property
    def axis(self) -> Array:
        """Return the direction from the exit to the entry, (3,)."""
        way = self.placement.entry - self.placement.exit
        return np.asarray(way / np.linalg.norm(way))

    @property
    def ends(self) -> Array:
        """Return the balls' centres, the entry's first, (2, 3) mm."""
        top = self.placement.entry + (self.above_mm + self.ball_mm / 2) * self.axis
        return np.array([top, top - (self.length_mm + self.ball_mm) * self.axis])

    def mesh(self) -> tuple[Array, NDArray[np.int64]]:
        """Return vertices, (V, 3) mm, and faces, (F, 3)."""
        parts = [trimesh.creation.cylinder(self.gauge_mm / 2, sections=48, segment=self.ends)]
        for end in self.ends:
            ball = trimesh.creation.icosphere(4, self.ball_mm / 2)
            ball.apply_translation(end)
            parts.append(ball)
        starts = np.cumsum([0, *(len(part.vertices) for part in parts)])
        faces = [part.faces + start for part, start in zip(parts, starts, strict=False)]
        return np.concatenate([part.vertices for part in parts]), np.concatenate(faces)

    def holds(self, points: Array) -> NDArray[np.bool_]:
        """Return which points, (N, 3) mm, lie on the post or in it, (N,)."""
        from_top = points - self.ends[0]
        along = np.clip(from_top @ -self.axis, 0.0, self.length_mm + self.ball_mm)
        rod = np.linalg.norm(from_top + along[:, None] * self.axis, axis=1)
        found = rod <= self.gauge_mm / 2 + TOUCH_MM
        for end in self.ends:
            found |= np.linalg.norm(points - end, axis=1) <= self.ball_mm / 2 + TOUCH_MM
        return np.asarray(found)
