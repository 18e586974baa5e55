"""What is known of the lens before the card is looked at."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Literal

import cv2
import numpy as np

from calibration.frames import Array
from calibration.photo import CaptureFacts

U_F_GIVEN, U_F_EXIF, U_F_CARD = 0.01, 0.03, 0.15
U_K1, U_K1_GIVEN = 0.05, 0.01
F_PHONE = 0.8
"""Focal length of a phone's main lens over the photo's long side, about."""

DIAGONAL_35MM = math.hypot(36.0, 24.0)
PLAUSIBLE_35MM = (8.0, 400.0)
"""Beyond these a 35 mm equivalent in EXIF is taken for nonsense."""


@dataclass(frozen=True, slots=True)
class Camera:
    """A pinhole camera with OpenCV's distortion ``(k1, k2, p1, p2, k3)``, px.

    Coefficients left out count as zero; none at all means that the distortion isn't known.
    """

    fx: float
    fy: float
    cx: float
    cy: float
    dist: tuple[float, ...] = ()

    @property
    def matrix(self) -> Array:
        """Return OpenCV's camera matrix, (3, 3)."""
        rows = [[self.fx, 0.0, self.cx], [0.0, self.fy, self.cy], [0.0, 0.0, 1.0]]
        return np.array(rows, dtype=np.float64)

    @property
    def coefficients(self) -> Array:
        """Return all five distortion coefficients, (5,)."""
        return np.array((*self.dist, *(0.0,) * 5)[:5], dtype=np.float64)


@dataclass(frozen=True, slots=True)
class LensPrior:
    """A camera and how well it is known: relative u of f, u of k1, and by what."""

    camera: Camera
    u_f_rel: float
    u_k1: float
    source: Literal["given", "exif", "card"]


def contradicted(prior: LensPrior, focal_px: float, u_f_rel: float) -> bool:
    """Return whether the card in a photo contradicts the focal length known beforehand.

    What a fit moves an estimate from its prior has the variance that it took away from it
    (both being normal); two-sided at 1 %.

    Parameters
    ----------
    prior : as it entered the fit
    focal_px, u_f_rel : the fit's focal length, px, and its relative u
    """
    moved = math.log(focal_px / prior.camera.fx)
    gained = max(prior.u_f_rel**2 - u_f_rel**2, 0.0)
    return abs(moved) > 2.576 * math.sqrt(gained) and abs(moved) > 0.1 * prior.u_f_rel


def lens_prior(
    facts: CaptureFacts, given: Camera | None = None, u_f_rel: float | None = None
) -> LensPrior:
    """Return the lens as told, as EXIF has it, or as phones usually are.

    EXIF's 35 mm equivalent is taken by the diagonal.  Some phones count the digital zoom in
    it and some don't: with a zoom both are as likely, and u spans them.

    Parameters
    ----------
    facts : the photo's size and EXIF
    given : a camera from a profile or the marks
    u_f_rel : its relative standard uncertainty of f, 1 % if absent
    """
    if given is not None:
        u_f = U_F_GIVEN if u_f_rel is None else max(u_f_rel, 1e-6)
        return LensPrior(given, u_f, U_K1_GIVEN if given.dist else U_K1, "given")
    centre = ((facts.width - 1) / 2, (facts.height - 1) / 2)
    low, high = PLAUSIBLE_35MM
    if facts.focal_35mm is not None and low <= facts.focal_35mm <= high:
        zoom = max(facts.digital_zoom or 1.0, 1.0)
        middle = facts.focal_35mm * math.sqrt(zoom)
        focal = middle / DIAGONAL_35MM * math.hypot(facts.width, facts.height)
        u_f = math.hypot(U_F_EXIF, math.log(zoom) / 2)
        return LensPrior(Camera(focal, focal, *centre), u_f, U_K1, "exif")
    focal = F_PHONE * max(facts.width, facts.height)
    return LensPrior(Camera(focal, focal, *centre), U_F_CARD, U_K1, "card")


def undistort(camera: Camera, points_px: Array) -> Array:
    """Return ideal normalised image coordinates, (N, 2), of distorted pixels, (N, 2).

    Newton's method on OpenCV's model, to 1e-13; OpenCV's own stops at five fixed-point steps.
    """
    seen = (points_px - [camera.cx, camera.cy]) / [camera.fx, camera.fy]
    ideal = np.array(seen, dtype=np.float64)
    if not camera.coefficients.any():
        return ideal
    for _ in range(30):
        bent, slope = _distorted(camera, ideal)
        gap = bent - seen
        (xx, xy, yy), (gx, gy) = slope, gap.T
        area = xx * yy - xy * xy
        area = np.where(np.abs(area) < 1e-6, 1e-6, area)  # where the lens model folds over
        step = np.column_stack([yy * gx - xy * gy, xx * gy - xy * gx]) / area[:, None]
        ideal -= np.clip(step, -0.3, 0.3)
        if np.abs(step).max(initial=0.0) < 1e-13:
            break
    return ideal


def _distorted(camera: Camera, ideal: Array) -> tuple[Array, tuple[Array, Array, Array]]:
    """Return distorted coordinates and their slope, which is symmetric: xx, xy, yy."""
    k1, k2, p1, p2, k3 = camera.coefficients
    x, y = ideal[:, 0], ideal[:, 1]
    r2 = x * x + y * y
    radial = 1 + r2 * (k1 + r2 * (k2 + r2 * k3))
    growth = k1 + r2 * (2 * k2 + 3 * r2 * k3)
    bent = np.column_stack(
        [
            x * radial + 2 * p1 * x * y + p2 * (r2 + 2 * x * x),
            y * radial + p1 * (r2 + 2 * y * y) + 2 * p2 * x * y,
        ]
    )
    xx = radial + 2 * x * x * growth + 2 * p1 * y + 6 * p2 * x
    xy = 2 * x * y * growth + 2 * p1 * x + 2 * p2 * y
    yy = radial + 2 * y * y * growth + 6 * p1 * y + 2 * p2 * x
    return bent, (xx, xy, yy)


def turn(rvec: Array) -> Array:
    """Return the rotation matrix, (3, 3), of a rotation vector, (3,)."""
    return np.asarray(cv2.Rodrigues(np.asarray(rvec, dtype=np.float64))[0])


def project(camera: Camera, rvec: Array, tvec: Array, points_mm: Array) -> tuple[Array, Array]:
    """Return pixels, (N, 2), and their slope by ``ln f, k1, rvec, tvec``, (2N, 8)."""
    points = np.ascontiguousarray(points_mm, dtype=np.float64).reshape(-1, 1, 3)
    seen, slope = cv2.projectPoints(points, rvec, tvec, camera.matrix, camera.coefficients)
    # OpenCV's columns: rvec, tvec, (fx, fy), (cx, cy), (k1, ...)
    by_f = slope[:, 6] * camera.fx + slope[:, 7] * camera.fy
    columns = np.column_stack([by_f, slope[:, 10], slope[:, 0:6]])
    return np.asarray(seen, dtype=np.float64).reshape(-1, 2), columns
