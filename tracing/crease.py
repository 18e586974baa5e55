"""How much a straightened picture speaks for the inner crease at each place.

Columns run outward, away from the middle of the ear.  The crease is where the outer wall of a
dark valley begins to rise.
"""

from __future__ import annotations

import numpy as np
from scipy.ndimage import gaussian_filter1d, uniform_filter1d

from calibration.frames import Array
from tracing import outline
from tracing.light import Light
from tracing.strip import Rows

VALLEY_FLOOR = 0.10
"""Bend of log light, times the filter's width squared, that skin shows by itself."""
RISE_FLOOR = 0.12
"""Rise of log light up a valley's wall that skin shows by itself."""
WALL_MM = (0.2, 1.0)
"""Where outward of a crease its wall is looked at."""
WIDE_VALLEY_MM, VALLEY_MM = 0.32, 0.2
"""Half a valley's width, as it is sought and as it is then followed."""
NO_CREASE, LEAST = 0.06, 0.05
"""Evidence that plain skin gives, and the least that is counted."""
FAINTEST = 0.08
"""Evidence below which there is no crease."""
WEIGHT, EVEN_MM = 2.0, 1.0
"""How much a millimetre of evidence along the line counts, and over which it is averaged."""
ON_MM = 0.16
NO_SKIN = 1.65
"""How unlike skin what lies outward of a crease never is."""
OUT_MM = 0.1
"""How far outward of the sharpest bend of its light the crease lies: skin spreads light, so the
bend is seen on the dark side (fitted to rendered ears)."""


def wide_gain(strip: Light, across_mm: Array, rows: Rows, at: Array) -> Array:
    """Return what speaks for the crease at the places ``at``, mm, (R, P)."""
    shown = _at(_valleys(strip, across_mm, rows.row_mm), across_mm, at - OUT_MM)
    shown = np.maximum(shown - NO_CREASE, 0.0) / (1.0 - NO_CREASE)
    return rows.averaged(WEIGHT * np.log(LEAST + shown))


def gain(strip: Light, across_mm: Array, rows: Rows, at: Array) -> Array:
    """Return what speaks for the crease at the places ``at`` near column 0, mm, (R, P)."""
    averaged = gaussian_filter1d(strip, EVEN_MM / rows.row_mm, axis=0)
    column_mm = float(across_mm[1] - across_mm[0])
    shown = _at(np.maximum(_bend(averaged, column_mm, VALLEY_MM), 0.0), across_mm, at - OUT_MM)
    full = np.maximum(np.quantile(shown, 0.95, axis=1, keepdims=True), 0.02)
    return rows.averaged(WEIGHT * np.log(LEAST + shown / full))


def clearness(strip: Light, across_mm: Array, row_mm: float, along_mm: float) -> Array:
    """Return the evidence of a crease at column 0, (S,); below 1 there is none.

    Skin lies on both sides of one.
    """
    on = np.abs(across_mm + OUT_MM) < ON_MM
    shown = _valleys(strip, across_mm, row_mm)[:, on].max(axis=1)
    calm = gaussian_filter1d(shown, along_mm / row_mm) / FAINTEST
    other = outline.clearness(strip, across_mm, row_mm, along_mm)
    return np.where(other < NO_SKIN, calm, 0.0)


def _valleys(strip: Light, across_mm: Array, row_mm: float) -> Array:
    """Return the evidence of a dark valley below an outward wall, (S, O), from 0 to 1."""
    column_mm = float(across_mm[1] - across_mm[0])
    smooth = gaussian_filter1d(strip, 0.5 / row_mm, axis=0)
    bend = np.maximum(_bend(smooth, column_mm, WIDE_VALLEY_MM), 0.0) / VALLEY_FLOOR
    grey = smooth.mean(axis=2, dtype=np.float64)
    near, far = (round(v / column_mm) for v in WALL_MM)
    wall = uniform_filter1d(grey, max(1, far - near), axis=1, mode="nearest")
    reach = min((near + far) // 2, grey.shape[1] - 1)
    ahead = np.concatenate([wall[:, reach:], np.repeat(wall[:, -1:], reach, axis=1)], axis=1)
    rise = np.maximum(ahead - grey, 0.0) / RISE_FLOOR
    return np.asarray(bend**2 / (1.0 + bend**2) * rise**2 / (1.0 + rise**2))


def _bend(strip: Light, column_mm: float, sigma_mm: float) -> Array:
    """Return the bend of log light across the strip, times ``sigma_mm`` squared, (S, O)."""
    sigma = max(0.8, sigma_mm / column_mm)
    grey = strip.mean(axis=2, dtype=np.float64)
    return np.asarray(gaussian_filter1d(grey, sigma, axis=1, order=2) * sigma**2)


def _at(shown: Array, across_mm: Array, at: Array) -> Array:
    """Return values of columns between them, (S, P)."""
    place = (at - across_mm[0]) / (across_mm[1] - across_mm[0])
    low = np.clip(place.astype(int), 0, len(across_mm) - 2)
    share = place - low
    return np.asarray(shown[:, low] * (1 - share) + shown[:, low + 1] * share)
