"""``rimspan card-check``: what a photo of the card says of print, flatness and lens."""

from __future__ import annotations

import argparse
import textwrap

from assess.errors import NotMeasurableError
from calibration.card_check import CardCheck, check_card
from calibration.find import NotFound, find_card
from calibration.lens import lens_prior
from calibration.pose import PoseRefused
from rimspan.commands.photo_help import photo_at
from rimspan.lens_words import PRINT_AND_CHAIN, check_lines, stretch_lines

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
        raise NotMeasurableError.of(str(arguments.photo), found)
    return card_check_words(found, arguments.photo.name)


def card_check_words(found: CardCheck, name: str) -> str:
    """Return what was found, in lines for people."""
    lines = [
        f"{name}: card {found.card_id}, {found.corners} corners",
        *(f"  {line}" for line in check_lines(found)),
        *(f"    {line}" for line in stretch_lines(found)),
    ]
    wrapped = textwrap.wrap(PRINT_AND_CHAIN, WIDTH, initial_indent="  ", subsequent_indent="  ")
    return "\n".join([*lines, *wrapped])
