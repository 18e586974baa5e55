"""Lens profiles that a studio keeps: made from tilted photos of the card, found again by EXIF.

A profile holds for one phone, one of its lenses, one size and no zoom.  It says nothing of a
client, and lies in the client file's settings, for all of the studio.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any

from assess.errors import AssessError, Fault, NotMeasurableError
from assess.marks import CameraMarks
from calibration.find import NotFound, find_card
from calibration.lens import lens_prior
from calibration.photo import CaptureFacts, Photo
from calibration.profile import CardCorners, Profile, ProfileRefused, fit_profile
from rimspan.clientfile import ClientFile

FORMAT = "rimspan-camera/1"
SETTING = "camera profiles"


class LensRefusedError(AssessError):
    """Photos that can't give one lens: of several phones, zoomed, mirrored."""


def lens_from(photos: Sequence[tuple[str, Photo]]) -> tuple[Profile, dict[str, Any]]:
    """Return the lens that photos of the card share, and the profile as its file holds it.

    Parameters
    ----------
    photos : names and photos of one phone, at one size, without zoom

    Raises
    ------
    LensRefusedError
        If they are of more than one lens or size, or one is mirrored.
    NotMeasurableError
        If a photo shows no card, or together they don't determine the lens.
    """
    (first, start), *_ = photos
    for name, photo in photos:
        if _taken(photo.facts) != _taken(start.facts):
            raise _refused(
                name,
                f"is of another phone, lens, zoom or size than {first}",
                "give photos of one phone, taken without zoom and not cropped",
            )
    views = [_corners(name, photo) for name, photo in photos]
    found = fit_profile(views, start.size, lens_prior(start.facts))
    if isinstance(found, ProfileRefused):
        raise NotMeasurableError.of(first, found)
    return found, profile_document(found, start.facts)


def _refused(where: str, what: str, remedy: str) -> LensRefusedError:
    return LensRefusedError([Fault(where, what, remedy)])


def _corners(name: str, photo: Photo) -> CardCorners:
    seen = find_card(photo.pixels)
    if isinstance(seen, NotFound):
        raise NotMeasurableError.of(name, seen)
    if seen.mirrored:
        raise _refused(name, "is mirrored", "use the phone's back camera")
    return CardCorners(name, seen.corners_px, seen.card.corners_mm(seen.corner_ids))


def _zoom(facts: CaptureFacts) -> float:
    return max(facts.digital_zoom or 1.0, 1.0)


def _taken(facts: CaptureFacts) -> dict[str, Any]:
    """Return what a lens goes by: phone, lens, focal lengths, zoom and size."""
    return {
        "make": facts.make,
        "model": facts.model,
        "lens": facts.lens,
        "focal_mm": facts.focal_mm,
        "focal_35mm": facts.focal_35mm,
        "digital_zoom": _zoom(facts),
        "size_px": [facts.width, facts.height],
    }


def profile_document(found: Profile, facts: CaptureFacts) -> dict[str, Any]:
    """Return the profile as its file holds it; ``camera`` is a marks file's camera."""
    camera = found.camera
    return {
        "format": FORMAT,
        "camera": {
            "fx": camera.fx,
            "fy": camera.fy,
            "cx": camera.cx,
            "cy": camera.cy,
            "dist": list(camera.dist),
            "u_f_rel": found.u_f_rel_in_use,
        },
        "covariance": {
            "of": ["ln f", "cx", "cy", "k1", "k2"],
            "rows": found.covariance.tolist(),
        },
        "taken_with": _taken(facts),
        "photos": found.photos,
        "spread_deg": found.spread_deg,
        "rms_px": found.rms_px,
    }


Profiles = Sequence[Mapping[str, Any]]


def kept_profiles(file: ClientFile) -> list[dict[str, Any]]:
    """Return the studio's profiles, the newest last."""
    return list(file.settings.get(SETTING).get("profiles", ()))


def may_keep(profile: Mapping[str, Any]) -> bool:
    """Return whether the profile's photos say which phone took them: without it none fits it."""
    taken = profile["taken_with"]
    return bool(taken["model"]) and taken["digital_zoom"] == 1.0


def keep_profile(file: ClientFile, profile: Mapping[str, Any], by: str = "") -> None:
    """Keep a profile in place of an earlier one of the same phone, lens and size.

    Raises
    ------
    LensRefusedError
        If its photos don't say which phone took them, or were zoomed.
    """
    if not may_keep(profile):
        raise _refused(
            "the photos",
            "don't say which phone took them, or were zoomed",
            "take them with the phone's own camera, without zoom, and send them unchanged",
        )
    others = [p for p in kept_profiles(file) if p["taken_with"] != profile["taken_with"]]
    file.settings.set(SETTING, {"profiles": [*others, dict(profile)]}, by)


def forget_profile(file: ClientFile, taken_with: Mapping[str, Any], by: str = "") -> None:
    """Use a profile no more; that there was one stays in the client file."""
    left = [p for p in kept_profiles(file) if p["taken_with"] != taken_with]
    file.settings.set(SETTING, {"profiles": left}, by)


def profile_for(profiles: Profiles, facts: CaptureFacts) -> Mapping[str, Any] | None:
    """Return the profile of a photo's own phone, lens, size and zoom, or None."""
    own = _taken(facts)
    if not own["model"] or own["digital_zoom"] > 1.0:
        return None
    return next((p for p in profiles if p["taken_with"] == own), None)


def camera_for(profiles: Profiles, facts: CaptureFacts) -> CameraMarks | None:
    """Return the camera of the photo's profile as a marks file has it, or None."""
    found = profile_for(profiles, facts)
    if found is None:
        return None
    camera = found["camera"]
    return CameraMarks.model_validate({**camera, "dist": tuple(camera["dist"])})


def lens_sentence(profiles: Profiles, name: str, facts: CaptureFacts) -> str:
    """Return whether a photo is measured with a kept profile, and why not; empty without any."""
    phone = phone_words(_taken(facts))
    if profile_for(profiles, facts) is not None:
        return f"{name}: measured with the lens profile of {phone}."
    own = _taken(facts)
    same = [p["taken_with"] for p in profiles if _phone(p["taken_with"]) == _phone(own)]
    if not own["model"] or not same:
        return ""
    if own["digital_zoom"] > 1.0:
        why = f"was zoomed {own['digital_zoom']:g} times"
    elif all(taken["size_px"] != own["size_px"] for taken in same):
        why = f"is {facts.width} x {facts.height} pixels: cropped, turned or of another setting"
    else:
        why = "has another focal length: zoomed, or another lens"
    return f"{name}: the lens profile of {phone} isn't used, as the photo {why}."


def _phone(taken: Mapping[str, Any]) -> tuple[Any, Any]:
    return taken["make"], taken["model"]


def phone_words(taken: Mapping[str, Any]) -> str:
    """Return for example ``Invented Optics Sample 12``."""
    return " ".join(str(part) for part in _phone(taken) if part) or "an unknown phone"
