"""Skin drawn by formula, with spots of known place; nothing of the renderer or the finder."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import cv2
import numpy as np
import pytest

from calibration.frames import Array, Image

SKIN = np.array([0.60, 0.42, 0.33])
INKS = {
    "violet": np.array([0.33, 0.21, 0.54]),
    "black": np.array([0.14, 0.13, 0.14]),
    "blue": np.array([0.18, 0.34, 0.65]),
}
"""What share of red, green and blue is left under the ink."""


@dataclass(frozen=True)
class Patch:
    """How a spot is drawn: place and half axes (px), what it leaves of the light, its border.

    ``length_px`` draws it out to a stroke of that length more; what ``hides`` covers what was
    drawn before it, as bare skin of that light.
    """

    at: tuple[float, float]
    half_axes: tuple[float, float]
    leaves: Array
    turn_rad: float = 0.0
    soft_px: float = 0.0
    length_px: float = 0.0
    hides: bool = False


def skin(
    patches: Sequence[Patch],
    *,
    size: tuple[int, int] = (120, 120),
    blur_px: float = 0.9,
    noise: float = 0.008,
    seed: int = 1,
) -> Image:
    """Return skin under sloping light with spots on it, (H, W, 3), sampled 5 x 5 a pixel."""
    fine = 5
    width, height = size
    y, x = (np.mgrid[: height * fine, : width * fine] + 0.5) / fine - 0.5
    bare = (0.7 + 0.25 * x / width + 0.1 * y / height)[..., None] * SKIN
    light = bare
    for patch in patches:
        dx, dy = x - patch.at[0], y - patch.at[1]
        c, s = np.cos(patch.turn_rad), np.sin(patch.turn_rad)
        along = np.maximum(np.abs(c * dx + s * dy) - patch.length_px / 2, 0.0)
        rho = np.hypot(along / patch.half_axes[0], (-s * dx + c * dy) / patch.half_axes[1])
        edge = max(patch.soft_px / min(patch.half_axes), 1e-6)
        cover = np.clip((1.0 - rho) / edge + 0.5, 0.0, 1.0)[..., None]
        under = bare if patch.hides else light
        light = light * (1.0 - cover) + under * cover * patch.leaves
    return photographed(light, fine, blur_px=blur_px, noise=noise, seed=seed)


def photographed(light: Array, fine: int, *, blur_px: float, noise: float, seed: int) -> Image:
    """Return light, sampled ``fine`` x ``fine`` a pixel, as a camera codes it (sRGB)."""
    height, width = light.shape[0] // fine, light.shape[1] // fine
    light = light.reshape(height, fine, width, fine, 3).mean(axis=(1, 3))
    light = cv2.GaussianBlur(light, (0, 0), blur_px)
    light = light + noise * np.random.default_rng(seed).standard_normal(light.shape)
    light = np.clip(light, 0.0, 1.0)
    coded = np.where(light <= 0.0031308, 12.92 * light, 1.055 * light ** (1 / 2.4) - 0.055)
    return np.asarray((coded * 255).round(), dtype=np.uint8)


@pytest.fixture(params=INKS)
def ink(request: pytest.FixtureRequest) -> Array:
    """Each of the pens."""
    return INKS[request.param]
