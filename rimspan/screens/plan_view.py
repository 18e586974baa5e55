"""The plan as the component draws it: places in px of the photo, and words."""

from __future__ import annotations

import json
from collections.abc import Mapping
from hashlib import sha256
from typing import Any

import numpy as np

from assess.plan_marks import PlanMarks
from assess.plan_measure import MeasuredPlan
from assess.plan_scene import Scene
from assess.true_size import Part
from calibration.frames import Array
from rimspan.plan_lines import broken
from rimspan.screens.photo_routes import preview_url

AROUND = 0.25
"""So much of the rim's size is shown about it, for ends and labels."""
STEP = 2
"""Every second place of the rim (half a millimetre) is enough for a hand to follow."""


def drawn(
    on: Scene, plan: PlanMarks, found: MeasuredPlan | None, sha256_of_photo: str, hint: str
) -> dict[str, Any]:
    """Return what the component is given.

    Parameters
    ----------
    on : the photo as a rim
    plan : as the draft has it
    found : what is measured of it; None where nothing is planned
    sha256_of_photo : under which its preview is fetched
    hint : what to do now
    """
    width, height = on.reading.size
    curve = on.rim.curve
    held = plan.model_dump(mode="json", include={"placements", "earlier", "jewellery", "upright"})
    return {
        "photo": on.photo.file,
        "url": preview_url(sha256_of_photo),
        "width": width,
        "height": height,
        "area": _area(on),
        "plan": sha256(json.dumps(held, sort_keys=True).encode()).hexdigest()[:16],
        "hint": hint,
        "track": _track(on),
        "leanSign": _lean_sign(on),
        "outer": _pairs(on.to_px(curve.outer_mm[::STEP])),
        "inner": _pairs(on.to_px(curve.inner_mm[::STEP])),
        "usable": [] if found is None else [_pairs(line) for line in found.drawing.usable],
        "posts": [] if found is None else _posts(found),
        "earlier": [
            {
                "name": each.name,
                "places": [list(each.start), *([list(each.end)] if each.end else [])],
                "r": each.end_mm / 2.0 / on.reading.mm_per_px(on.height_mm),
            }
            for each in plan.earlier
        ],
    }


def _area(on: Scene) -> list[float]:
    """Return left, top, right and bottom of what is shown first, px: the rim, and room about it."""
    seen = on.to_px(np.vstack([on.rim.curve.outer_mm, on.rim.curve.inner_mm]))
    low, high = seen.min(axis=0), seen.max(axis=0)
    about = AROUND * float((high - low).max())
    return [*(low - about).tolist(), *(high + about).tolist()]


def _track(on: Scene) -> dict[str, list[float]]:
    arc = on.rim.curve.arc_mm[::STEP]
    places, turn = on.to_px(on.rim.curve.at(arc)), _turn(on, arc)
    return {
        "arcs": np.round(arc, 3).tolist(),
        "x": np.round(places[:, 0], 2).tolist(),
        "y": np.round(places[:, 1], 2).tolist(),
        "turn": np.round(turn, 2).tolist(),
    }


def _turn(on: Scene, arc: Array) -> Array:
    """Return the inward normals' directions as the photo shows them, (N,) deg, clockwise."""
    curve = on.rim.curve
    inward, _ = curve.frame(arc)
    way = on.to_px(curve.at(arc) + inward) - on.to_px(curve.at(arc))
    return np.asarray(np.rad2deg(np.unwrap(np.arctan2(way[:, 1], way[:, 0]))))


def _lean_sign(on: Scene) -> float:
    """Return +1 where leaning toward the back turns an axis clockwise in the photo, else -1."""
    curve = on.rim.curve
    middle = np.array([curve.length_mm / 2.0])
    inward, back = curve.frame(middle)
    at = on.to_px(curve.at(middle))[0]
    first, second = (on.to_px(curve.at(middle) + way)[0] - at for way in (inward, back))
    return 1.0 if first[0] * second[1] - first[1] * second[0] > 0.0 else -1.0


def _posts(found: MeasuredPlan) -> list[dict[str, Any]]:
    breaking = {name for each in broken(found.out) for name in (each.first, each.second)}
    posts = []
    for each in found.out.placements:
        entry, exit_ = np.array(each.entry_px), np.array(each.exit_px)
        posts.append(
            {
                "label": each.label,
                "arc": round(each.arc_mm, 4),
                "lean": each.lean_deg,
                "middle": ((entry + exit_) / 2.0).tolist(),
                "reach": float(np.hypot(*(exit_ - entry))) / 2.0,
                "tag": found.drawing.labels_at[each.label].tolist(),
                "broken": each.label in breaking,
                "parts": {
                    when: [_part(part) for part in parts[each.label]]
                    for when, parts in found.drawing.posts.items()
                },
            }
        )
    return posts


def _part(part: Part) -> Mapping[str, Any]:
    return {"name": part.name, "points": _pairs(part.outline)}


def _pairs(points: Array) -> list[list[float]]:
    return [[float(x), float(y)] for x, y in np.round(points, 2).tolist()]
