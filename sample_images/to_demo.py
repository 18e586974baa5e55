"""Ship some of the sample photos with the program: ``python -m sample_images.to_demo``.

The demo's files are copies; a test holds them to these.
"""

from __future__ import annotations

import json
from pathlib import Path

from assess.view_set import VIEWS

HERE = Path(__file__).parent
DEMO = HERE.parent / "rimspan" / "demo" / "samples"

ALL_FIVE = tuple(f"{view.name}.jpg" for view in VIEWS)
WITH_POST = ("right-after.jpg", "week-5.jpg")
SHIPPED = {"pronounced": (*ALL_FIVE, *WITH_POST), "flat": ALL_FIVE[:1], "three": ALL_FIVE[:1]}
"""Which photos of which ear: one whole set and two with a post in, a single photo of two others."""

MARKS = (
    "marks.json",
    "marks-examined.json",
    "marks-plan.json",
    "marks-right-after.json",
    "marks-week-5.json",
)
"""Of each ear those that it has."""


def shipped_files() -> dict[str, bytes]:
    """Return the demo's sample files by their path: photos as they are, marks of those alone."""
    files: dict[str, bytes] = {}
    for ear, photos in SHIPPED.items():
        files |= {f"{ear}/{name}": (HERE / ear / name).read_bytes() for name in photos}
        for name in MARKS:
            if not (HERE / ear / name).exists():
                continue
            document = json.loads((HERE / ear / name).read_text("utf-8"))
            document["photos"] = [p for p in document["photos"] if p["file"] in photos]
            text = json.dumps(document, indent=1, ensure_ascii=False) + "\n"
            files[f"{ear}/{name}"] = text.encode("utf-8")
    return files


def main() -> None:
    """Write them."""
    for name, content in shipped_files().items():
        place = DEMO / name
        place.parent.mkdir(parents=True, exist_ok=True)
        place.write_bytes(content)
        print(f"{name}: {len(content)} bytes")


if __name__ == "__main__":
    main()
