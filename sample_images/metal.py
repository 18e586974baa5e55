"""What polished metal mirrors: the room with its lamp and the phone, the ear, the post itself."""

from __future__ import annotations

import numpy as np

from calibration.frames import Array
from sample_images.body import Body
from sample_images.skin import albedo

OFF_MM = 0.05
"""How far off a surface rays begin, so that they don't meet it again."""
ROOM, SKY, LAMP = 0.18, 0.45, 3.0
"""Light of the room all round, of the half toward the lamp, and of the lamp itself."""
LAMP_DEG = 14.0
PHONE, PHONE_DEG = 0.8, 25.0
"""What phone and photographer take of the room, about the way back to the lens."""


def mirrored(
    body: Body, surface: tuple[Array, Array], rays: Array, sun: Array, skin: tuple[str, int]
) -> Array:
    """Return the light, (N, 3), that comes by the mirror's way.

    Parameters
    ----------
    surface : places and outward normals, ear frame, (N, 3) each, mm
    rays : (N, 3) array
        From the lens.
    sun : (3,) array
        Toward the lamp.
    skin : its tone, and the seed of its mottle
    """
    places, normals = surface
    ways = rays - 2.0 * np.einsum("nk,nk->n", rays, normals)[:, None] * normals
    hit, at, facing = body.first(places + OFF_MM * normals, ways)
    light = np.tile(_room(ways, -rays, sun)[:, None], (1, 3))
    lit = ROOM + 0.8 * np.clip(facing @ sun, 0.0, None)
    if hit.any():
        light[hit] = albedo(at, *skin) * lit[:, None]
    return light


def _room(ways: Array, back: Array, sun: Array) -> Array:
    """Return how bright the room is on each way, (N,)."""
    to_lamp = np.clip(ways @ sun, -1.0, 1.0)
    to_phone = np.clip(np.einsum("nk,nk->n", ways, back), -1.0, 1.0)
    lamp = LAMP * np.exp(-0.5 * (np.degrees(np.arccos(to_lamp)) / LAMP_DEG) ** 2)
    phone = PHONE * np.exp(-0.5 * (np.degrees(np.arccos(to_phone)) / PHONE_DEG) ** 2)
    return np.asarray((ROOM + SKY * np.clip(to_lamp, 0.0, None)) * (1.0 - phone) + lamp)
