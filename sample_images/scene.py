"""What stands where: an ear, the card before or beside it, a phone."""

from __future__ import annotations

from dataclasses import dataclass

import cv2
import numpy as np

from calibration.card import Card
from calibration.frames import Array
from calibration.lens import Camera

PEN = (0.669, 0.788, 0.458)
"""What a violet single-use pen takes of red, green and blue."""


@dataclass(frozen=True)
class View:
    """A phone's place: camera, pose (card frame -> camera)."""

    camera: Camera
    size_px: tuple[int, int]
    rvec: Array
    tvec: Array

    @property
    def centre_card(self) -> Array:
        """Return the camera's centre in the card frame, (3,) mm."""
        turn, _ = cv2.Rodrigues(self.rvec)
        return np.asarray(-turn.T @ self.tvec)

    def pixels(self, points_card: Array) -> Array:
        """Return where points of the card frame, (N, 3) mm, are seen, (N, 2) px."""
        camera = self.camera
        matrix = np.array([[camera.fx, 0, camera.cx], [0, camera.fy, camera.cy], [0, 0, 1.0]])
        dist = np.array((*camera.dist, 0.0, 0.0, 0.0, 0.0, 0.0)[:5])
        points = np.ascontiguousarray(points_card, dtype=np.float64).reshape(-1, 1, 3)
        seen, _ = cv2.projectPoints(points, self.rvec, self.tvec, matrix, dist)
        return np.asarray(seen, dtype=np.float64).reshape(-1, 2)


@dataclass(frozen=True)
class Standing:
    """How the ear stands against the card: ``card = rotation @ (mirror * ear - anchor) + at``."""

    card: Card
    print_scale: tuple[float, float]
    rotation: Array
    anchor_ear: Array
    anchor_card: Array
    right_ear: bool = False

    @property
    def mirror(self) -> Array:
        """Return the factor that makes a right ear of the left one, (3,)."""
        return np.array([-1.0 if self.right_ear else 1.0, 1.0, 1.0])

    def to_card(self, points_ear: Array) -> Array:
        """Return points of the (left) ear's frame, (N, 3) mm, in the card's."""
        turned = (np.asarray(points_ear) - self.anchor_ear) * self.mirror
        return np.asarray(turned @ self.rotation.T + self.anchor_card)

    def to_ear(self, points_card: Array) -> Array:
        """Return points of the card frame in the (left) ear's."""
        back = (np.asarray(points_card) - self.anchor_card) @ self.rotation
        return np.asarray(back * self.mirror + self.anchor_ear)


@dataclass(frozen=True)
class Look:
    """Skin, light and what makes photos hard."""

    tone: str = "light"
    light: tuple[float, float, float] = (-0.45, -0.65, -0.75)
    """Toward the lamp, card frame."""
    hair: tuple[float, float, float] = (0.055, 0.035, 0.025)
    loose_strands: int = 3
    blur_px: float = 0.8
    noise: float = 0.012
    exposure: float = 1.0
    dot_mm: float = 1.0
    seed: int = 1
    behind: str = "hair"
    """What stands behind the rim: ``"hair"``, ``"skin"`` (a shaved head) or ``"plain"`` cloth."""
    cloth: tuple[float, float, float] = (0.3, 0.36, 0.4)


@dataclass(frozen=True, slots=True)
class Spot:
    """A round patch on the skin that takes light away: a pen dot, a freckle, a wiped ghost.

    ``at`` (ear frame, mm) is its centre; ``absorbs`` the share of red, green and blue that it
    takes; its border is ``soft_mm`` wide; ``smear_mm`` stretches it from its centre that way.
    """

    at: tuple[float, float, float]
    radius_mm: float
    absorbs: tuple[float, float, float] = PEN
    soft_mm: float = 0.12
    smear_mm: tuple[float, float, float] = (0.0, 0.0, 0.0)


def look_at(centre: Array, target: Array, roll_deg: float = 0.0) -> tuple[Array, Array]:
    """Return rvec, tvec of a camera at ``centre`` that looks at ``target`` (card frame)."""
    forward = (target - centre) / np.linalg.norm(target - centre)
    right = np.cross(np.array([0.0, 1.0, 0.0]), forward)
    right = right / np.linalg.norm(right)
    turn = np.stack([right, np.cross(forward, right), forward])
    roll, _ = cv2.Rodrigues(np.array([0.0, 0.0, np.deg2rad(roll_deg)]))
    rvec, _ = cv2.Rodrigues(roll @ turn)
    return np.asarray(rvec).reshape(3), np.asarray(-(roll @ turn) @ centre)
