"""An ear as an implicit surface, negative inside, on a grid of points.

Smooth unions of a swept helix, a sheet with scapha, antihelix and concha pressed into it, a
tragus, an antitragus, a lobe, and the head's skin behind.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from scipy.ndimage import distance_transform_edt, gaussian_filter
from skimage.draw import polygon2mask

from calibration.frames import Array
from sample_images.curves import (
    ANTIHELIX,
    HELIX,
    INFERIOR_CRUS,
    LENGTH_MM,
    OUTLINE_END,
    SUPERIOR_CRUS,
    UPPER_RIM,
    WIDTH_MM,
    Line,
)
from sample_images.parameters import EarParameters

LOW = np.array([-25.0, -40.0, -3.0])
HIGH = np.array([26.0, 40.0, 24.0])
SHEET_MM = 2.4


@dataclass(frozen=True, slots=True)
class Grid:
    """Points at even steps: x (X,), y (Y,), z (Z,), mm."""

    x: Array
    y: Array
    z: Array
    step_mm: float

    @classmethod
    def of(cls, step_mm: float) -> Grid:
        """Return the grid that holds an ear, at that step."""
        axes = [np.arange(a, b + step_mm / 2, step_mm) for a, b in zip(LOW, HIGH, strict=True)]
        return cls(axes[0], axes[1], axes[2], step_mm)

    def plane(self) -> Array:
        """Return the points of one layer, (X * Y, 2)."""
        x, y = np.meshgrid(self.x, self.y, indexing="ij")
        return np.column_stack([x.ravel(), y.ravel()])

    def spread(self, layer: Array) -> Array:
        """Return a layer's values, (X * Y,), ready for all heights, (X, Y, 1)."""
        return layer.reshape(len(self.x), len(self.y), 1)


def smooth_min(a: Array, b: Array, width: float) -> Array:
    """Return the smaller of two fields with the seam rounded over ``width`` mm."""
    mix = np.clip(0.5 + 0.5 * (b - a) / width, 0.0, 1.0)
    return np.asarray(b + (a - b) * mix - width * mix * (1.0 - mix))


def smooth_max(a: Array, b: Array, width: float) -> Array:
    """Return the larger of two fields with the seam rounded over ``width`` mm."""
    return -smooth_min(-a, -b, width)


def step(x: Array) -> Array:
    """Return 0 to 1 as x goes from 0 to 1, smoothly."""
    t = np.clip(x, 0.0, 1.0)
    return np.asarray(t * t * (3.0 - 2.0 * t))


def helix_line(ear: EarParameters) -> Line:
    """Return the helix's line of that ear."""
    return Line(HELIX, _scale(ear))


def _scale(ear: EarParameters) -> tuple[float, float]:
    # Half the band lies outside the line on every side.
    return (
        (ear.width_mm - ear.band_mm) / (WIDTH_MM - 5.8),
        (ear.length_mm - ear.band_mm / 2) / (LENGTH_MM - 3.2),
    )


def section(ear: EarParameters, t: Array) -> tuple[Array, Array, Array]:
    """Return half band, half thickness and depth of the rim's middle along its line, mm."""
    rng = np.random.default_rng(ear.seed)
    waves = sum(rng.normal() * np.sin(2 * np.pi * (k * t + rng.random())) / k for k in range(1, 6))
    along = (t - UPPER_RIM[0]) / (UPPER_RIM[1] - UPPER_RIM[0])
    change = 1.0 + ear.taper * (np.clip(along, -0.3, 1.3) - 0.5)
    grow = 0.35 + 0.65 * step(t / 0.16)
    fade = 1.0 - 0.55 * step((t - 0.72) / 0.28)
    half = 0.5 * (ear.band_mm * change * grow * fade + ear.uneven * waves)
    thick = 0.5 * (ear.thickness_mm * (0.5 + 0.5 * change) * grow * fade + ear.uneven * waves)
    sink = 9.0 * (1.0 - step(t / 0.17)) + 3.5 * step((t - 0.74) / 0.26)
    return np.maximum(half, 0.8), np.maximum(thick, 0.7), np.maximum(thick, 0.7) + sink


def _rim(ear: EarParameters, grid: Grid, line: Line) -> Array:
    """Return the swept helix: a rounded section, leaning about the line of its run."""
    distance, t, offset = (grid.spread(part) for part in line.nearest(grid.plane()))
    half, thick, depth = section(ear, t)
    across = np.sign(offset) * distance
    down = grid.z[None, None, :] - depth
    turn = np.deg2rad(ear.lean_deg) * step(t / 0.25)
    u = across * np.cos(turn) + down * np.sin(turn)
    v = -across * np.sin(turn) + down * np.cos(turn)
    main = _oval(u, v, half, thick, ear.roundness)
    shown = step((t - 0.2) / 0.08)
    lip = _oval(u + 0.58 * half + ear.lip_mm * shown, v + 0.4 * thick, 0.5 * half, 0.5 * thick, 2.0)
    return smooth_min(main, lip, 0.8)


def _oval(u: Array, v: Array, half: Array, thick: Array, n: float) -> Array:
    reach = (np.abs(u / half) ** n + np.abs(v / thick) ** n) ** (1.0 / n)
    return np.asarray((reach - 1.0) * np.minimum(half, thick))


def _ridge(points: Array, line: Line, height: float, width: float) -> Array:
    distance, _, _ = line.nearest(points)
    return height * np.exp(-0.5 * (distance / width) ** 2)


def _front(ear: EarParameters, grid: Grid, line: Line) -> Array:
    """Return the sheet's front as depth z, (X, Y, 1): scapha, antihelix, concha."""
    points, scale = grid.plane(), _scale(ear)
    distance, t, offset = line.nearest(points)
    half, _, depth = section(ear, t)
    x, y = points[:, 0] / scale[0], points[:, 1] / scale[1]
    floor = ear.relief_mm + 1.5 * step((y - 8.0) / 16.0)
    lines = ((ANTIHELIX, 1.0, 2.5), (SUPERIOR_CRUS, 0.7, 2.0), (INFERIOR_CRUS, 0.7, 1.9))
    ridges = [
        _ridge(points, Line(run, scale), share * ear.antihelix_mm, width)
        for run, share, width in lines
    ]
    ridge = np.logaddexp.reduce(3.0 * np.array(ridges), axis=0) / 3.0 - np.log(3) / 3.0
    bowl = np.hypot((x + 4.2) / 8.4, (y - 4.8) / 11.2)
    upper = np.hypot((x + 5.5) / 7.0, (y + 5.0) / 5.4)
    inside = smooth_min(bowl, upper, 0.4)
    concha = ear.concha_mm * (1.0 - step((inside - 0.55) / 0.5))
    # Under the rim the sheet rises into its outer part; how far back it does is the curl.
    under = step((np.sign(offset) * distance / half + ear.curl) / 0.9)
    rise = under * (floor - depth) * step((t - 0.16) / 0.08)
    lobe = 2.5 * np.exp(-0.5 * (np.hypot(x + 4.0, y - 24.0) / 5.5) ** 2)
    shape = (len(grid.x), len(grid.y))
    soft = gaussian_filter((floor - ridge + concha - lobe).reshape(shape), 0.9 / grid.step_mm)
    return np.asarray(soft[:, :, None] - grid.spread(rise))


def _outline(grid: Grid, ear: EarParameters, line: Line) -> Array:
    """Return the signed distance to the ear's outline in the plane, (X, Y, 1), negative inside."""
    scale = np.asarray(_scale(ear))
    edge = line.points[line.at > 0.13]
    around = np.concatenate([edge, np.asarray(OUTLINE_END) * scale])
    cells = (around - [grid.x[0], grid.y[0]]) / grid.step_mm
    inside = polygon2mask((len(grid.x), len(grid.y)), cells)
    signed = distance_transform_edt(~inside) - distance_transform_edt(inside)
    return np.asarray(gaussian_filter(signed * grid.step_mm, 1.0))[:, :, None]


def _blob(
    grid: Grid, centre: tuple[float, float, float], radii: tuple[float, float, float]
) -> Array:
    x, y, z = np.meshgrid(grid.x, grid.y, grid.z, indexing="ij", sparse=True)
    reach = np.sqrt(
        ((x - centre[0]) / radii[0]) ** 2
        + ((y - centre[1]) / radii[1]) ** 2
        + ((z - centre[2]) / radii[2]) ** 2
    )
    return np.asarray((reach - 1.0) * min(radii))


def head_depth(x: Array, y: Array) -> Array:
    """Return how deep the head's skin lies, mm: the cheek in front, further back behind."""
    curve = 0.0012 * (np.abs(x) - 25.0).clip(0.0) ** 2 + 0.0006 * (y - 5.0) ** 2
    return np.asarray(11.5 + 8.0 * step((x + 16.0) / 24.0) + curve)


def field(ear: EarParameters, grid: Grid) -> Array:
    """Return the implicit surface's values, (X, Y, Z) mm, negative inside."""
    line, scale = helix_line(ear), _scale(ear)
    rim = _rim(ear, grid, line)
    middle = _front(ear, grid, line) + SHEET_MM / 2
    sheet = np.abs(grid.z[None, None, :] - middle) - SHEET_MM / 2
    sheet = smooth_max(sheet, _outline(grid, ear, line), 1.2)
    body = smooth_min(rim, sheet, 1.3)
    blobs = (
        ((-12.6, 4.6, 5.4), (3.6, 5.0, 4.6), 4.0),  # tragus
        ((-4.4, 15.6, 5.6), (4.2, 3.0, 3.4), 3.5),  # antitragus
        ((-4.0, 23.5, 5.8), (7.2, 6.4, 3.2), 4.0),  # lobe
    )
    for (x, y, z), radii, seam in blobs:
        body = smooth_min(body, _blob(grid, (x * scale[0], y * scale[1], z), radii), seam)
    wide, high = np.meshgrid(grid.x, grid.y, indexing="ij")
    head = head_depth(wide, high)[:, :, None] - grid.z[None, None, :]
    behind = _blob(grid, (-4.0, 0.0, 15.0), (9.0, 17.0, 8.0))  # where the ear grows from the head
    body = smooth_min(body, smooth_min(head, behind, 3.0), 2.5)
    rng = np.random.default_rng(ear.seed + 1000)
    bumps = gaussian_filter(rng.standard_normal(body.shape), 3.0 / grid.step_mm)
    return np.asarray(body + ear.uneven * 0.5 * bumps / bumps.std())
