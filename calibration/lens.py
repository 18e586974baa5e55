"""What is known of the lens before the card is looked at."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Literal

from calibration.photo import CaptureFacts

U_F_GIVEN, U_F_EXIF, U_F_CARD = 0.01, 0.03, 0.15
U_K1, U_K1_GIVEN = 0.05, 0.01
F_PHONE = 0.8
"""Focal length of a phone's main lens over the photo's long side, about."""

DIAGONAL_35MM = math.hypot(36.0, 24.0)


@dataclass(frozen=True, slots=True)
class Camera:
    """A pinhole camera with OpenCV's distortion ``(k1, k2, p1, p2, k3)``, px."""

    fx: float
    fy: float
    cx: float
    cy: float
    dist: tuple[float, ...] = (0.0, 0.0, 0.0, 0.0, 0.0)


@dataclass(frozen=True, slots=True)
class LensPrior:
    """A camera and how well it is known: relative u of f, u of k1, and by what."""

    camera: Camera
    u_f_rel: float
    u_k1: float
    source: Literal["given", "exif", "card"]


def lens_prior(
    facts: CaptureFacts, given: Camera | None = None, u_f_rel: float | None = None
) -> LensPrior:
    """Return the lens as told, as EXIF has it, or as phones usually are.

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
    if facts.focal_35mm:
        focal = facts.focal_35mm / DIAGONAL_35MM * math.hypot(facts.width, facts.height)
        return LensPrior(Camera(focal, focal, *centre), U_F_EXIF, U_K1, "exif")
    focal = F_PHONE * max(facts.width, facts.height)
    return LensPrior(Camera(focal, focal, *centre), U_F_CARD, U_K1, "card")
