"""What a picture is worth for measuring: how wide its edges are, how it is exposed."""

from __future__ import annotations

import cv2
import numpy as np

from calibration.frames import Array, Image


def _patch(pixels: Image, centre_px: tuple[float, float], radius_px: float) -> Array:
    """Return the grey patch round a place, clipped to the picture."""
    height, width = pixels.shape[:2]
    x, y = (round(v) for v in centre_px)
    reach = max(16, round(radius_px))
    x0, x1 = np.clip([x - reach, x + reach + 1], 0, width)
    y0, y1 = np.clip([y - reach, y + reach + 1], 0, height)
    patch = pixels[y0:y1, x0:x1]
    if patch.ndim == 3:
        patch = np.asarray(cv2.cvtColor(np.ascontiguousarray(patch), cv2.COLOR_RGB2GRAY))
    return np.asarray(patch, dtype=np.float64)


def sharpness(pixels: Image, centre_px: tuple[float, float], radius_px: float) -> float:
    """Return how sharp the picture is round a place: 1 sharp, toward 0 blurred.

    The share of fine detail that a blur of one pixel takes away, between 0 (a smooth patch
    loses nothing) and 1, over what it takes from the patch's strongest tenth of edges.  Noise
    is held down by a first blur of 0.7 px.

    Parameters
    ----------
    pixels : (H, W, 3) or (H, W) array
    centre_px, radius_px : the patch, px
    """
    patch = _patch(pixels, centre_px, radius_px)
    if min(patch.shape) < 8:
        return 0.0
    base = np.asarray(cv2.GaussianBlur(patch, (0, 0), 0.7), dtype=np.float64)
    soft = np.asarray(cv2.GaussianBlur(base, (0, 0), 1.5), dtype=np.float64)
    edges = _slopes(base)
    strong = edges >= np.quantile(edges, 0.9)
    before, after = edges[strong].mean(), _slopes(soft)[strong].mean()
    if before < 1.0:  # nothing in the patch to judge by
        return 0.0
    return float(np.clip(2.0 * (before - after) / before, 0.0, 1.0))


def _slopes(patch: Array) -> Array:
    across = cv2.Sobel(patch, cv2.CV_64F, 1, 0, ksize=3)
    down = cv2.Sobel(patch, cv2.CV_64F, 0, 1, ksize=3)
    return np.asarray(np.hypot(across, down) / 8.0)


def edge_width_px(pixels: Image, corners_px: Array, square_px: float) -> float | None:
    """Return the width (standard deviation, px) of the card's printed edges, or None.

    Across the middle of the side between two corners a printed edge runs from black to white;
    its slope's spread is the blur.  Gaussian edges: u of the edge from the largest slope over
    the step (slope = step / (sqrt(2 pi) sigma)).

    Parameters
    ----------
    pixels : (H, W, 3) or (H, W) array
    corners_px : (N, 2) array
        Seen corners of squares.
    square_px : float
        Side of a square as seen, px.
    """
    widths = []
    for corner in corners_px:
        # Between corner and marker a straight edge is clean for a tenth of a square.
        patch = _patch(pixels, (corner[0], corner[1]), 0.4 * square_px)
        step = np.percentile(patch, 90) - np.percentile(patch, 10)
        if step < 30 or min(patch.shape) < 8:
            continue
        largest = np.percentile(_slopes(patch), 99.5)
        widths.append(step / (np.sqrt(2 * np.pi) * max(float(largest), 1e-6)))
    return float(np.median(widths)) if widths else None


def clipped_share(pixels: Image, centre_px: tuple[float, float], radius_px: float) -> float:
    """Return the share of a patch that is burnt out or black."""
    patch = _patch(pixels, centre_px, radius_px)
    if patch.size == 0:
        return 1.0
    return float(np.mean((patch >= 253) | (patch <= 2)))
