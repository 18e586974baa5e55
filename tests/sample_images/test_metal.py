"""What polished metal mirrors, against the law of reflection."""

from __future__ import annotations

from typing import Any

import numpy as np
import pytest

from calibration.frames import Array
from sample_images.metal import mirrored


class Nothing:
    """A body that no ray meets."""

    def first(self, origins: Array, directions: Array) -> tuple[Any, Array, Array]:
        return np.zeros(len(origins), dtype=bool), np.zeros((0, 3)), np.zeros((0, 3))


@pytest.mark.parametrize("lamp", [(0.6, 0.0, -0.8), (-0.5, 0.5, -0.7071), (0.0, -0.8, -0.6)])
def test_a_ball_shows_the_lamp_where_its_normal_halves_the_angle(
    lamp: tuple[float, float, float],
) -> None:
    """Heron's law: the normal lies midway between the ways to the lamp and to the lens."""
    rng = np.random.default_rng(3)
    normals = rng.standard_normal((20_000, 3))
    normals /= np.linalg.norm(normals, axis=1, keepdims=True)
    normals = normals[normals[:, 2] < 0]  # the side that a lens far away at -z sees
    sun = np.asarray(lamp) / np.linalg.norm(lamp)
    rays = np.tile([0.0, 0.0, 1.0], (len(normals), 1))
    light = mirrored(Nothing(), (normals, normals), rays, sun, ("light", 1))  # type: ignore[arg-type]
    brightest = normals[int(np.argmax(light[:, 0]))]
    midway = sun + np.array([0.0, 0.0, -1.0])
    midway /= np.linalg.norm(midway)
    assert np.degrees(np.arccos(np.clip(brightest @ midway, -1, 1))) < 2.0
