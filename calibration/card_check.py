"""What one photo of the card, lying by itself, says of print, flatness and lens.

The print's size can't be seen in a photo of the print alone: it takes the check bars.  What can
be seen is whether the corners lie as a plane has them, and how far lengths between corners that
the pose did not use come out off what is printed there.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from scipy.spatial.distance import pdist

from calibration.find import CardSeen
from calibration.flags import FLAT_RMS_PX
from calibration.frames import Array
from calibration.lens import Camera, LensPrior
from calibration.pose import PlaneFit, PoseRefused, fit_plane

STRETCHES_MM = ((5.0, 20.0), (20.0, 50.0), (50.0, 200.0))
"""Lengths are judged in these classes: a channel, a rim, the card."""


@dataclass(frozen=True, slots=True)
class Stretch:
    """Lengths between corners of one class, as found in the photo less as printed, mm."""

    from_mm: float
    to_mm: float
    count: int
    rms_mm: float
    most_mm: float


@dataclass(frozen=True, slots=True)
class CardCheck:
    """What the photo says; ``u_f_rel`` as the photo alone leaves it, from a prior of 15 %."""

    card_id: str
    corners: int
    rms_px: float
    flat: bool
    camera: Camera
    u_f_rel: float
    k1: float
    u_k1: float
    stretches: tuple[Stretch, ...]


def check_card(seen: CardSeen, start: Camera) -> CardCheck | PoseRefused:
    """Return what a photo of the card says, or why it says nothing.

    Parameters
    ----------
    seen : the card's corners in the photo
    start : a camera to begin from; it decides nothing
    """
    prior = LensPrior(start, 0.15, 0.2, "card")
    mm = seen.card.corners_mm(seen.corner_ids)
    fit = fit_plane(seen.corners_px, mm, prior)
    if isinstance(fit, PoseRefused):
        return fit
    u = np.sqrt(np.diag(fit.covariance))
    return CardCheck(
        seen.card.id,
        fit.corners,
        fit.rms_px,
        fit.rms_px <= FLAT_RMS_PX,
        fit.camera,
        float(u[0]),
        float(fit.camera.coefficients[0]),
        float(u[1]),
        _lengths(seen.corners_px, mm, prior),
    )


def _lengths(pixels: Array, mm: Array, prior: LensPrior) -> tuple[Stretch, ...]:
    """Return how lengths come out that the pose did not use: each half judges the other."""
    found: list[tuple[Array, Array]] = []
    half = np.arange(len(mm)) % 2 == 0
    for used in (half, ~half):
        fit = fit_plane(pixels[used], mm[used], prior)
        if isinstance(fit, PlaneFit):
            found.append((pdist(fit.on_plane(pixels[~used])), pdist(mm[~used])))
    if not found:
        return ()
    seen, printed = (np.concatenate(part) for part in zip(*found, strict=True))
    rows = []
    for low, high in STRETCHES_MM:
        inside = (printed >= low) & (printed < high)
        gap = (seen - printed)[inside]
        if len(gap):
            rms, most = float(np.sqrt(np.mean(gap**2))), float(np.abs(gap).max())
            rows.append(Stretch(low, high, len(gap), rms, most))
    return tuple(rows)
