"""How much a straightened picture looks like a rim's edge at each place: 0 not at all, 1 wholly.

Columns run outward, away from the middle of the ear.  The outer contour is a step from the
rim's skin to another texture; the inner crease is the place where a dark valley's outer wall
begins to rise.
"""

from __future__ import annotations

import numpy as np
from scipy.ndimage import gaussian_filter1d, uniform_filter1d

from calibration.frames import Array
from tracing.light import Light

STEP_WINDOW_MM = 0.6
"""What is compared on both sides of an outer edge."""

STEP_FLOOR = 0.12
"""Spread of log light that skin shows within such a window by itself."""

SKIN_SPREAD = 0.6
"""How far the rim's skin may differ in log light from the skin near the taps."""

SKIN_COLOUR, SKIN_TEXTURE, SKIN_SHADE = 0.06, 0.08, 0.8
"""By how much skin behind skin differs: colour, texture and shade, in log light."""

OTHER = 1.4
"""Their joint size from which what lies behind is taken for something else."""

VALLEY_FLOOR = 0.10
"""Bend of log light, times the filter's width squared, that skin shows by itself."""

RISE_FLOOR = 0.12
"""Rise of log light up a valley's wall that skin shows by itself."""

WALL_MM = (0.2, 1.0)
"""Where outward of a crease its wall is looked at."""


def step_evidence(
    strip: Light, column_mm: float, along: float, window_mm: float = STEP_WINDOW_MM
) -> Array:
    """Return the evidence of a step from one texture to another, (S, O).

    Two textures differ in mean or spread; the evidence is 1 less the ratio of likelihoods of
    one normal distribution over both sides and of one for each.

    Parameters
    ----------
    strip : (S, O, 3) array
    column_mm : float
        Width of a column.
    along : float
        Standard deviation of the averaging along the strip, rows.
    """
    values = gaussian_filter1d(strip, along, axis=0)
    squares = gaussian_filter1d(strip**2, along, axis=0)
    width = max(3, round(window_mm / column_mm))
    inside, outside = _windows(values, width)
    inside2, outside2 = _windows(squares, width)
    floor = STEP_FLOOR**2
    within = np.maximum(inside2 - inside**2, 0.0) + floor
    beyond = np.maximum(outside2 - outside**2, 0.0) + floor
    together = (within + beyond) / 2 + (outside - inside) ** 2 / 4
    gain = np.log(together) - (np.log(within) + np.log(beyond)) / 2
    return np.asarray(1.0 - np.exp(-gain.mean(axis=2)), dtype=np.float64)


def _windows(values: Light, width: int) -> tuple[Light, Light]:
    """Return means of the ``width`` columns inward and outward of each, along axis 1."""
    mean = uniform_filter1d(values, width, axis=1, mode="nearest")
    half = width // 2 + 1
    inward, outward = np.empty_like(mean), np.empty_like(mean)
    inward[:, half:], outward[:, :-half] = mean[:, :-half], mean[:, half:]
    inward[:, :half], outward[:, -half:] = mean[:, :1], mean[:, -1:]
    return inward, outward


def skin_likeness(strip: Light, column_mm: float, skin: Array) -> Array:
    """Return how alike what lies inward is to the rim's skin, 0 to 1, (S, O).

    Parameters
    ----------
    skin : (S,) array
        Log light of the rim's skin near each row.
    """
    width = max(3, round(STEP_WINDOW_MM / column_mm))
    inward, _ = _windows(strip.mean(axis=2), width)
    return np.asarray(np.exp(-0.5 * ((inward - skin[:, None]) / SKIN_SPREAD) ** 2))


def otherness(strip: Light, offsets_mm: Array, along: float) -> Array:
    """Return how unlike skin what lies outward of the middle column is, (S,); 1 is just unlike.

    Skin behind skin differs in shade only; cloth, card and hair differ in colour, texture or
    by far more.
    """
    inside = _part(strip, offsets_mm, -2.0, -0.7).mean(axis=1)
    beyond = _part(strip, offsets_mm, 0.3, 1.2)
    step = gaussian_filter1d(beyond.mean(axis=1) - inside, along, axis=0).astype(np.float64)
    texture = gaussian_filter1d(beyond.std(axis=1).mean(axis=1), along).astype(np.float64)
    shade = np.sqrt((step**2).mean(axis=1))
    colour = (step - step.mean(axis=1, keepdims=True)).std(axis=1)
    parts = (colour / SKIN_COLOUR, texture / SKIN_TEXTURE, shade / SKIN_SHADE)
    return np.asarray(np.sqrt(sum(part**2 for part in parts)) / OTHER)


def _part(strip: Light, offsets_mm: Array, low: float, high: float) -> Light:
    return strip[:, (offsets_mm >= low) & (offsets_mm <= high)]


def valley(strip: Light, column_mm: float, sigma_mm: float) -> Array:
    """Return the bend of log light across the strip, times ``sigma_mm`` squared, (S, O)."""
    sigma = max(0.8, sigma_mm / column_mm)
    grey = strip.mean(axis=2, dtype=np.float64)
    return np.asarray(gaussian_filter1d(grey, sigma, axis=1, order=2) * sigma**2)


def valley_evidence(strip: Light, column_mm: float, along: float, sigma_mm: float) -> Array:
    """Return the evidence of a dark valley below an outward wall, (S, O)."""
    smooth = gaussian_filter1d(strip, along, axis=0)
    bend = np.maximum(valley(smooth, column_mm, sigma_mm), 0.0) / VALLEY_FLOOR
    grey = smooth.mean(axis=2, dtype=np.float64)
    near, far = (round(v / column_mm) for v in WALL_MM)
    wall = uniform_filter1d(grey, max(1, far - near), axis=1, mode="nearest")
    reach = min((near + far) // 2, grey.shape[1] - 1)
    ahead = np.concatenate([wall[:, reach:], np.repeat(wall[:, -1:], reach, axis=1)], axis=1)
    rise = np.maximum(ahead - grey, 0.0) / RISE_FLOOR
    return np.asarray(bend**2 / (1.0 + bend**2) * rise**2 / (1.0 + rise**2))
