"""What a picture is worth for measuring: how wide its edges are, how it is exposed."""

from __future__ import annotations

import cv2
import numpy as np
from numpy.typing import NDArray

from calibration.frames import Array, Image

FINE_PX, COARSE_PX = 0.7, 2.0
"""Standard deviations of the two blurs between which an edge's own width is told."""
SLOPE_SIGMAS = 6.0
"""Least slope of an edge to judge by, in sigmas of the coarse picture's noise."""
SLOPE_LEAST = 0.5
"""And at least this many grey levels a pixel, so that a smooth cheek is no edge."""
SLOPE_NOISE = 1.0 / (np.sqrt(8 * np.pi) * COARSE_PX**2)
"""The coarse slope's standard deviation, each axis, where white noise has 1."""
DIFFERENCE = 1.0 / 3.0
"""What a slope from two neighbours adds to a width squared: a box of two pixels, px squared."""
TILES = 6


def _patch(pixels: Image, centre_px: tuple[float, float], radius_px: float) -> Array:
    """Return the grey patch round a place, clipped to the picture."""
    height, width = pixels.shape[:2]
    x, y = (round(v) for v in centre_px)
    reach = max(16, round(radius_px))
    x0, x1 = np.clip([x - reach, x + reach + 1], 0, width)
    y0, y1 = np.clip([y - reach, y + reach + 1], 0, height)
    patch = pixels[y0:y1, x0:x1]
    if patch.ndim == 3 and patch.size:
        patch = np.asarray(cv2.cvtColor(np.ascontiguousarray(patch), cv2.COLOR_RGB2GRAY))
    return np.asarray(patch, dtype=np.float64)


def edge_width_px(pixels: Image, centre_px: tuple[float, float], radius_px: float) -> float | None:
    """Return how wide the sharpest edges round a place are, or None where there are none.

    The width is the standard deviation of the blur, px: 0.5 to 1 in a sharp photo.  It is told
    from how much an edge's slope falls when the picture is blurred further, so it doesn't depend
    on contrast; the slopes are averaged along their edges, so it hardly depends on noise.  The
    patch is looked at in 6 x 6 tiles, and of the tiles that have an edge the sharper quarter
    counts: a soft shadow beside a sharp rim is not defocus.  Up to 3 px it is right to 15 %; wider
    blurs read short in a noisy picture (5 px as 3.7).

    Parameters
    ----------
    pixels : (H, W, 3) or (H, W) array
    centre_px, radius_px : the patch, px
    """
    patch = _patch(pixels, centre_px, radius_px)
    if min(patch.shape, default=0) < 16:
        return None
    fine, coarse = _slopes(patch, FINE_PX), _slopes(patch, COARSE_PX)
    size = np.hypot(*coarse)
    # Along the coarse slope, with its sign: noise that isn't part of the edge averages out.
    along = (fine[0] * coarse[0] + fine[1] * coarse[1]) / np.maximum(size, 1e-9)
    floor = max(SLOPE_LEAST, SLOPE_SIGMAS * SLOPE_NOISE * _noise(patch))
    ridge = np.where(_on_edge(coarse, size), size, 0.0)
    widths = [_width(along[at], ridge[at], floor) for at in _tiles(patch.shape)]
    known = [width for width in widths if width is not None]
    return float(np.quantile(known, 0.25)) if known else None


def sharpness(pixels: Image, centre_px: tuple[float, float], radius_px: float) -> float | None:
    """Return how sharp the picture is round a place: 1 sharp, toward 0 blurred.

    It is 1 / (1 + (w / 2)^2) for edges w px wide (:func:`edge_width_px`): 0.9 at 0.7 px, 0.5 at
    2 px, 0.2 at 4 px.  None where there is no edge to judge by: smooth is not blurred.

    Parameters
    ----------
    pixels : (H, W, 3) or (H, W) array
    centre_px, radius_px : the patch, px
    """
    width = edge_width_px(pixels, centre_px, radius_px)
    return None if width is None else 1.0 / (1.0 + (width / 2.0) ** 2)


def clipped_share(pixels: Image, centre_px: tuple[float, float], radius_px: float) -> float:
    """Return the share of a patch that is burnt out or black."""
    patch = _patch(pixels, centre_px, radius_px)
    if patch.size == 0:
        return 1.0
    return float(np.mean((patch >= 253) | (patch <= 2)))


def _slopes(patch: Array, blur_px: float) -> Array:
    """Return the slope across and down of the blurred patch, (2, H, W), grey levels a px."""
    soft = np.asarray(cv2.GaussianBlur(patch, (0, 0), blur_px), dtype=np.float64)
    return np.stack([np.gradient(soft, axis=1), np.gradient(soft, axis=0)])


def _noise(patch: Array) -> float:
    """Return the noise's standard deviation: the median of what no smooth picture has."""
    kernel = np.array([[1.0, -2, 1], [-2, 4, -2], [1, -2, 1]]) / 6.0
    rough = np.asarray(cv2.filter2D(patch, cv2.CV_64F, kernel))
    return float(np.median(np.abs(rough))) / 0.6745


def _on_edge(slope: Array, size: Array) -> NDArray[np.bool_]:
    """Return the pixels that an edge runs through: no neighbour across it is steeper."""
    rows, columns = np.indices(size.shape, dtype=np.float64)
    across, down = slope / np.maximum(size, 1e-9)
    whole, steepest = size.astype(np.float32), np.ones(size.shape, dtype=bool)
    for sign in (1.0, -1.0):
        at = (columns + sign * across).astype(np.float32), (rows + sign * down).astype(np.float32)
        steepest &= size >= cv2.remap(whole, *at, cv2.INTER_LINEAR) - 1e-6
    return steepest


def _tiles(shape: tuple[int, ...]) -> list[tuple[slice, slice]]:
    rows, columns = (np.linspace(0, side, TILES + 1).astype(int) for side in shape)
    return [
        (slice(rows[i], rows[i + 1]), slice(columns[j], columns[j + 1]))
        for i in range(TILES)
        for j in range(TILES)
    ]


def _width(along: Array, size: Array, floor: float) -> float | None:
    """Return the width of a tile's strongest edge, px."""
    strong: NDArray[np.bool_] = size >= max(floor, 0.7 * float(size.max(initial=0.0)))
    if strong.sum() < 8:
        return None
    ratio = float(along[strong].sum() / size[strong].sum())
    if ratio <= 1.0:  # slopes that a blur doesn't lower: no edge, a ramp
        return None
    # Slopes of a Gaussian edge w wide, blurred by b more: in proportion to 1 / sqrt(w^2 + b^2).
    fine, coarse = FINE_PX**2 + DIFFERENCE, COARSE_PX**2 + DIFFERENCE
    square = (coarse - ratio**2 * fine) / (ratio**2 - 1.0)
    return float(np.sqrt(max(square, 0.0)))
