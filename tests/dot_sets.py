"""Pen dots before a card and photos of them, by plain geometry: no ear, no mesh."""

from __future__ import annotations

from dataclasses import dataclass, replace

import cv2
import numpy as np

from calibration.card import FRAME
from calibration.lens import Camera, LensPrior
from calibration.pose import PlaneFit, fit_plane
from calibration.view_photo import Mark, ViewPhoto, view_photo
from sample_images.scene import look_at

SIZE = (4000, 3000)
MIDDLE = np.array([69.0, 62.0, -3.0])


def _at(x: float, y: float, z: float) -> np.ndarray:
    return MIDDLE + np.array([x, y, z])


DOTS = {
    "A/entry": _at(0.3, -3.6, 0.5),
    "A/exit": _at(-0.2, 3.5, 0.8),
    "A/crest": _at(0.0, 0.2, -2.5),
    "A/floor": _at(0.1, 6.0, 2.4),
}
TIES = {
    "tie: antihelix": _at(3.0, 9.0, 3.0),
    "tie: lobe": _at(-8.0, 26.0, 3.5),
    "tie: behind": _at(10.0, 4.0, 2.0),
}
ELEVATIONS = (0.0, 20.0, 35.0, -28.0, -45.0)
ASIDE = (2.0, 18.0, -18.0, 18.0, -18.0)


@dataclass(frozen=True)
class DotSet:
    """Photos of dots with the truth: cameras before the card, dots by name, (3,) mm."""

    photos: list[ViewPhoto]
    cameras: list[PlaneFit]
    dots: dict[str, np.ndarray]


def hidden(name: str, elevation: float) -> bool:
    """Return whether the rim hides a dot: entries from below, exits from above."""
    return (name.endswith("entry") and elevation < 10) or (
        name.endswith("exit") and elevation > -15
    )


def dot_set(
    rng: np.random.Generator,
    *,
    u_px: float = 0.5,
    ties: bool = True,
    moves: dict[int, np.ndarray] | None = None,
    elevations: tuple[float, ...] = ELEVATIONS,
    u_f_rel: float = 0.03,
    hide: bool = True,
    print_scale: tuple[float, float] = (1.0, 1.0),
) -> DotSet:
    """Return a set of photos; ``moves`` shifts the card in some of them, (3,) mm by index."""
    focal = float(rng.uniform(2700, 3400))
    centre = np.array([1999.5, 1499.5])
    off = 10.0 * rng.standard_normal(2)
    camera = Camera(focal, focal, *(centre + off).tolist(), (float(rng.uniform(-0.04, 0.04)),))
    told = focal * (1 + u_f_rel * rng.standard_normal())
    prior = LensPrior(Camera(told, told, *centre.tolist()), u_f_rel, 0.05, "exif")
    printed = FRAME.corners_mm(FRAME.corner_ids)
    flat = np.column_stack([printed * print_scale, np.zeros(len(printed))])
    dots = DOTS | TIES if ties else DOTS
    photos, cameras = [], []
    for i, elevation in enumerate(elevations):
        true = _camera(rng, camera, elevation, ASIDE[i % len(ASIDE)])
        corners = true.project(flat) + 0.1 * rng.standard_normal(printed.shape)
        fit = fit_plane(corners, printed, prior)
        assert isinstance(fit, PlaneFit)
        shift = (moves or {}).get(i, np.zeros(3))
        marks = {
            name: _mark(true, at + shift, u_px, rng)
            for name, at in dots.items()
            if not (hide and hidden(name, elevation))
        }
        photos.append(view_photo(f"photo {i}", "phone", prior, fit, (corners, printed), marks))
        cameras.append(true)
    return DotSet(photos, cameras, dots)


def _camera(rng: np.random.Generator, camera: Camera, elevation: float, aside: float) -> PlaneFit:
    rise, turn = np.deg2rad([elevation, aside + rng.normal(0.0, 2.0)])
    sight = np.array([np.sin(turn) * np.cos(rise), -np.sin(rise), -np.cos(turn) * np.cos(rise)])
    rvec, tvec = look_at(MIDDLE + rng.uniform(200, 300) * sight, MIDDLE, rng.normal(0.0, 5.0))
    return PlaneFit(camera, rvec, tvec, np.zeros((8, 8)), 0.0, 0)


def _mark(camera: PlaneFit, at: np.ndarray, u_px: float, rng: np.random.Generator) -> Mark:
    x, y = camera.project(at[None])[0] + u_px * rng.standard_normal(2)
    return Mark((float(x), float(y)), u_px)


def moved_mark(photo: ViewPhoto, name: str, by_px: tuple[float, float]) -> ViewPhoto:
    """Return the photo with one mark in the wrong place."""
    mark = photo.marks[name]
    at = (mark.at_px[0] + by_px[0], mark.at_px[1] + by_px[1])
    return photo.with_marks({**photo.marks, name: replace(mark, at_px=at)})


def opencv(camera: Camera) -> tuple[np.ndarray, np.ndarray]:
    """Return OpenCV's matrix and distortion."""
    return camera.matrix, camera.coefficients


def projected(camera: PlaneFit, points: np.ndarray) -> np.ndarray:
    """Return what OpenCV alone makes of points, (N, 2) px."""
    matrix, dist = opencv(camera.camera)
    seen, _ = cv2.projectPoints(points, camera.rvec, camera.tvec, matrix, dist)
    return seen.reshape(-1, 2)
