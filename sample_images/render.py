"""Rays through a mesh: soft sun, sky light, soft skin, the printed card, lens and noise."""

from __future__ import annotations

import io
from collections.abc import Sequence
from functools import lru_cache

import cv2
import numpy as np
from PIL import Image as Pillow
from scipy.ndimage import map_coordinates

from calibration.card import Card
from calibration.draw_card import card_png
from calibration.frames import Array, Image
from calibration.lens import undistort
from sample_images.body import Body, Mask, body_of, body_with
from sample_images.ears import Ear
from sample_images.hair import BEHIND_MM, with_hair
from sample_images.metal import OFF_MM, mirrored
from sample_images.scene import Look, Spot, Standing, View
from sample_images.shape import head_depth
from sample_images.skin import albedo, bumped, paint_spots, scalp
from sample_images.worn import Worn

CARD_DPI = 300
SUN_RAYS, SKY_RAYS = 2, 4


def render(
    ear: Ear,
    standing: Standing,
    view: View,
    look: Look,
    spots: Sequence[Spot] = (),
    *,
    worn: Worn | None = None,
    samples: int = 2,
) -> Image:
    """Return the photo, (H, W, 3) RGB.

    Parameters
    ----------
    ear, standing, view, look : the scene
    spots : pen dots and the like on the skin
    worn : the post that is in
    samples : rays each way in a pixel
    """
    width, height = view.size_px
    body = body_of(ear) if worn is None else body_with(ear, worn)
    light = np.zeros((height, width, 3))
    depth = np.zeros((height, width))
    for i in range(samples):
        for j in range(samples):
            shift = (np.array([i, j]) + 0.5) / samples - 0.5
            colour, far = _pass(body, standing, view, look, spots, worn, shift)
            light += colour / samples**2
            depth += far / samples**2
    light = with_hair(light, depth, standing, view, look)
    return _developed(light, look)


def _pass(
    body: Body,
    standing: Standing,
    view: View,
    look: Look,
    spots: Sequence[Spot],
    worn: Worn | None,
    shift: Array,
) -> tuple[Array, Array]:
    """Return linear light, (H, W, 3), and depth behind the head's skin, (H, W), a ray a pixel."""
    width, height = view.size_px
    rays, centre = _rays(view, shift), view.centre_card
    rays_ear = (rays @ standing.rotation) * standing.mirror
    centre_ear = standing.to_ear(centre[None])[0]
    hit, places, normals = body.first(np.tile(centre_ear, (len(rays), 1)), rays_ear)
    sun = _unit((np.asarray(look.light) @ standing.rotation) * standing.mirror)
    normals[np.einsum("nk,nk->n", normals, rays_ear[hit]) > 0] *= -1
    skin = albedo(places, look.tone, look.seed)
    skin = paint_spots(scalp(skin, places, look), places, spots)
    rough = bumped(places, normals, look.seed)
    lit = _shaded(body, places, rough, sun, look.seed + round(97 * shift[0] + 31 * shift[1]))
    soft = np.zeros((width * height, 3))
    soft[hit] = lit
    soft = _scattered(soft.reshape(height, width, 3), hit.reshape(height, width), view)
    shine = _shine(rough, sun, rays_ear[hit])
    soft = soft.reshape(-1, 3)
    if worn is not None:
        metal, bright = _metal(body, worn, (places, normals, rays_ear[hit], lit), sun, look)
        skin[metal] = worn.metal.reflects
        soft[np.flatnonzero(hit)[metal]] = bright
        shine[metal] *= 9.0
    colour = np.tile(np.asarray(look.hair) * 0.6, (width * height, 1))
    colour[hit] = skin * soft[hit] + 0.05 * shine[:, None]
    reach = np.full(width * height, np.inf)
    reach[hit] = np.linalg.norm(places - centre_ear, axis=1)
    depth = np.full(width * height, 99.0)
    depth[hit] = places[:, 2] - head_depth(places[:, 0], places[:, 1])
    if look.behind == "plain" and (depth > BEHIND_MM).any():
        colour[depth > BEHIND_MM] = np.asarray(look.cloth) * (soft[depth > BEHIND_MM].mean() + 0.3)
    _lay_card(colour, depth, reach, body, standing, rays, centre, sun, look)
    return colour.reshape(height, width, 3), depth.reshape(height, width)


def _metal(
    body: Body, worn: Worn, seen: tuple[Array, Array, Array, Array], sun: Array, look: Look
) -> tuple[Mask, Array]:
    """Return where of places, normals, rays and the light there metal is, and its light."""
    metal = worn.holds(seen[0])
    places, normals, rays, lit = (each[metal] for each in seen)
    mirror = mirrored(body, (places, normals), rays, sun, (look.tone, look.seed))
    return metal, (1.0 - worn.metal.polished) * lit + worn.metal.polished * mirror


def _rays(view: View, shift: Array) -> Array:
    """Return the way that each pixel looks, card frame, (H * W, 3)."""
    width, height = view.size_px
    x, y = np.meshgrid(np.arange(width) + shift[0], np.arange(height) + shift[1])
    ideal = undistort(view.camera, np.column_stack([x.ravel(), y.ravel()]))
    turn, _ = cv2.Rodrigues(view.rvec)
    return _unit_rows(np.asarray(np.column_stack([ideal, np.ones(len(ideal))]) @ turn))


def _unit(vector: Array) -> Array:
    return np.asarray(vector / np.linalg.norm(vector))


def _shaded(body: Body, places: Array, normals: Array, sun: Array, seed: int) -> Array:
    """Return the light that falls on places, (N, 3): a soft sun and a hemisphere of sky."""
    rng = np.random.default_rng(seed + 1000)
    start = places + OFF_MM * normals
    count = len(places)
    bright = np.zeros(count)
    for _ in range(SUN_RAYS):
        toward = sun + 0.22 * rng.standard_normal((count, 3))
        toward /= np.linalg.norm(toward, axis=1, keepdims=True)
        bright += body.clear(start, toward)
    bright *= np.clip(normals @ sun, 0.0, None) / SUN_RAYS
    sky = np.zeros(count)
    for _ in range(SKY_RAYS):
        toward = normals + _unit_rows(rng.standard_normal((count, 3)))
        toward /= np.maximum(np.linalg.norm(toward, axis=1, keepdims=True), 1e-9)
        sky += body.clear(start, toward)
    sky /= SKY_RAYS
    warm, cool = np.array([1.12, 1.03, 0.92]), np.array([0.34, 0.37, 0.42])
    bounce = np.array([0.10, 0.07, 0.06]) * (1.0 - sky)[:, None]
    return np.asarray(0.8 * bright[:, None] * warm + sky[:, None] * cool + bounce)


def _unit_rows(rows: Array) -> Array:
    return np.asarray(rows / np.linalg.norm(rows, axis=1, keepdims=True))


def _scattered(light: Array, skin: Mask, view: View) -> Array:
    """Return the light blurred as skin spreads it, red furthest."""
    px_mm = view.camera.fx / float(np.linalg.norm(view.centre_card))
    share = skin.astype(np.float64)
    out = np.empty_like(light)
    for channel, spread_mm in enumerate((0.5, 0.28, 0.16)):
        sigma = max(0.3, spread_mm * px_mm)
        blurred = cv2.GaussianBlur(light[..., channel], (0, 0), sigma)
        weight = cv2.GaussianBlur(share, (0, 0), sigma)
        out[..., channel] = blurred / np.maximum(weight, 1e-3)
    return out


def _shine(normals: Array, sun: Array, rays: Array) -> Array:
    half = _unit_rows(sun - rays)
    facing = np.clip(np.einsum("nk,nk->n", normals, half), 0.0, 1.0)
    return np.asarray(facing**28 + 0.35 * facing**90)


@lru_cache(maxsize=4)
def _texture(card: Card) -> Image:
    return np.asarray(Pillow.open(io.BytesIO(card_png(card, CARD_DPI))))


def _lay_card(
    colour: Array,
    depth: Array,
    reach: Array,
    body: Body,
    standing: Standing,
    rays: Array,
    centre: Array,
    sun: Array,
    look: Look,
) -> None:
    """Lay the card over what lies behind it, in place."""
    texture = _texture(standing.card)
    far = -centre[2] / rays[:, 2]
    at = centre + far[:, None] * rays
    nominal = at[:, :2] / np.asarray(standing.print_scale)
    inside = (
        (nominal >= 0).all(axis=1)
        & (nominal[:, 0] <= standing.card.body_mm[0])
        & (nominal[:, 1] <= standing.card.body_mm[1])
        & (far < reach)
    )
    where = np.flatnonzero(inside)
    cells = nominal[where] * CARD_DPI / 25.4 - 0.5
    sample = [
        map_coordinates(
            texture[..., k].astype(np.float32), cells[:, ::-1].T, order=1, mode="nearest"
        )
        for k in (0, 3)
    ]
    opaque = sample[1][:, None] / 255.0
    places = standing.to_ear(at[where])
    up = _unit((np.array([0.0, 0.0, -1.0]) @ standing.rotation) * standing.mirror)
    lit = _shaded(body, places, np.tile(up, (len(where), 1)), sun, look.seed + 7)
    paper = (0.035 + 0.80 * sample[0][:, None] / 255.0) * lit
    colour[where] = opaque * paper + (1 - opaque) * colour[where]
    depth[where] = np.where(opaque[:, 0] > 0.5, -99.0, depth[where])


def _developed(light: Array, look: Look) -> Image:
    """Return the light as the phone saves it: blur, noise, tone."""
    rng = np.random.default_rng(look.seed + 9)
    soft = cv2.GaussianBlur(light, (0, 0), look.blur_px) if look.blur_px > 0 else light
    grain = look.noise * np.sqrt(np.clip(soft, 0.02, None)) * rng.standard_normal(soft.shape)
    bright = np.clip((np.asarray(soft) + 0.5 * grain) * look.exposure, 0.0, None)
    toned = bright / (1.0 + 0.18 * bright) * 1.18
    coded = np.where(toned <= 0.0031308, 12.92 * toned, 1.055 * toned ** (1 / 2.4) - 0.055)
    return np.asarray((np.clip(coded, 0.0, 1.0) * 255.0).round(), dtype=np.uint8)
