"""Make the sample photos, their truth and their marks: ``python -m sample_images.make [NAMES]``.

Rendered pictures of our own ears, not people.
"""

from __future__ import annotations

import argparse
import io
import json
from dataclasses import asdict
from pathlib import Path
from typing import Any

import numpy as np
from numpy.typing import ArrayLike
from PIL import Image as Pillow

from calibration.frames import Array, Image
from sample_images.render import render
from sample_images.sets import FOCAL_35MM, SAMPLES, U_OFFSET_MM, SampleSet, sample_set
from sample_images.visible import contours, is_visible, visible_edges

HERE = Path(__file__).parent
SIGMA_PX = 1.5
QUALITY = 88
NOTE = "rendered from a parametric ear; not a person"
MARKED = ("entry", "exit", "crest", "floor", "below")
CONTOUR_POINTS = 14

EXIF_IFD, MAKE, MODEL, SOFTWARE, FOCAL_35 = 0x8769, 0x010F, 0x0110, 0x0131, 0xA405


def jpeg(picture: Image) -> bytes:
    """Return the picture as JPEG with the EXIF of an invented phone."""
    exif = Pillow.Exif()
    exif[MAKE], exif[MODEL], exif[SOFTWARE] = "Invented Optics", "Sample 12", NOTE
    exif.get_ifd(EXIF_IFD)[FOCAL_35] = FOCAL_35MM
    out = io.BytesIO()
    Pillow.fromarray(picture).save(out, "JPEG", quality=QUALITY, exif=exif)
    return out.getvalue()


def rounded(values: ArrayLike, digits: int = 4) -> Any:  # noqa: ANN401  (nested lists)
    """Return values as lists with so many digits."""
    return np.round(np.asarray(values, dtype=np.float64), digits).tolist()


def truth(sample: SampleSet, view_name: str) -> dict[str, Any]:
    """Return what is true of one photo: places in mm and px, camera, pose, what is seen."""
    view, standing = sample.view(view_name), sample.standing
    centre = standing.to_ear(view.centre_card[None])[0]
    card = standing.card
    printed = card.corners_mm(card.corner_ids) * np.asarray(standing.print_scale)
    corners = view.pixels(np.column_stack([printed, np.zeros(len(printed))]))

    def told(point: Array) -> dict[str, Any]:
        place = standing.to_card(point[None])
        return {
            "card_mm": rounded(place[0]),
            "px": rounded(view.pixels(place)[0], 3),
            "visible": bool(is_visible(sample.ear, point, centre)[0]),
        }

    return {
        "note": NOTE,
        "ear": sample.name,
        "side": sample.side,
        "card": card.id,
        "print_scale": rounded(standing.print_scale, 6),
        "camera": {**asdict(view.camera), "dist": list(view.camera.dist)},
        "rvec": view.rvec.tolist(),
        "tvec": view.tvec.tolist(),
        "corner_ids": list(card.corner_ids),
        "corners_px": rounded(corners, 3),
        "ties": {name: told(point) for name, point in sample.ties().items()},
        "placements": {
            label: {
                "channel_mm": round(p.channel_mm, 4),
                "relief_mm": round(p.relief_mm, 4),
                "fold_depth_mm": round(p.fold_depth_mm, 4),
                "room_below_mm": round(p.room_below_mm, 4),
                "points": {name: told(point) for name, point in p.points.items()},
            }
            for label, p in sample.placements.items()
        },
    }


def _photo_marks(
    sample: SampleSet, view_name: str, told: dict[str, Any], rng: np.random.Generator
) -> dict[str, Any]:
    """Return what a piercer would mark in one photo, with a hand's jitter."""
    view, standing = sample.view(view_name), sample.standing
    centre = standing.to_ear(view.centre_card[None])[0]

    def by_hand(pixels: Any) -> Any:  # noqa: ANN401  (a point or a line)
        exact = np.asarray(pixels, dtype=np.float64)
        return rounded(exact + SIGMA_PX * rng.standard_normal(exact.shape), 2)

    photo: dict[str, Any] = {"file": f"{view_name}.jpg", "sigma_px": SIGMA_PX}
    if view_name == "square-on":
        up = standing.to_card(np.array([[-19.0, 18.0, 12.0], [-19.0, -30.0, 12.0]]))
        photo["head_up"] = by_hand(view.pixels(up))
        lines = contours(sample.ear, centre, CONTOUR_POINTS)
        for name, line in zip(("outer_rim", "inner_rim"), lines, strict=True):
            photo[name] = by_hand(view.pixels(standing.to_card(line)))
    photo["ties"] = {n: by_hand(t["px"]) for n, t in told["ties"].items() if t["visible"]}
    photo["placements"] = []
    for label, p in sample.placements.items():
        points = told["placements"][label]["points"]
        marks: dict[str, Any] = {
            name: by_hand(points[name]["px"]) for name in MARKED if points[name]["visible"]
        }
        edges = visible_edges(sample.ear, p, centre) if view_name == "square-on" else None
        if edges is not None:
            outline = [name for name in ("entry", "exit") if name not in marks]
            for name, edge in zip(("entry", "exit"), edges, strict=True):
                if name in outline:
                    marks[name] = by_hand(view.pixels(standing.to_card(edge[None]))[0])
            if outline:
                marks["outline"] = outline
        photo["placements"].append({"label": label, **marks})
    return photo


def marks(sample: SampleSet, told: dict[str, dict[str, Any]]) -> dict[str, Any]:
    """Return the marks file of a set."""
    rng = np.random.default_rng([sample.look.seed, 7])
    return {
        "format": "rimspan-marks/1",
        "x_note": NOTE,
        "side": sample.side,
        "card": {
            "id": sample.standing.card.id,
            "check_bar_mm": list(sample.check_bar_mm),
            "u_check_bar_mm": 0.05,
        },
        "card_shift": {"u_mm": 0.0},
        "rim_plane": {"offset_mm": sample.offset_read_mm, "u_offset_mm": U_OFFSET_MM},
        "photos": [_photo_marks(sample, view, told[view], rng) for view in sample.sights],
    }


def examined(sample: SampleSet, plain: dict[str, Any]) -> dict[str, Any]:
    """Return the marks with what calipers, depth rod and hands would say besides."""
    rng = np.random.default_rng([sample.look.seed, 8])
    readings = {
        label: {
            "fold_depth_mm": round(p.fold_depth_mm + float(rng.normal(0.0, 0.2)), 1),
            "u_fold_depth_mm": 0.2,
            "relief_mm": round(p.relief_mm + float(rng.normal(0.0, 0.25)), 1),
            "u_relief_mm": 0.25,
        }
        for label, p in sample.placements.items()
    }
    tissue = {label: {"tissue": "firm"} for label in sample.placements}
    return {**plain, "caliper": readings, "examined": tissue}


def make(name: str, *, pictures: bool) -> None:
    """Write one set's photos, truth and marks."""
    sample = sample_set(name)
    folder = HERE / name
    folder.mkdir(exist_ok=True)
    told = {view: truth(sample, view) for view in sample.sights}
    for view in sample.sights:
        _write(folder / f"{view}.truth.json", told[view])
        if pictures:
            picture = render(
                sample.ear, sample.standing, sample.view(view), sample.look, sample.dots()
            )
            (folder / f"{view}.jpg").write_bytes(jpeg(picture))
            print(f"{name}/{view}.jpg")
    plain = marks(sample, told)
    _write(folder / "marks.json", plain)
    _write(folder / "marks-examined.json", examined(sample, plain))


def _write(path: Path, document: dict[str, Any]) -> None:
    path.write_text(json.dumps(document, indent=1) + "\n", encoding="utf-8")


def main() -> None:
    """Make the sets that are named, or all."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("names", nargs="*", default=list(SAMPLES))
    parser.add_argument("--no-pictures", action="store_true", help="truth and marks only")
    options = parser.parse_args()
    for name in options.names:
        make(name, pictures=not options.no_pictures)


if __name__ == "__main__":
    main()
