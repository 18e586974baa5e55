"""The post as it is marked at a visit: its ends and its axis, beside the marks file's own fields.

The format has no fields for a post that is in; these stand in names that begin with ``x_``, which
other readers of the format skip.  In a placement of a photo::

    "x_post": {"entry_end": [x, y], "exit_end": [x, y], "axis": [[x, y], [x, y]], "u_px": 0.5}

``entry_end`` and ``exit_end`` are the centres of the ball or disc above the entry and below the
exit, ``axis`` two places on the post's middle line from the exit's side to the entry's, where an
end is hidden.  ``u_px`` is the standard uncertainty of each, each axis; the photo's usual one for
marks by hand if absent.  Beside ``photos``, by label::

    "x_posts": {"A": {"length_mm": 9.525, "u_slide_mm": 0.3, "u_lean_deg": 10}}

the post's length without its ends; how far it may have slid in its channel; how far its axis may
lean out of the rim's plane.
"""

from __future__ import annotations

import json
import math
from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Any

import numpy as np

from assess.errors import Fault, MarksError
from calibration.frames import Array

Point = tuple[float, float]

U_SLIDE_MM = 0.3
"""How far a post may have slid along its channel (assumption: common practice, no source).

Upright, the upper end rests on the skin.
"""
U_LEAN_DEG = 10.0
"""How far its axis may lean out of the rim's plane (assumption: common practice, no source)."""

_IN_PHOTO = frozenset({"entry_end", "exit_end", "axis", "u_px"})
_BESIDE = frozenset({"length_mm", "u_slide_mm", "u_lean_deg"})


@dataclass(frozen=True, slots=True)
class PostMarks:
    """A post in one photo, px of the photo as stored; None where it isn't seen."""

    entry_end: Point | None = None
    exit_end: Point | None = None
    axis: tuple[Point, Point] | None = None
    u_px: float | None = None

    @property
    def points(self) -> dict[str, Point]:
        """Return what is marked, by name; the axis's two places from the exit's side."""
        found = {"entry_end": self.entry_end, "exit_end": self.exit_end}
        if self.axis is not None:
            found |= {"axis_from": self.axis[0], "axis_to": self.axis[1]}
        return {name: at for name, at in found.items() if at is not None}


@dataclass(frozen=True, slots=True)
class WornPost:
    """What is known of a post that is in (mm, deg)."""

    length_mm: float | None = None
    u_slide_mm: float = U_SLIDE_MM
    u_lean_deg: float = U_LEAN_DEG


@dataclass(frozen=True, slots=True)
class PostsMarked:
    """All of a visit's posts: ``photos`` by file, then label; ``worn`` by label."""

    photos: Mapping[str, Mapping[str, PostMarks]] = field(default_factory=dict)
    worn: Mapping[str, WornPost] = field(default_factory=dict)

    def of(self, label: str) -> WornPost:
        """Return what is known of that placement's post."""
        return self.worn.get(label, WornPost())

    def labels(self) -> tuple[str, ...]:
        """Return the labels of the posts that are marked, in the order of the photos."""
        return tuple(dict.fromkeys(label for posts in self.photos.values() for label in posts))


def parse_posts(data: str | bytes | Mapping[str, Any], source: str = "marks") -> PostsMarked:
    """Return the posts of a marks file that :func:`assess.read_marks.parse_marks` accepts.

    Raises
    ------
    MarksError
        With one fault for everything in the ``x_`` fields that is wrong.
    """
    if isinstance(data, bytes):
        data = data.decode("utf-8-sig")
    document = json.loads(data) if isinstance(data, str) else data
    reader = _Reader(source)
    photos = {}
    for i, photo in enumerate(document.get("photos", ())):
        posts = {}
        for j, placement in enumerate(photo.get("placements", ())):
            if "x_post" in placement:
                where = f"photos[{i}].placements[{j}].x_post"
                posts[placement["label"]] = reader.post(placement["x_post"], where)
        photos[photo["file"]] = posts
    beside = reader.named(document.get("x_posts", {}), "x_posts")
    worn = {label: reader.worn(told, f"x_posts.{label}") for label, told in beside.items()}
    if reader.faults:
        raise MarksError(reader.faults)
    return PostsMarked(photos, worn)


class _Reader:
    """Reads the fields and keeps what is wrong with them."""

    def __init__(self, source: str) -> None:
        self.source = source
        self.faults: list[Fault] = []

    def post(self, told: object, where: str) -> PostMarks:
        found = self.named(told, where, _IN_PHOTO)
        ends = {
            name: self._point(found[name], f"{where}.{name}")
            for name in ("entry_end", "exit_end")
            if name in found
        }
        axis = None
        if "axis" in found:
            axis = self._axis(found["axis"], f"{where}.axis")
        u_px = self._number(found["u_px"], f"{where}.u_px") if "u_px" in found else None
        marked = PostMarks(ends.get("entry_end"), ends.get("exit_end"), axis, u_px)
        if marked.entry_end and marked.exit_end:
            gap = np.subtract(marked.entry_end, marked.exit_end)
            if float(np.hypot(*gap)) < 1.0:
                self._fault(where, "has both ends at one place", "mark the two apart")
        return marked

    def worn(self, told: object, where: str) -> WornPost:
        found = self.named(told, where, _BESIDE)
        numbers = {name: self._number(value, f"{where}.{name}") for name, value in found.items()}
        if numbers.get("length_mm") == 0.0:
            self._fault(f"{where}.length_mm", "must be over 0", "give the post's length")
        return WornPost(**numbers)

    def named(
        self, told: object, where: str, known: frozenset[str] | None = None
    ) -> dict[str, Any]:
        if not isinstance(told, dict):
            self._fault(where, "must be a JSON object", "write it as {...}")
            return {}
        if known is None:
            return told
        for name in sorted(set(told) - known):
            self._fault(f"{where}.{name}", "is not a known name", f"use {', '.join(sorted(known))}")
        return {name: value for name, value in told.items() if name in known}

    def _axis(self, told: object, where: str) -> tuple[Point, Point] | None:
        if not isinstance(told, list | tuple) or len(told) != 2:
            self._fault(where, "must be two points", "give [[x, y], [x, y]]")
            return None
        return self._point(told[0], f"{where}[0]"), self._point(told[1], f"{where}[1]")

    def _point(self, told: object, where: str) -> Point:
        if isinstance(told, list | tuple) and len(told) == 2 and all(_finite(v) for v in told):
            return float(told[0]), float(told[1])
        self._fault(where, "must be two finite numbers", "give [x, y] in pixels")
        return 0.0, 0.0

    def _number(self, told: object, where: str) -> float:
        if _finite(told) and float(told) >= 0.0:  # type: ignore[arg-type]
            return float(told)  # type: ignore[arg-type]
        self._fault(where, "must be a finite number from 0 up", "correct the value")
        return 0.0

    def _fault(self, where: str, what: str, remedy: str) -> None:
        self.faults.append(Fault(f"{self.source}: {where}", what, remedy))


def _finite(value: object) -> bool:
    number = isinstance(value, int | float) and not isinstance(value, bool)
    return number and math.isfinite(float(value))  # type: ignore[arg-type]


def straightened(points: Mapping[str, Point], mirror_width: int | None) -> dict[str, Array]:
    """Return marks of the photo as stored in the unmirrored picture, (2,) px each."""
    return {
        name: np.array([x if mirror_width is None else mirror_width - 1 - x, y])
        for name, (x, y) in points.items()
    }
