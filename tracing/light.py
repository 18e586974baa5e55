"""A picture as the light that fell on it: differences of its logarithm are ratios of light."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from calibration.frames import Array, Image

Light = NDArray[np.float32]
"""Natural logarithm of light, (H, W, 3); a shadow takes the same from every picture row of it."""

FLOOR = 0.01
"""Added before the logarithm, as a share of white: noise of black pixels stays small."""


def _table() -> NDArray[np.float32]:
    """Return the logarithm of light for each of 256 codes (IEC 61966-2-1, sRGB)."""
    code = np.arange(256) / 255.0
    linear = np.where(code <= 0.04045, code / 12.92, ((code + 0.055) / 1.055) ** 2.4)
    return np.log(linear + FLOOR).astype(np.float32)


_LOG = _table()


def log_light(picture: Image) -> Light:
    """Return the logarithm of a picture's light.

    Parameters
    ----------
    picture : (H, W, 3) array, RGB

    Returns
    -------
    (H, W, 3) array, from ln 0.01 to about 0

    References
    ----------
    IEC 61966-2-1:1999 (sRGB's transfer function).
    """
    return np.asarray(_LOG[picture])


def alike(one: Array, two: Array) -> float:
    """Return how alike the colours are that two things take, (3,) each: their cosine, 1 if so."""
    return float(one @ two) / float(np.linalg.norm(one) * np.linalg.norm(two))


def light_at(light: Light, places: Array) -> Array:
    """Return the light at the pixels nearest to places, (K, 2) px -> (K, 3)."""
    height, width = light.shape[:2]
    x = np.clip(np.rint(places[:, 0]), 0, width - 1).astype(int)
    y = np.clip(np.rint(places[:, 1]), 0, height - 1).astype(int)
    return np.asarray(light[y, x], dtype=np.float64)
