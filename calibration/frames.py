"""Axes, the pixel convention and the array types everything else is written in.

Pixels
    ``(0, 0)`` is the *centre* of the top-left pixel, x right, y down, after the EXIF
    orientation is applied.  This is OpenCV's convention and the marks file's.
Card frame (mm)
    Origin at the top-left corner of the card's body, x right, y down, z *into* the card.
    Heights, offsets and relief count toward the viewer, so height = -z.  "Up" is -y.
Camera frame (mm)
    x right, y down, z forward, as OpenCV has it.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

Array = NDArray[np.float64]
"""Floats of any shape; each docstring gives the shape and the unit."""

Image = NDArray[np.uint8]
"""A picture, shape (H, W, 3), RGB, or (H, W), grey."""

UP: Array = np.array([0.0, -1.0])
"""Up in the card's plane."""

TOWARD_VIEWER: Array = np.array([0.0, 0.0, -1.0])
"""Out of the card, the direction in which heights count."""
