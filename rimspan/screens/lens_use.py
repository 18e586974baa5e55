"""The studio's lens profiles at the screens: found for a photo by its EXIF, and said."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from functools import partial
from typing import Any

from assess.marks import CameraMarks
from calibration.photo import CaptureFacts, Photo, PhotoError
from rimspan.lens_profiles import camera_for, kept_profiles, lens_sentence
from rimspan.screens import computed
from rimspan.screens.document import hashes
from rimspan.screens.store import client_file

Opened = Callable[[], Photo | PhotoError]


def _facts(sha256: str, opened: Opened) -> CaptureFacts | None:
    """Return what a kept photo says of its phone and lens; it is decoded for it once."""

    def read() -> CaptureFacts | None:
        found = opened()
        return found.facts if isinstance(found, Photo) else None

    return computed.once("facts", sha256, read)


def camera_of(sha256: str, opened: Opened) -> CameraMarks | None:
    """Return the camera of the profile that a photo's phone, lens and size has, if any."""
    profiles = kept_profiles(client_file())
    if not profiles:
        return None
    facts = _facts(sha256, opened)
    return None if facts is None else camera_for(profiles, facts)


def lens_by_photo(
    document: Mapping[str, Any], photo: Callable[[str], Photo | PhotoError]
) -> dict[str, str]:
    """Return for each photo, by file, whether a profile is used, and why not.

    A photo of which there is nothing to say is left out; without profiles, so are all.
    """
    profiles = kept_profiles(client_file())
    if not profiles:
        return {}
    lines = {}
    for name, sha256 in hashes(document).items():
        facts = _facts(sha256, partial(photo, sha256))
        lines[name] = "" if facts is None else lens_sentence(profiles, name, facts)
    return {name: line for name, line in lines.items() if line}
