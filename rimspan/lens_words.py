"""A lens and a photo of the card in words: for commands and screens alike."""

from __future__ import annotations

from calibration.card_check import CardCheck
from calibration.profile import Profile

FOCUS = (
    "A lens that focuses nearer changes its focal length a little: the profile says "
    "{percent:.1f} %. Make it at the distance at which you measure."
)
PRINT_AND_CHAIN = (
    "The print's own size can't be seen in a photo of it: read both check bars with calipers. "
    "To test the whole chain, draw a line on the card, mark its ends as entry and exit with "
    "the rim's offset 0, and hold the result against calipers."
)


def profile_lines(found: Profile) -> list[str]:
    """Return what was found of a lens, a line each."""
    camera, u = found.camera, found.covariance.diagonal() ** 0.5
    return [
        f"lens from {found.photos} photos, seen from up to {found.spread_deg:.0f} deg apart",
        f"focal length {camera.fx:.1f} px, u {camera.fx * u[0]:.1f} px ({100 * u[0]:.2f} %)",
        f"centre {camera.cx:.1f}, {camera.cy:.1f} px, u {u[1]:.1f}, {u[2]:.1f} px",
        f"k1 {camera.dist[0]:.4f}, u {u[3]:.4f}; k2 {camera.dist[1]:.4f}, u {u[4]:.4f}",
        f"corners miss the model by {found.rms_px:.2f} px",
    ]


def focus_words(found: Profile) -> str:
    """Return what focusing leaves open of a profile."""
    return FOCUS.format(percent=100 * found.u_f_rel_in_use)


def check_lines(found: CardCheck) -> list[str]:
    """Return what a photo of the card says of flatness and lens, a line each."""
    flat = "as a flat card has them" if found.flat else "the card is not flat, or the lens odd"
    known = (
        f"focal length {found.camera.fx:.0f} px, u {100 * found.u_f_rel:.1f} %"
        if found.u_f_rel < 0.1
        else "the focal length can't be told from this photo: tilt the phone about 30 degrees"
    )
    return [
        f"flatness: corners miss a plane by {found.rms_px:.2f} px; {flat}",
        f"lens: {known}; k1 {found.k1:+.3f}, u {found.u_k1:.3f}",
        "lengths between corners that the pose did not use, found less printed:",
    ]


def stretch_lines(found: CardCheck) -> list[str]:
    """Return how far lengths came out off, by class."""
    return [
        f"{s.from_mm:.0f} to {s.to_mm:.0f} mm: RMS {s.rms_mm:.3f} mm, at most "
        f"{s.most_mm:.3f} mm ({s.count} lengths)"
        for s in found.stretches
    ]
