"""``rimspan card-check``: what a photo of the card says of print, flatness and lens."""

from __future__ import annotations

import argparse
import textwrap

from assess.errors import Fault, NotMeasurableError
from calibration.card_check import CardCheck, check_card
from calibration.find import NotFound, find_card
from calibration.lens import lens_prior
from calibration.pose import PoseRefused
from rimspan.commands.photo_help import photo_at

WIDTH = 96


def run(arguments: argparse.Namespace) -> str:
    """Return what the photo says.

    Raises
    ------
    CommandRefusedError
        If it is no photo.
    NotMeasurableError
        If no card is found in it, or no pose fits it.
    """
    photo = photo_at(arguments.photo)
    seen = find_card(photo.pixels)
    found = seen if isinstance(seen, NotFound) else check_card(seen, lens_prior(photo.facts).camera)
    if isinstance(found, NotFound | PoseRefused):
        fault = Fault(str(arguments.photo), f"{found.seen} {found.means}", found.do)
        raise NotMeasurableError([fault])
    return card_check_words(found, arguments.photo.name)


def card_check_words(found: CardCheck, name: str) -> str:
    """Return what was found, in lines for people."""
    flat = "as a flat card has them" if found.flat else "the card is not flat, or the lens odd"
    known = (
        f"focal length {found.camera.fx:.0f} px, u {100 * found.u_f_rel:.1f} %"
        if found.u_f_rel < 0.1
        else "the focal length can't be told from this photo: tilt the phone about 30 degrees"
    )
    lines = [
        f"{name}: card {found.card_id}, {found.corners} corners",
        f"  flatness: corners miss a plane by {found.rms_px:.2f} px; {flat}",
        f"  lens: {known}; k1 {found.k1:+.3f}, u {found.u_k1:.3f}",
        "  lengths between corners that the pose did not use, found less printed:",
        *(
            f"    {s.from_mm:.0f} to {s.to_mm:.0f} mm: RMS {s.rms_mm:.3f} mm, at most "
            f"{s.most_mm:.3f} mm ({s.count} lengths)"
            for s in found.stretches
        ),
    ]
    note = (
        "The print's own size can't be seen in a photo of it: read both check bars with calipers. "
        "To test the whole chain, draw a line on the card, mark its ends as entry and exit with "
        "the rim's offset 0, and hold the result against calipers."
    )
    wrapped = textwrap.wrap(note, WIDTH, initial_indent="  ", subsequent_indent="  ")
    return "\n".join([*lines, *wrapped])
