"""A cheap photo of a scene: the card exact to its pixels, the ear as a shaded silhouette.

The card's print is looked up for every pixel through the true camera, distortion included, four
samples a pixel.  What of the ear stands before it is cast by rays, one for each 2 x 2 pixels.
No hair, shadows or skin: those stand in the way of marks, which are not looked for here.
"""

from __future__ import annotations

import io
from dataclasses import dataclass
from functools import lru_cache

import cv2
import numpy as np
from numpy.typing import NDArray
from PIL import Image as Pillow

from benchmarks.scenes import Scene
from calibration.card import Card
from calibration.draw_card import card_png
from calibration.frames import Array, Image
from calibration.lens import Camera, undistort
from sample_images.body import body_of
from sample_images.ears import Ear
from sample_images.hair import BEHIND_MM
from sample_images.scene import Standing
from sample_images.shape import head_depth

CARD_DPI = 600
SAMPLES = 2
CELL_PX = 8
"""The lens is undone at every eighth pixel and between them by straight lines, to 0.001 px."""
RAY_PX = 2
GRAIN_PX = 1000
"""The sensor's noise is drawn for so many pixels each way and laid side by side, to save time."""
INK, PAPER = 0.035, 0.83
SKIN = (0.16, 0.55)
CLOTH = (0.05, 0.7)
"""Reflectances, the least and the most."""

Grey = NDArray[np.float32]


@dataclass(frozen=True, slots=True)
class Take:
    """How the phone took it: drawn anew for every scene."""

    blur_px: float
    noise: float
    gradient: tuple[float, float]
    """Relative change of the light from the picture's middle to its border, right and down."""
    exposure: float
    skin: float
    cloth: float
    quality: int
    covers: tuple[tuple[float, float, float], ...]
    """Discs of skin that lie on the card: middle as a share of the body, radius mm."""
    seed: int


def draw_take(rng: np.random.Generator) -> Take:
    """Return a random take: sharp to a little soft, clean to grainy, evenly lit or not."""
    return Take(
        float(rng.uniform(0.6, 1.4)),
        float(rng.uniform(0.005, 0.02)),
        (float(rng.uniform(-0.35, 0.35)), float(rng.uniform(-0.35, 0.35))),
        float(rng.uniform(0.7, 1.3)),
        float(rng.uniform(*SKIN)),
        float(rng.uniform(*CLOTH)),
        int(rng.integers(80, 96)),
        tuple(
            (float(rng.random()), float(rng.random()), float(rng.uniform(4, 16)))
            for _ in range(int(rng.integers(0, 4)))
        ),
        int(rng.integers(2**31)),
    )


def camera_of(scene: Scene) -> Camera:
    """Return the scene's true camera."""
    (fx, _, cx), (_, fy, cy) = scene.camera[:2].tolist()
    return Camera(fx, fy, cx, cy, tuple(scene.dist.tolist()))


def standing_of(scene: Scene) -> Standing:
    """Return how the scene's ear stands against its card."""
    return Standing(
        scene.card, scene.print_scale, scene.rotation, scene.anchor_ear, scene.anchor_card
    )


def flat_picture(ear: Ear, scene: Scene, take: Take) -> Image:
    """Return the photo, (H, W, 3) grey as RGB, as it comes out of its JPEG."""
    width, height = scene.size_px
    light = np.full((height, width), take.cloth, dtype=np.float32)
    reach = np.full((height, width), np.inf, dtype=np.float32)
    _lay_ear(light, reach, ear, scene, take.skin)
    x0, y0, x1, y1 = box = _card_box(scene)
    if x1 > x0 and y1 > y0:
        behind, printed = light[y0:y1, x0:x1], _covered(scene.card, take)
        light[y0:y1, x0:x1] += sum(
            _card(scene, printed, behind, reach[y0:y1, x0:x1], box, np.array([i, j]) / SAMPLES)
            for i in np.arange(SAMPLES) - (SAMPLES - 1) / 2
            for j in np.arange(SAMPLES) - (SAMPLES - 1) / 2
        ) / np.float32(SAMPLES**2)
    return _developed(light, take)


@lru_cache(maxsize=2)
def _print(card: Card) -> tuple[Grey, Grey]:
    """Return the print's reflectance and its cover (0 to 1), each (h, w)."""
    rgba = np.asarray(Pillow.open(io.BytesIO(card_png(card, CARD_DPI))), dtype=np.float32) / 255
    grey = np.asarray(INK + (PAPER - INK) * rgba[..., 0], dtype=np.float32)
    return grey, np.ascontiguousarray(rgba[..., 3])


def _covered(card: Card, take: Take) -> tuple[Grey, Grey]:
    """Return the print with discs of skin on it."""
    grey, cover = _print(card)
    if not take.covers:
        return grey, cover
    grey = grey.copy()
    for across, down, radius_mm in take.covers:
        at = (round(across * grey.shape[1]), round(down * grey.shape[0]))
        cv2.circle(grey, at, round(radius_mm * CARD_DPI / 25.4), take.skin, -1, cv2.LINE_AA)
    return grey, cover


def _ideal(scene: Scene, box: tuple[int, int, int, int], shift: Array) -> Grey:
    """Return the ideal coordinates of a box of pixels (x0, y0, x1, y1), (h, w, 2)."""
    x0, y0, x1, y1 = box
    columns, rows = (-(-(b - a) // CELL_PX) + 2 for a, b in ((x0, x1), (y0, y1)))
    x = x0 + CELL_PX * (np.arange(columns) - 1) + (CELL_PX - 1) / 2 + shift[0]
    y = y0 + CELL_PX * (np.arange(rows) - 1) + (CELL_PX - 1) / 2 + shift[1]
    at = np.stack(np.meshgrid(x, y), axis=-1).reshape(-1, 2)
    coarse = undistort(camera_of(scene), at).reshape(rows, columns, 2).astype(np.float32)
    size = (columns * CELL_PX, rows * CELL_PX)
    fine = cv2.resize(coarse, size, interpolation=cv2.INTER_LINEAR)
    return np.asarray(fine[CELL_PX:, CELL_PX:][: y1 - y0, : x1 - x0], dtype=np.float32)


def _card_box(scene: Scene) -> tuple[int, int, int, int]:
    """Return the box of pixels that holds the card, within the picture."""
    wide, high = scene.card.body_mm
    edge = np.linspace(0, 1, 9)
    sides = [np.column_stack([wide * edge, np.full(9, y)]) for y in (0.0, high)] + [
        np.column_stack([np.full(9, x), high * edge]) for x in (0.0, wide)
    ]
    seen = scene.pixels(scene.printed(np.concatenate(sides)))
    low, top = np.floor(seen.min(axis=0)) - 2, np.ceil(seen.max(axis=0)) + 3
    x0, y0 = (int(v) for v in np.clip(low, 0, scene.size_px))
    x1, y1 = (int(v) for v in np.clip(top, 0, scene.size_px))
    return x0, y0, x1, y1


def _card(
    scene: Scene,
    printed: tuple[Grey, Grey],
    behind: Grey,
    reach: Grey,
    box: tuple[int, int, int, int],
    shift: Array,
) -> Grey:
    """Return by how much the card changes the light, one sample a pixel."""
    ideal = _ideal(scene, box, shift)
    turn, _ = cv2.Rodrigues(scene.rvec)
    back = np.linalg.inv(np.column_stack([turn[:, :2], scene.tvec])).astype(np.float32)
    x, y = ideal[..., 0], ideal[..., 1]
    w = back[2, 0] * x + back[2, 1] * y + back[2, 2]  # one over the plane's depth
    cells = np.float32(CARD_DPI / 25.4) / np.asarray(scene.print_scale, dtype=np.float32)
    half = np.float32(0.5)
    u = (back[0, 0] * x + back[0, 1] * y + back[0, 2]) / w * cells[0] - half
    v = (back[1, 0] * x + back[1, 1] * y + back[1, 2]) / w * cells[1] - half
    grey, cover = (
        cv2.remap(part, u, v, cv2.INTER_LINEAR, borderMode=cv2.BORDER_CONSTANT, borderValue=0)
        for part in printed
    )
    nearer = np.sqrt(1 + x * x + y * y) < reach * w
    return np.where(nearer, cover * (grey - behind), np.float32(0))


def _lay_ear(light: Grey, reach: Grey, ear: Ear, scene: Scene, skin: float) -> None:
    """Lay the ear and the head's skin about it over the cloth; note the ear's reach.  In place."""
    standing = standing_of(scene)
    seen = scene.pixels(standing.to_card(ear.vertices[:: max(1, len(ear.vertices) // 4000)]))
    x0, y0 = (int(v) for v in np.clip(seen.min(axis=0) - 10, 0, scene.size_px) // RAY_PX * RAY_PX)
    x1, y1 = (int(v) for v in np.clip(seen.max(axis=0) + 10, 0, scene.size_px) // RAY_PX * RAY_PX)
    if x1 <= x0 or y1 <= y0:
        return
    x, y = np.meshgrid(np.arange(x0, x1, RAY_PX) + 0.5, np.arange(y0, y1, RAY_PX) + 0.5)
    ideal = undistort(camera_of(scene), np.column_stack([x.ravel(), y.ravel()]))
    turn, _ = cv2.Rodrigues(scene.rvec)
    rays = np.column_stack([ideal, np.ones(len(ideal))]) @ turn
    rays = rays / np.linalg.norm(rays, axis=1, keepdims=True) @ scene.rotation
    hit, places, normals = body_of(ear).first(np.tile(scene.centre_ear, (len(rays), 1)), rays)
    sun = np.array([-0.45, -0.65, -0.75]) @ scene.rotation
    facing = np.clip(normals @ (sun / np.linalg.norm(sun)), 0.0, None)
    colour = light[y0:y1:RAY_PX, x0:x1:RAY_PX].ravel().copy()
    far = np.full(len(rays), np.inf, dtype=np.float32)
    colour[hit] = skin * (0.4 + 0.7 * facing)
    away = np.linalg.norm(places - scene.centre_ear, axis=1)
    is_ear = places[:, 2] - head_depth(places[:, 0], places[:, 1]) < BEHIND_MM
    far[hit] = np.where(is_ear, away, np.inf)
    block = np.ones((RAY_PX, RAY_PX), dtype=np.float32)
    light[y0:y1, x0:x1] = np.kron(colour.reshape(x.shape), block)
    reach[y0:y1, x0:x1] = np.repeat(np.repeat(far.reshape(x.shape), RAY_PX, 0), RAY_PX, 1)


def _developed(light: Grey, take: Take) -> Image:
    """Return the light as the phone saves it: gradient, blur, noise, tone, JPEG."""
    height, width = light.shape
    right, down = take.gradient
    across = 1 + right * np.linspace(-1, 1, width, dtype=np.float32)
    along = 1 + down * np.linspace(-1, 1, height, dtype=np.float32)
    lit = light * across * along[:, None] * np.float32(take.exposure)
    soft = cv2.GaussianBlur(lit, (0, 0), take.blur_px)
    rng = np.random.default_rng(take.seed)
    tile = np.float32(take.noise) * rng.standard_normal((GRAIN_PX, GRAIN_PX), dtype=np.float32)
    grain = np.tile(tile, (-(-height // GRAIN_PX), -(-width // GRAIN_PX)))[:height, :width]
    bright = soft + grain * np.sqrt(soft)
    tone = np.linspace(0, 2, 4096, dtype=np.float32)
    curve = (255 * np.clip(1.055 * np.maximum(tone, 1e-6) ** (1 / 2.4) - 0.055, 0, 1)).round()
    at = np.clip(bright * np.float32(4095 / 2), 0, 4095).astype(np.uint16)
    coded = curve.astype(np.uint8)[at]
    done, data = cv2.imencode(".jpg", coded, [cv2.IMWRITE_JPEG_QUALITY, take.quality])
    grey = cv2.imdecode(data, cv2.IMREAD_GRAYSCALE) if done else None
    if grey is None:
        raise RuntimeError("the picture could not be coded")
    return np.asarray(np.repeat(grey[..., None], 3, axis=2), dtype=np.uint8)
