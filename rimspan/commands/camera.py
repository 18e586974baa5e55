"""``rimspan camera``: a few tilted photos of the card -> a lens profile."""

from __future__ import annotations

import argparse
import json
import textwrap
from pathlib import Path
from typing import Any

from assess.errors import Fault, NotMeasurableError
from calibration.find import NotFound, find_card
from calibration.lens import lens_prior
from calibration.photo import CaptureFacts, Photo
from calibration.profile import CardCorners, Profile, ProfileRefused, fit_profile
from rimspan.commands.files import Outputs, checked_suffix, refuse
from rimspan.commands.photo_help import photo_at

FORMAT = "rimspan-camera/1"


def run(arguments: argparse.Namespace) -> str:
    """Write the profile and return what was found.

    Raises
    ------
    CommandRefusedError
        If a photo can't be read, or the photos aren't of one phone and one size.
    NotMeasurableError
        If a photo shows no card, or together they don't determine the lens.
    """
    paths: list[Path] = arguments.photos
    outputs = Outputs(tuple(paths))
    checked_suffix(arguments.out, (".json",), "--out")
    outputs.claim(arguments.out, "--out")
    photos = [photo_at(path) for path in paths]
    _refuse_mixed(paths, photos)
    views = [_corners(path, photo) for path, photo in zip(paths, photos, strict=True)]
    facts = photos[0].facts
    found = fit_profile(views, photos[0].size, lens_prior(facts))
    if isinstance(found, ProfileRefused):
        raise NotMeasurableError([Fault(str(paths[0]), f"{found.seen} {found.means}", found.do)])
    text = json.dumps(profile_document(found, facts), indent=1) + "\n"
    outputs.add(arguments.out, text.encode("utf-8"))
    outputs.write()
    return _said(found, arguments.out)


def _refuse_mixed(paths: list[Path], photos: list[Photo]) -> None:
    first = _phone(photos[0])
    for path, photo in zip(paths, photos, strict=True):
        if _phone(photo) != first:
            raise refuse(
                str(path),
                f"is of another phone, lens, zoom or size than {paths[0]}",
                "give photos of one phone, taken without zoom and not cropped",
            )


def _phone(photo: Photo) -> tuple[object, ...]:
    facts = photo.facts
    zoom = facts.digital_zoom or 1.0
    return (photo.size, facts.make, facts.model, facts.lens, facts.focal_mm, zoom)


def _corners(path: Path, photo: Photo) -> CardCorners:
    seen = find_card(photo.pixels)
    if isinstance(seen, NotFound):
        raise NotMeasurableError([Fault(str(path), f"{seen.seen} {seen.means}", seen.do)])
    if seen.mirrored:
        raise refuse(str(path), "is mirrored", "use the phone's back camera")
    return CardCorners(path.name, seen.corners_px, seen.card.corners_mm(seen.corner_ids))


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
        "taken_with": {
            "make": facts.make,
            "model": facts.model,
            "lens": facts.lens,
            "focal_mm": facts.focal_mm,
            "digital_zoom": facts.digital_zoom,
            "size_px": [facts.width, facts.height],
        },
        "photos": found.photos,
        "spread_deg": found.spread_deg,
        "rms_px": found.rms_px,
    }


def _said(found: Profile, out: Path) -> str:
    camera, u = found.camera, found.covariance.diagonal() ** 0.5
    lines = [
        f"{out}: lens from {found.photos} photos, seen from up to {found.spread_deg:.0f} deg apart",
        f"  focal length {camera.fx:.1f} px, u {camera.fx * u[0]:.1f} px ({100 * u[0]:.2f} %)",
        f"  centre {camera.cx:.1f}, {camera.cy:.1f} px, u {u[1]:.1f}, {u[2]:.1f} px",
        f"  k1 {camera.dist[0]:.4f}, u {u[3]:.4f}; k2 {camera.dist[1]:.4f}, u {u[4]:.4f}",
        f"  corners miss the model by {found.rms_px:.2f} px",
    ]
    note = (
        "A lens that focuses nearer changes its focal length a little: the profile says "
        f"{100 * found.u_f_rel_in_use:.1f} %. Make it at the distance at which you measure."
    )
    return "\n".join(
        [*lines, *textwrap.wrap(note, 96, initial_indent="  ", subsequent_indent="  ")]
    )
