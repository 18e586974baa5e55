"""Skin, hair and noise: procedures that make a mesh look photographed."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from scipy.ndimage import gaussian_filter, map_coordinates

from calibration.frames import Array
from sample_images.scene import Look, Spot

TONES: dict[str, tuple[float, float, float]] = {
    "light": (0.74, 0.50, 0.40),
    "olive": (0.58, 0.39, 0.28),
    "brown": (0.38, 0.23, 0.155),
    "dark": (0.20, 0.12, 0.085),
}
"""Linear reflectance of skin, red green blue."""


@dataclass(frozen=True)
class Noise:
    """Smooth noise in space, about 0 with standard deviation 1, from a block of numbers."""

    block: Array
    cell_mm: float

    @classmethod
    def of(cls, seed: int, cell_mm: float, smooth: float = 1.0) -> Noise:
        """Return noise whose grain is about ``cell_mm``."""
        rng = np.random.default_rng(seed)
        block = gaussian_filter(rng.standard_normal((48, 48, 48)), smooth, mode="wrap")
        return cls(block / block.std(), cell_mm)

    def at(self, points: Array) -> Array:
        """Return the noise at points, (N, 3) mm -> (N,)."""
        cells = (points / self.cell_mm).T
        return np.asarray(map_coordinates(self.block, cells, order=1, mode="grid-wrap"))


def albedo(points: Array, tone: str, seed: int) -> Array:
    """Return the skin's linear reflectance at points, (N, 3).

    Mottled, a little redder where the skin is thin (the rim, the lobe).
    """
    base = np.asarray(TONES[tone])
    mottle = Noise.of(seed, 1.6, 1.5).at(points)[:, None]
    fine = Noise.of(seed + 1, 0.25, 1.0).at(points)[:, None]
    thin = np.clip(1.0 - points[:, 2:3] / 6.0, 0.0, 1.0)
    warm = np.array([0.02, -0.035, -0.03]) * (0.6 * thin + 0.5 * mottle)
    spots = Noise.of(seed + 2, 1.1, 1.0).at(points)[:, None]
    freckles = np.clip(spots - 2.6, 0.0, 0.6) * np.array([-0.12, -0.16, -0.16])
    tinted = base * (1.0 + 0.035 * mottle + 0.03 * fine) + base * warm + freckles
    return np.asarray(np.clip(tinted, 0.02, 1.0))


def scalp(colour: Array, points: Array, look: Look) -> Array:
    """Return reflectances with the skin under the hair darkened, above and behind the ear."""
    if look.behind != "hair":
        return colour
    x, y, z = points.T
    edge = 3.0 * Noise.of(look.seed + 5, 9.0, 1.5).at(points)

    def ramp(way: Array, over: float) -> Array:
        return np.asarray(np.clip((way + edge) / over, 0.0, 1.0))

    above = ramp(-36.0 - y, 5.0) * ramp(x + 42.0, 10.0)
    behind = ramp(x - 27.0, 5.0) * ramp(60.0 - y, 12.0)
    share = (np.maximum(above, behind) * (z > 9.0))[:, None]
    return np.asarray(colour * (1.0 - share) + np.asarray(look.hair) * 1.1 * share)


def paint_spots(colour: Array, points: Array, spots: Sequence[Spot]) -> Array:
    """Return reflectances with spots painted in space, (N, 3).

    Parameters
    ----------
    colour, points : (N, 3) arrays
    spots : pen dots, freckles and the like
    """
    out = colour.copy()
    for spot in spots:
        away = points - np.asarray(spot.at)
        smear = np.asarray(spot.smear_mm)
        length = float(smear @ smear)
        if length > 0.0:
            along = np.clip(away @ smear / length, 0.0, 1.0)
            away = away - along[:, None] * smear
        edge = spot.radius_mm + spot.soft_mm / 2 - np.linalg.norm(away, axis=1)
        ink = np.clip(edge / spot.soft_mm, 0.0, 1.0)[:, None]
        out = out * (1.0 - ink * np.asarray(spot.absorbs))
    return out


def bumped(points: Array, normals: Array, seed: int) -> Array:
    """Return normals tipped by the skin's fine relief, (N, 3)."""
    out = normals.copy()
    for grain, depth in ((0.22, 0.035), (0.7, 0.03)):
        for axis in range(3):
            out[:, axis] += depth * Noise.of(seed + 10 * axis + int(100 * grain), grain).at(points)
    return np.asarray(out / np.linalg.norm(out, axis=1, keepdims=True))


def strands(seed: int, count: int, region: Sequence[float]) -> list[Array]:
    """Return hair-like strands, each (M, 3) mm, that sweep back over a region of x and y."""
    rng = np.random.default_rng(seed)
    x0, y0, x1, y1 = region
    out = []
    for _ in range(count):
        start = np.array([rng.uniform(x0, x1), rng.uniform(y0, y1)])
        heading, bend = rng.normal(0.45, 0.16), rng.normal(0.012, 0.006)
        length = rng.uniform(30, 75)
        s = np.linspace(0, length, 24)
        angle = heading + bend * s
        xy = start + np.column_stack([np.cos(angle), np.sin(angle)]).cumsum(axis=0) * (s[1] - s[0])
        z = np.full(len(s), rng.uniform(10.5, 13.5))
        out.append(np.column_stack([xy, z]))
    return out
