"""Making a lens profile and checking a photo of the card, as the Lens page does it."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from assess.errors import AssessError
from calibration.card_check import CardCheck, check_card
from calibration.find import NotFound, find_card
from calibration.lens import lens_prior
from calibration.photo import Photo, PhotoError, read_photo
from calibration.pose import PoseRefused
from rimspan.lens_profiles import (
    forget_profile,
    keep_profile,
    lens_from,
    phone_words,
)
from rimspan.lens_words import (
    PRINT_AND_CHAIN,
    check_lines,
    focus_words,
    profile_lines,
    stretch_lines,
)
from rimspan.screens import chair, state
from rimspan.screens.store import client_file
from rimspan.typed import in_markdown

PHOTOS, CHECK, CHECKED = "lens photos", "card photo", "card checked"
HOW = (
    "Lay the card flat on a table. Take four to six photos of it with one phone, without zoom, "
    "about 300 mm away, the card filling the picture: tilted about 30 degrees to the left, to the "
    "right, up and down. The profile is used by itself for photos of the same phone, lens and "
    "size; a card that later contradicts it says so."
)
HOW_TO_CHECK = (
    "Lay the card flat on a table and photograph it as you would an ear. Half of its corners tell "
    "the scale, the others are then measured as if nobody knew where they are: so far off are "
    "lengths, before anybody marks anything."
)


def make() -> None:
    """Make a profile of the photos that were chosen, keep it, and say what came of it."""
    photos: list[tuple[str, Photo]] = []
    try:
        for upload in state.value(PHOTOS) or []:
            photos.append((upload.name, read_photo(upload.getvalue())))
        if not photos:
            state.say("Choose the photos first.")
            return
        found, profile = lens_from(photos)
        keep_profile(client_file(), profile, _by())
    except (AssessError, PhotoError) as error:
        state.say(in_markdown(f"No profile was made. {error}"))
        return
    lines = ". ".join([*profile_lines(found), focus_words(found)])
    state.say(in_markdown(f"Kept: {phone_words(profile['taken_with'])}, {lines}"))


def forget(taken_with: Mapping[str, Any]) -> None:
    """Use a profile no more."""
    forget_profile(client_file(), taken_with, _by())
    state.say(in_markdown(f"The profile of {phone_words(taken_with)} is used no more."))


def _by() -> str:
    person = chair.person()
    return person.name if person is not None else ""


def kept_words(profile: Mapping[str, Any]) -> str:
    """Return a kept profile in a line."""
    taken, camera = profile["taken_with"], profile["camera"]
    width, height = taken["size_px"]
    lens = f", {taken['lens']}" if taken["lens"] else ""
    return (
        f"{phone_words(taken)}{lens}, {width} x {height} pixels: focal length "
        f"{camera['fx']:.0f} px, u {100 * camera['u_f_rel']:.1f} % in use, from "
        f"{profile['photos']} photos"
    )


def check() -> None:
    """Check the photo of the card that was chosen; what it says waits for the page."""
    upload = state.value(CHECK)
    state.set_value(CHECKED, checked(upload.name, upload.getvalue()) if upload else None)


def checked(name: str, data: bytes) -> list[str]:
    """Return what a photo of the card says, a line each, or why it says nothing."""
    try:
        photo = read_photo(data)
    except PhotoError as error:
        return [f"{name}: {error}"]
    seen = find_card(photo.pixels)
    found = seen if isinstance(seen, NotFound) else check_card(seen, lens_prior(photo.facts).camera)
    if isinstance(found, NotFound | PoseRefused):
        return [f"{name}: {found.sentence}"]
    return [f"{name}: {found.corners} corners of {found.card_id}", *_lines(found), PRINT_AND_CHAIN]


def _lines(found: CardCheck) -> list[str]:
    return [*check_lines(found), *stretch_lines(found)]
