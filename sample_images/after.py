"""Make the photos of a post that is in: right after the piercing, and five weeks later.

``python -m sample_images.after``: the ``pronounced`` ear, its card put on anew each time, the
post where the placement is.  In truth nothing moved between the two.
"""

from __future__ import annotations

import argparse
import json
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Any

import cv2
import numpy as np

from calibration.frames import Array
from sample_images.make import NOTE, jpeg, rounded
from sample_images.render import render
from sample_images.scene import View
from sample_images.sets import U_OFFSET_MM, SampleSet, sample_set
from sample_images.visible import contours, outer_contour, visible_edges
from sample_images.worn import Worn

EAR, LABEL = "pronounced", "A"
LENGTH_MM = 10.3
SIGMA_PX, END_PX = 1.5, 0.6
"""How well outlines are marked by hand, and the ends' centres with help."""
OUTER, INNER = 45, 24
"""Points of each outline."""


@dataclass(frozen=True, slots=True)
class Seen:
    """A photo with the post in: how the card and the phone are, how the post slid."""

    name: str
    card_deg: tuple[float, float, float]
    card_mm: tuple[float, float, float]
    phone: tuple[float, float, float, float]
    above_mm: float
    seed: int


AFTER = Seen("right-after", (2.0, -1.0, 0.8), (0.6, -0.4, 0.5), (3.5, 0.5, 262.0, 1.0), 0.6, 71)
WEEK_5 = Seen("week-5", (-1.0, 1.5, -1.2), (-0.8, 0.9, -0.6), (2.0, 2.0, 266.0, -1.4), 0.4, 75)


def standing(seen: Seen) -> SampleSet:
    """Return the ear with its card put on anew."""
    sample = sample_set(EAR)
    turn, _ = cv2.Rodrigues(np.deg2rad(seen.card_deg))
    stands = replace(
        sample.standing,
        rotation=np.asarray(turn) @ sample.standing.rotation,
        anchor_card=sample.standing.anchor_card + np.asarray(seen.card_mm),
    )
    return replace(sample, standing=stands, look=replace(sample.look, seed=seen.seed))


def worn(sample: SampleSet, seen: Seen) -> Worn:
    """Return the post that is in."""
    return Worn(sample.placements[LABEL], LENGTH_MM, seen.above_mm)


def picture(seen: Seen) -> bytes:
    """Return the photo as JPEG: the ear cleaned, no dots."""
    sample = standing(seen)
    # The skin is the same at every visit; only the phone's noise isn't, and it hardly shows.
    look = replace(sample.look, seed=sample_set(EAR).look.seed)
    view = sample.phone_at(*seen.phone)
    return jpeg(render(sample.ear, sample.standing, view, look, worn=worn(sample, seen)))


def marks(seen: Seen) -> dict[str, Any]:
    """Return what a piercer would mark in it, with a hand's jitter."""
    sample = standing(seen)
    view, rng = sample.phone_at(*seen.phone), np.random.default_rng(seen.seed)
    plain = json.loads((Path(__file__).parent / EAR / "marks.json").read_text("utf-8"))
    kept = ("format", "x_note", "side", "card", "card_shift")
    return {
        **{name: plain[name] for name in kept},
        "rim_plane": {
            "offset_mm": round(-float(sample.standing.anchor_card[2]) + rng.normal(0.0, 1.2), 1),
            "u_offset_mm": U_OFFSET_MM,
        },
        "x_posts": {LABEL: {"length_mm": LENGTH_MM}},
        "photos": [_photo(sample, view, seen, rng)],
    }


def _photo(sample: SampleSet, view: View, seen: Seen, rng: np.random.Generator) -> dict[str, Any]:
    centre = sample.standing.to_ear(view.centre_card[None])[0]

    def by_hand(points: Array, sigma_px: float = SIGMA_PX) -> Any:  # noqa: ANN401  (nested lists)
        exact = view.pixels(sample.standing.to_card(points))
        return rounded(exact + sigma_px * rng.standard_normal(exact.shape), 2)

    placement = sample.placements[LABEL]
    edges = visible_edges(sample.ear, placement, centre)
    if edges is None:
        raise RuntimeError("the rim's edges aren't seen at the placement")
    entry, exit_ = by_hand(np.array(edges))
    ends = by_hand(worn(sample, seen).ends, END_PX)
    return {
        "file": f"{seen.name}.jpg",
        "sigma_px": SIGMA_PX,
        "head_up": by_hand(np.array([[-19.0, 18.0, 12.0], [-19.0, -30.0, 12.0]])),
        "outer_rim": by_hand(outer_contour(sample.ear, centre, (0.2, 0.92), OUTER)),
        "inner_rim": by_hand(contours(sample.ear, centre, INNER)[1]),
        "placements": [
            {
                "label": LABEL,
                "entry": entry,
                "exit": exit_,
                "outline": ["entry", "exit"],
                "x_post": {"entry_end": ends[0], "exit_end": ends[1], "u_px": END_PX},
            }
        ],
    }


def main() -> None:
    """Write both photos and their marks."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--no-pictures", action="store_true", help="marks only")
    options = parser.parse_args()
    folder = Path(__file__).parent / EAR
    for seen in (AFTER, WEEK_5):
        text = json.dumps({**marks(seen), "x_note": NOTE}, indent=1)
        (folder / f"marks-{seen.name}.json").write_text(text + "\n", encoding="utf-8")
        if not options.no_pictures:
            (folder / f"{seen.name}.jpg").write_bytes(picture(seen))


if __name__ == "__main__":
    main()
