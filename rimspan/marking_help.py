"""Help with marking: a photo, its scale and a few points -> a line, a pen dot or a round end.

Nothing here changes a mark: every answer is a proposal, or says in words why there is none.
"""

from __future__ import annotations

import threading
from collections import OrderedDict
from collections.abc import Callable
from dataclasses import dataclass
from typing import Any, Literal, cast

import numpy as np

from assess.reading import PhotoReading
from calibration.frames import Array, Image
from calibration.photo import Photo, PhotoError
from tracing.along import snap_along
from tracing.contour import Contour, NoContour, trace
from tracing.dots import Dot, NoDot, snap
from tracing.round_end import NoRoundEnd, round_end
from tracing.thin import kept_points

Kind = Literal["outer", "inner", "dot", "along", "end"]
Answer = dict[str, Any]
Load = Callable[[], Photo | PhotoError]

KINDS = ("outer", "inner", "dot", "along", "end")
MOST_POINTS, FARTHEST_PX = 200, 1e6
MOST_PICTURES, MOST_OFFERS = 2, 60

NO_SCALE = "No card was found in this photo. Without it nothing can be looked for in millimetres."
NO_EDGE = "No edge is seen along these points. Your own points stand."
NO_END = "No round end is seen clearly here. Your own mark stands."
NOT_OPEN = "This photo isn't open for marking. Open it on the Marks page, then try again."


class AskError(ValueError):
    """What was asked for can't be understood."""


@dataclass(frozen=True, slots=True, eq=False)
class Ask:
    """What is looked for near which points, (N, 2) px.

    ``between`` names two of the points: only the stretch of the line from one to the other is
    wanted, the others say how it goes on.  ``first`` is the likeliest place of a line along which
    a dot is looked for.
    """

    photo: str
    kind: Kind
    points: Array
    between: tuple[int, int] | None = None
    first: int = 0


def ask_from(held: object) -> Ask:
    """Return what a request's JSON asks for.

    Raises
    ------
    AskError
        With what is wrong in it.
    """
    if not isinstance(held, dict):
        raise AskError("A request is one JSON object.")
    photo, kind, points = (held.get(name) for name in ("photo", "kind", "points"))
    if not isinstance(photo, str):
        raise AskError("'photo' must be the hash of a photo.")
    if kind not in KINDS:
        raise AskError(f"'kind' must be one of {', '.join(KINDS)}.")
    if not isinstance(points, list) or not 1 <= len(points) <= MOST_POINTS:
        raise AskError(f"'points' must be a list of 1 to {MOST_POINTS} points.")
    if not all(_is_point(point) for point in points):
        raise AskError("Each of 'points' must be two numbers, x and y.")
    between = held.get("between")
    if between is not None and not _is_stretch(between, len(points)):
        raise AskError("'between' must be the places of two points, the first one first.")
    first = held.get("first", 0)
    if type(first) is not int or not 0 <= first < len(points):
        raise AskError("'first' must be the place of one of the points.")
    if kind == "along" and len(points) < 2:
        raise AskError("A line to look along has two points at least.")
    where = None if between is None else (between[0], between[1])
    return Ask(photo, cast(Kind, kind), np.array(points, dtype=np.float64), where, first)


def _is_point(held: object) -> bool:
    return isinstance(held, list) and len(held) == 2 and all(_is_number(v) for v in held)


def _is_number(held: object) -> bool:
    return isinstance(held, int | float) and not isinstance(held, bool) and abs(held) < FARTHEST_PX


def _is_stretch(held: object, count: int) -> bool:
    if not isinstance(held, list) or len(held) != 2 or any(type(v) is not int for v in held):
        return False
    return bool(0 <= held[0] < held[1] < count)


def scale_of(reading: PhotoReading, offset_mm: float) -> float | None:
    """Return the size of a pixel at the rim, mm, or None where the photo has no scale."""
    if reading.fit is None or reading.target_px is None:
        return None
    return reading.mm_per_px(offset_mm)


def dot_answer(picture: Image, near_px: Array, mm_per_px: float) -> Answer:
    """Return the pen dot near a point, ``point`` and ``u_px``, or ``none`` and why."""
    return _dot(snap(picture, near_px, mm_per_px))


def _dot(found: Dot | NoDot) -> Answer:
    if isinstance(found, NoDot):
        return {"none": found.sentence}
    return {"point": _rounded(found.point_px), "u_px": round(float(found.u_px), 4)}


def end_answer(picture: Image, near_px: Array, mm_per_px: float) -> Answer:
    """Return the middle of a post's round end near a point, or ``none`` and why."""
    found = round_end(picture, near_px, mm_per_px)
    if isinstance(found, NoRoundEnd):
        return {"none": NO_END}
    return {"point": _rounded(np.array([found.x, found.y])), "u_px": round(found.u_px, 4)}


def line_answer(found: Contour | NoContour) -> Answer:
    """Return a proposed contour, ``line``, ``u_px`` and ``gaps``, or ``none`` and why."""
    if isinstance(found, NoContour):
        return {"none": found.sentence}
    return {
        "line": _rounded(found.line),
        "u_px": np.round(found.u_px, 3).tolist(),
        "gaps": [list(gap) for gap in found.gaps],
    }


def proposal(picture: Image, ask: Ask, mm_per_px: float) -> Answer:
    """Return a proposed contour with the few points to ``keep`` of it, or ``none`` and why.

    A line of which no part shows an edge is no proposal: it would repeat the taps.
    """
    edge: Literal["outer", "inner"] = "outer" if ask.kind == "outer" else "inner"
    found = trace(picture, ask.points, edge, mm_per_px)
    taps = ask.points
    if isinstance(found, Contour) and ask.between is not None:
        first, last = ask.between
        found = _cut(found, taps[[first, last]])
        taps = taps[first : last + 1]
    if isinstance(found, Contour):
        if not len(found.line) or sum(b - a + 1 for a, b in found.gaps) >= len(found.line):
            return {"none": NO_EDGE}
        kept = kept_points(found.line, found.gaps, taps, mm_per_px)
        return line_answer(found) | {"keep": _rounded(kept)}
    return line_answer(found)


def _cut(found: Contour, ends: Array) -> Contour:
    """Return the part of a contour between the places nearest to two points, (2, 2) px."""
    away = np.linalg.norm(found.line[:, None] - ends[None], axis=-1)
    low, high = sorted(int(row) for row in away.argmin(axis=0))
    gaps = tuple(
        (max(a, low) - low, min(b, high) - low) for a, b in found.gaps if a <= high and b >= low
    )
    return Contour(found.line[low : high + 1], found.u_px[low : high + 1], gaps)


def _rounded(points: Array) -> list[Any]:
    return [*np.round(points, 3).tolist()]


@dataclass(frozen=True, slots=True)
class _Offer:
    mm_per_px: float | None
    load: Load


class MarkingHelp:
    """Looks into the photos that are open for marking; the last two stay decoded.

    Only a photo that was offered is looked into, so nothing else in the client file can be
    reached from here.
    """

    def __init__(self) -> None:
        self._offers: OrderedDict[str, _Offer] = OrderedDict()
        self._pictures: OrderedDict[str, Photo | PhotoError] = OrderedDict()
        self._changing = threading.RLock()
        self._loading = threading.Lock()

    def offer(
        self,
        photo: str,
        mm_per_px: float | None,
        load: Load,
        ready: Photo | PhotoError | None = None,
    ) -> None:
        """Open a photo for help.

        Parameters
        ----------
        photo : the hash of its bytes
        mm_per_px : size of a pixel at the rim, mm; None where the photo has no scale
        load : decodes the photo, when a question about it needs that
        ready : the photo, where it is decoded already
        """
        with self._changing:
            self._offers[photo] = _Offer(mm_per_px, load)
            _newest(self._offers, photo, MOST_OFFERS)
        if ready is not None:
            self._picture(photo, lambda: ready)

    def answer(self, ask: Ask) -> Answer:
        """Return the proposal, with its scale, or ``none`` and why."""
        with self._changing:
            offer = self._offers.get(ask.photo)
        if offer is None:
            return {"none": NOT_OPEN}
        if offer.mm_per_px is None:
            return {"none": NO_SCALE}
        photo = self._picture(ask.photo, offer.load)
        if isinstance(photo, PhotoError):
            return {"none": str(photo)}
        if ask.kind == "dot":
            found = dot_answer(photo.pixels, ask.points[0], offer.mm_per_px)
        elif ask.kind == "end":
            found = end_answer(photo.pixels, ask.points[0], offer.mm_per_px)
        elif ask.kind == "along":
            found = _dot(snap_along(photo.pixels, ask.points, ask.first, offer.mm_per_px))
        else:
            found = proposal(photo.pixels, ask, offer.mm_per_px)
        return found | {"mm_per_px": round(offer.mm_per_px, 6)}

    def forget(self, photo: str) -> None:
        """Let go of a photo; it isn't looked into any more."""
        with self._loading, self._changing:
            self._offers.pop(photo, None)
            self._pictures.pop(photo, None)

    def _picture(self, photo: str, load: Load) -> Photo | PhotoError:
        with self._loading:  # two questions at once decode once
            if photo not in self._pictures:
                self._pictures[photo] = load()
            _newest(self._pictures, photo, MOST_PICTURES)
            return self._pictures[photo]


def _newest(held: OrderedDict[str, Any], name: str, most: int) -> None:
    held.move_to_end(name)
    while len(held) > most:
        held.popitem(last=False)
