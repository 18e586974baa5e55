"""Scenes by geometry: a parameter ear, a card, a phone, and what they make of each other.

Nothing here is drawn: points are projected with OpenCV's camera model and jittered.  What the
program is told (focal length from EXIF, the offset as read, the check bars as read) differs
from the truth by draws with the stated uncertainty.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, replace

import cv2
import numpy as np

from calibration.card import FRAME, POCKET, Card
from calibration.frames import Array

SIZE_PX = (4000, 3000)
CORNER_NOISE_PX = 0.1
U_OFFSET_MM = 3.0
U_TILT_DEG = 5.8
U_FOCAL = 0.03
U_BAR_MM = 0.05
CENTRE_SD_PX = 15.0


@dataclass(frozen=True, slots=True)
class Told:
    """What the program is told of a scene."""

    focal_px: float
    offset_mm: float
    u_tilt_deg: float
    check_bar_mm: tuple[float, float]
    u_offset_mm: float = U_OFFSET_MM


@dataclass(frozen=True, slots=True)
class Scene:
    """A camera, a card and where the ear stands: card frame, mm."""

    card: Card
    rotation: Array  # (3, 3) ear -> card
    anchor_ear: Array  # (3,) the channel's middle in the ear's frame ...
    anchor_card: Array  # (3,) ... and in the card's
    camera: Array  # (3, 3)
    dist: Array  # (5,)
    rvec: Array
    tvec: Array
    print_scale: tuple[float, float]
    corner_ids: tuple[int, ...]
    view_tilt_deg: float
    distance_mm: float
    told: Told
    size_px: tuple[int, int] = SIZE_PX

    def shrunk(self, factor: float) -> Scene:
        """Return the scene as a camera of fewer pixels sees it."""
        camera = self.camera.copy()
        camera[:2] *= factor
        camera[:2, 2] += 0.5 * factor - 0.5
        width, height = self.size_px
        return replace(
            self,
            camera=camera,
            told=replace(self.told, focal_px=self.told.focal_px * factor),
            size_px=(round(width * factor), round(height * factor)),
        )

    @property
    def centre_card(self) -> Array:
        """Return the camera's centre in the card frame, (3,) mm."""
        turn, _ = cv2.Rodrigues(self.rvec)
        return np.asarray(-turn.T @ self.tvec)

    @property
    def centre_ear(self) -> Array:
        """Return the camera's centre in the ear's frame, (3,) mm."""
        return np.asarray(self.rotation.T @ (self.centre_card - self.anchor_card) + self.anchor_ear)

    def to_card(self, points: Array) -> Array:
        """Return points of the ear's frame, (N, 3) mm, in the card's."""
        return np.asarray((points - self.anchor_ear) @ self.rotation.T + self.anchor_card)

    def pixels(self, points_card: Array) -> Array:
        """Return where points of the card frame, (N, 3) mm, are seen, (N, 2) px."""
        seen, _ = cv2.projectPoints(
            np.ascontiguousarray(points_card, dtype=np.float64),
            self.rvec,
            self.tvec,
            self.camera,
            self.dist,
        )
        return np.asarray(seen, dtype=np.float64).reshape(-1, 2)

    def printed(self, nominal_mm: Array) -> Array:
        """Return nominal places on the card, (N, 2) mm, where the print has them, (N, 3)."""
        real = nominal_mm * np.asarray(self.print_scale)
        return np.column_stack([real, np.zeros(len(real))])

    def corners_px(self, rng: np.random.Generator) -> Array:
        """Return the card's seen corners with the finder's noise, (N, 2) px."""
        seen = self.pixels(self.printed(self.card.corners_mm(self.corner_ids)))
        return seen + CORNER_NOISE_PX * rng.standard_normal(seen.shape)

    def plain_scale(self) -> float:
        """Return the px per mm of one check bar, the plain way to a scale."""
        length = self.card.check_bar_mm[0]
        y = 0.5 * self.card.board_origin_mm[1]
        start = 0.5 * (self.card.body_mm[0] - length)
        ends = self.pixels(self.printed(np.array([[start, y], [start + length, y]])))
        return float(np.linalg.norm(ends[1] - ends[0]) / length)


def _unit(vector: Array) -> Array:
    return np.asarray(vector / np.linalg.norm(vector))


def _look(centre: Array, target: Array, roll_rad: float) -> tuple[Array, Array]:
    """Return rvec, tvec of a camera at ``centre`` that looks at ``target``, card frame."""
    forward = _unit(target - centre)
    down = np.array([0.0, 1.0, 0.0])
    right = _unit(np.cross(down, forward))
    below = np.cross(forward, right)
    turn = np.stack([right, below, forward])
    roll, _ = cv2.Rodrigues(np.array([0.0, 0.0, roll_rad]))
    turn = roll @ turn
    rvec, _ = cv2.Rodrigues(turn)
    return np.asarray(rvec, dtype=np.float64).reshape(3), np.asarray(-turn @ centre)


def _draw_camera(rng: np.random.Generator) -> Array:
    """Return a phone's camera matrix, (3, 3), its centre a little off the picture's."""
    focal = rng.uniform(0.68, 0.85) * SIZE_PX[0]
    off = CENTRE_SD_PX * rng.standard_normal(2)
    centre = (np.array(SIZE_PX) - 1) / 2 + off
    return np.array([[focal, 0, centre[0]], [0, focal, centre[1]], [0, 0, 1.0]])


def stand(
    card: Card, anchor: Array, tilt_rad: float, azimuth_rad: float, distance: float, roll_rad: float
) -> tuple[Array, Array]:
    """Return rvec, tvec of a phone that sees the anchor from there and the card beside it."""
    aside = np.sin(tilt_rad) * np.array([np.cos(azimuth_rad), np.sin(azimuth_rad)])
    centre = anchor + distance * np.array([*aside, -np.cos(tilt_rad)])
    middle = np.array([*(np.asarray(card.body_mm) / 2), 0.0])
    return _look(centre, 0.5 * (middle + anchor), roll_rad)


def draw_card(rng: np.random.Generator) -> tuple[Card, tuple[float, float]]:
    """Return a card and where the channel's middle goes about, (x, y) mm."""
    return (FRAME, (69.0, 62.0)) if rng.random() < 0.5 else (POCKET, (112.0, 22.0))


def _read_bars(
    rng: np.random.Generator, card: Card, scale: tuple[float, ...]
) -> tuple[float, float]:
    """Return the check bars as calipers read them, mm."""
    across, down = (
        float(bar * s + U_BAR_MM * rng.standard_normal())
        for bar, s in zip(card.check_bar_mm, scale, strict=True)
    )
    return across, down


def draw_scene(
    rng: np.random.Generator,
    anchor_ear: Array,
    *,
    rim_tilt: bool,
    u_offset_mm: float = U_OFFSET_MM,
) -> Scene:
    """Return a random scene about a channel whose middle is ``anchor_ear`` (ear frame, mm)."""
    card, place = draw_card(rng)
    offset = rng.uniform(-10, 10)
    u_tilt = U_TILT_DEG if rim_tilt else 0.0
    rotation, _ = cv2.Rodrigues(np.deg2rad(u_tilt) * np.array([*rng.standard_normal(2), 0.0]))
    anchor = np.array([*(np.asarray(place) + rng.uniform(-4, 4, 2)), -offset])
    tilt, azimuth = np.deg2rad(rng.uniform(0, 20)), rng.uniform(0, 2 * np.pi)
    distance = rng.uniform(150, 400)
    pose = stand(card, anchor, tilt, azimuth, distance, np.deg2rad(rng.normal(0, 5)))
    camera = _draw_camera(rng)
    scale = tuple(1 + rng.uniform(-0.012, 0.012, 2))
    bars = _read_bars(rng, card, scale)
    kept = rng.random(len(card.corner_ids)) > rng.uniform(0, 0.4)
    told = Told(
        float(camera[0, 0]) * (1 + U_FOCAL * rng.standard_normal()),
        offset + u_offset_mm * rng.standard_normal(),
        u_tilt,
        bars,
        u_offset_mm,
    )
    return Scene(
        card,
        np.asarray(rotation),
        anchor_ear,
        anchor,
        camera,
        np.array([rng.uniform(-0.05, 0.05), 0, 0, 0, 0]),
        *pose,
        (float(scale[0]), float(scale[1])),
        tuple(np.asarray(card.corner_ids)[kept].tolist()),
        float(np.rad2deg(tilt)),
        float(distance),
        told,
    )


def seeds(seed: int, count: int) -> Iterator[np.random.Generator]:
    """Yield an independent generator for each scene."""
    for child in np.random.SeedSequence(seed).spawn(count):
        yield np.random.default_rng(child)
