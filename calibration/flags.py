"""What a photo's use for measuring suffers from: seen, meaning, what to do.

One registry: each flag is one line of :data:`FLAGS`.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from types import MappingProxyType
from typing import Literal

import numpy as np

from calibration.find import CardSeen
from calibration.frames import Image
from calibration.lens import LensPrior, contradicted
from calibration.pose import PlaneFit
from calibration.quality import clipped_share

Severity = Literal["note", "warning", "refused"]

TILT_WARN_DEG, TILT_REFUSE_DEG = 10.0, 20.0
NEAR_MM, FAR_MM = 200.0, 350.0
FLAT_RMS_PX = 0.5
SHARP_LEAST = 0.35
CLIPPED_MOST = 0.15
FEW_CORNERS = 16


@dataclass(frozen=True, slots=True)
class FlagKind:
    """A flag's words; ``seen`` is filled with the number."""

    seen: str
    means: str
    do: str
    severity: Severity


FLAGS: Mapping[str, FlagKind] = MappingProxyType(
    {
        "tilt": FlagKind(
            "The ear is seen {value:.0f} degrees off square.",
            "Lengths are less sure.",
            "Hold the phone more squarely to the card, under 10 degrees.",
            "warning",
        ),
        "tilt_over": FlagKind(
            "The ear is seen {value:.0f} degrees off square.",
            "Over 20 degrees it isn't measured by itself; it is kept as one of several views.",
            "Add a photo square-on to the card.",
            "refused",
        ),
        "near": FlagKind(
            "The phone was {value:.0f} mm away, nearer than 200 mm.",
            "So near, a rim that stands off the card is drawn too large.",
            "Hold it 250 to 300 mm away.",
            "warning",
        ),
        "far": FlagKind(
            "The phone was {value:.0f} mm away, further than 350 mm.",
            "So far, a mark is less exact.",
            "Hold it 250 to 300 mm away.",
            "warning",
        ),
        "blurred": FlagKind(
            "The picture is soft at the ear (sharpness {value:.2f} of 1).",
            "Edges and dots can't be marked exactly.",
            "Tap the ear on the phone to focus, hold still and take it again.",
            "warning",
        ),
        "no_edges": FlagKind(
            "No edge is seen within {value:.0f} px of the marks.",
            "Whether the picture is sharp there can't be told.",
            "Look at it enlarged; if it is soft, tap the ear on the phone and take it again.",
            "note",
        ),
        "card_not_flat": FlagKind(
            "The card's corners miss a plane by {value:.2f} px.",
            "The card is not flat, and the scale suffers.",
            "Lay it on something stiff and take the photo again.",
            "warning",
        ),
        "exposure": FlagKind(
            "{value:.0f} % of the ear is burnt out or black.",
            "Edges are lost there.",
            "Turn the ear away from the lamp or the window, without flash.",
            "warning",
        ),
        "few_corners": FlagKind(
            "Only {value:.0f} corners of the card are seen.",
            "Tilt and scale are less sure.",
            "Uncover the card.",
            "warning",
        ),
        "lens_contradicted": FlagKind(
            "The card says that the focal length is {value:.1f} % off what was given.",
            "The photo was zoomed or cropped, or it is of another phone or lens.",
            "Take it without zoom, or make the lens profile anew.",
            "warning",
        ),
        "mirrored": FlagKind(
            "The photo is mirrored.",
            "It is turned back for measuring; left and right were swapped by the phone.",
            "Use the phone's back camera.",
            "note",
        ),
        "low_confidence": FlagKind(
            "Low confidence: the scale comes from an object, not from the scale card.",
            "Tilt and scale are much less sure.",
            "Use the printed scale card.",
            "warning",
        ),
        "print_unverified": FlagKind(
            "The print's check bars weren't read.",
            "The print may be off by 0.6 % and more.",
            "Read both bars with calipers that never touch skin, once a batch.",
            "note",
        ),
    }
)


@dataclass(frozen=True, slots=True)
class Flag:
    """One flag raised on one photo."""

    code: str
    seen: str
    means: str
    do: str
    severity: Severity

    @property
    def sentence(self) -> str:
        """Return the three as one text."""
        return f"{self.seen} {self.means} {self.do}"


def raise_flag(code: str, value: float = 0.0) -> Flag:
    """Return the flag of that code with its number filled in."""
    kind = FLAGS[code]
    return Flag(code, kind.seen.format(value=value), kind.means, kind.do, kind.severity)


def photo_flags(
    *,
    fit: PlaneFit,
    seen: CardSeen | None,
    pixels: Image,
    target_px: tuple[float, float],
    radius_px: float,
    tilt_deg: float,
    distance_mm: float,
    sharpness: float | None,
    print_verified: bool,
    lens: LensPrior | None = None,
) -> tuple[Flag, ...]:
    """Return the flags of a photo whose pose is known.

    Parameters
    ----------
    fit : the camera and pose
    seen : the card, or None where a fallback gave the scale
    pixels : the unmirrored picture
    target_px, radius_px : where the ear is
    tilt_deg, distance_mm : of the line of sight to the ear
    sharpness : at the ear, 0 to 1; None where nothing tells it
    print_verified : whether the check bars were read
    lens : what was known of it beforehand
    """
    clipped = clipped_share(pixels, target_px, radius_px)
    raised = [
        ("tilt", TILT_WARN_DEG < tilt_deg <= TILT_REFUSE_DEG, tilt_deg),
        ("tilt_over", tilt_deg > TILT_REFUSE_DEG, tilt_deg),
        ("near", distance_mm < NEAR_MM, distance_mm),
        ("far", distance_mm > FAR_MM, distance_mm),
        ("no_edges", sharpness is None, radius_px),
        ("blurred", sharpness is not None and sharpness < SHARP_LEAST, sharpness or 0.0),
        ("exposure", clipped > CLIPPED_MOST, 100 * clipped),
    ]
    if seen is None:
        raised.append(("low_confidence", True, 0.0))
    else:
        u_f = float(np.sqrt(fit.covariance[0, 0]))
        off = lens is not None and lens.source == "given" and contradicted(lens, fit.camera.fx, u_f)
        moved = 100 * (fit.camera.fx / lens.camera.fx - 1) if lens else 0.0
        raised += [
            ("lens_contradicted", off, abs(moved)),
            ("card_not_flat", fit.rms_px > FLAT_RMS_PX, fit.rms_px),
            ("few_corners", fit.corners < FEW_CORNERS, fit.corners),
            ("mirrored", seen.mirrored, 0.0),
            ("print_unverified", not print_verified, 0.0),
        ]
    return tuple(raise_flag(code, value) for code, holds, value in raised if holds)
