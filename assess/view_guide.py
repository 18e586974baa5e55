"""Which photo to take next, and what it would bring: from the photos' own geometry.

The dots are taken where a middling rim has them, about the ear's place in each photo; which of
them a photo shows is as marked in it, else by where it looks from.  The photos' cameras come
from their cards.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass

import numpy as np

from assess.marks import CardShift, Marks
from assess.placing import axes_in, view_of
from assess.reading import U_MARK_MM, PhotoReading
from assess.several_views import U_SHIFT_MM
from assess.space import dots_in
from assess.view_set import Side, angle_deg, sight_of, way_of
from calibration.draws import Draws
from calibration.frames import Array
from calibration.next_view import camera_toward, foretold, span_u
from calibration.pose import PlaneFit

COVERAGE, DRAWS = 1.96, 4000
RIM_MM: Mapping[str, tuple[float, float, float]] = {
    "entry": (0.0, -3.0, 0.0),
    "exit": (0.0, 3.0, 0.0),
    "crest": (0.0, 0.0, -3.0),
    "floor": (0.0, 5.0, 2.0),
}
"""Dots of a middling rim about its middle, card frame (assumed)."""
STEPS_DEG = (-45.0, -25.0, 0.0, 25.0, 45.0)
SEEN_FROM_DEG: Mapping[str, tuple[float, ...]] = {
    "entry": (42.0, 34.0, 22.0, 4.0, -10.0),
    "exit": (-4.0, -26.0, -40.0, -45.0, -49.0),
}
"""From how far above an entry's dot is seen, and from how far below an exit's, by the turn to the
side, to the front first: what half of 140 placements on 14 parameter ears show (45 % of a dot of
1 mm, 2 px wide).  A middling rim's; marks count more."""
NEXT_DEG = (
    (0.0, 0.0),
    *((55.0, 0.0), (55.0, -25.0), (45.0, 25.0), (45.0, 0.0), (45.0, -25.0)),
    *((25.0, 45.0), (10.0, 45.0), (15.0, 25.0)),
    *((-15.0, -45.0), (-30.0, -45.0), (-35.0, -25.0)),
    *((-55.0, -25.0), (-55.0, -10.0), (-55.0, 10.0)),
)
"""Where a phone may go next: elevation, and turn to behind the ear.  Each, but the first, lies 9
degrees and more inside what half of the placements show."""
FURTHER_DEG = 5.0
"""How much further to go where a photo should have shown a dot and doesn't (assumed)."""
SAME_DEG, WORTH = 8.0, 0.85
"""A photo nearer to one that is there is the same; one that leaves more of U isn't asked for: any
sixth leaves 0.91, by averaging alone."""
UNKNOWN_MM = 5.0
"""A larger U says nothing of a channel."""
SNAPPED_PX = 0.3
FAN_DEG = 10.0
"""A set that spans less to the sides was taken straight up and down."""


@dataclass(frozen=True, slots=True)
class Sight:
    """From where a photo was, or is to be, taken: deg over the card's normal, deg to the right."""

    rise_deg: float
    aside_deg: float


@dataclass(frozen=True, slots=True)
class Guide:
    """What a set of photos gives, and the next photo that would bring most.

    ``u_mm`` is U of the channel as things stand, with marks by hand and with snapped dots, None
    where its depth can't be told; ``next_u_mm`` the same with the next photo.  ``lacking`` are
    dots that are marked in one photo only.  ``straight`` says that all photos lie in one
    vertical plane.
    """

    taken: tuple[Sight, ...]
    next: Sight | None
    u_mm: tuple[float | None, float | None]
    next_u_mm: tuple[float | None, float | None]
    lacking: tuple[str, ...]
    straight: bool


@dataclass(frozen=True, slots=True)
class _View:
    fit: PlaneFit
    sight: Sight
    front: float
    """Whether the face lies to the right (1) or to the left (-1)."""
    shows: frozenset[str] | None
    px_per_mm: float


def sight_in(reading: PhotoReading) -> Sight | None:
    """Return from where a photo was taken, or None without a pose."""
    if reading.fit is None or reading.target_px is None:
        return None
    return _angles(sight_of(reading.fit, reading.target_px))


def _angles(sight: Array) -> Sight:
    right, down, away = sight
    rise = float(np.rad2deg(np.arcsin(np.clip(-down, -1.0, 1.0))))
    return Sight(rise, float(np.rad2deg(np.arctan2(right, -away))))


def guide(readings: Iterable[PhotoReading], marks: Marks | None, side: Side) -> Guide:
    """Return what the photos give and what to photograph next.

    Parameters
    ----------
    readings : of all photos; those without a pose don't count
    marks : what is marked so far, if anything
    side : which ear it is: the face lies to the left of a left one as seen
    """
    views, middle = _views(readings, marks, -1.0 if side == "left" else 1.0)
    taken = tuple(view.sight for view in views)
    lacking = _lacking(views)
    if not views:
        return Guide((), None, (None, None), (None, None), lacking, straight=False)
    shift = (marks.card_shift if marks else None) or CardShift(u_mm=U_SHIFT_MM)
    now = _channel(views, middle, shift.u_mm)
    turns = [view.sight.aside_deg for view in views]
    straight = len(views) > 2 and max(turns) - min(turns) < FAN_DEG
    tried = [
        (_channel([*views, view], middle, shift.u_mm), view.sight)
        for view in _candidates(views, middle)
    ]
    best = min(tried, key=lambda each: (each[0][0], each[0][1]), default=None)
    if best is None or best[0][0] > WORTH * now[0]:
        return Guide(taken, None, _told(now), _told(now), lacking, straight)
    return Guide(taken, best[1], _told(now), _told(best[0]), lacking, straight)


def one_view_u_mm(marks: Marks, readings: Mapping[str, PhotoReading]) -> float | None:
    """Return U of the channel by one photo alone, mm: the least of the placements'; None without.

    Parameters
    ----------
    marks : what is marked
    readings : by file
    """
    found = []
    for label in marks.labels():
        photo = view_of(label, marks, readings)
        if photo is not None:
            axis = axes_in(photo, [label], marks, readings[photo.file], Draws(1, DRAWS))[label]
            found.append(COVERAGE * float(np.std(axis.channel_mm)))
    return min(found, default=None)


def _told(u_mm: tuple[float, float]) -> tuple[float | None, float | None]:
    by_hand, snapped = (None if u > UNKNOWN_MM else u for u in u_mm)
    return by_hand, snapped


def _views(
    readings: Iterable[PhotoReading], marks: Marks | None, front: float
) -> tuple[list[_View], dict[str, Array]]:
    """Return the photos with a pose, and about where the dots lie."""
    marked = {photo.file: photo for photo in marks.photos} if marks else {}
    height = marks.rim_plane.offset_mm if marks else 0.0
    views, middles = list[_View](), []
    for reading in readings:
        sight = sight_in(reading)
        if sight is None or reading.fit is None or reading.target_px is None:
            continue
        shows = frozenset[str]()
        if reading.file in marked:
            shows = frozenset(dots_in(marked[reading.file], reading, 1.0))
        scale = 1.0 / reading.mm_per_px(0.0)
        views.append(_View(reading.fit, sight, front, shows or None, scale))
        at = reading.fit.on_plane(np.array([reading.target_px]), height)[0]
        middles.append([*at, -height])
    middle = np.mean(middles, axis=0) if middles else np.zeros(3)
    return views, {kind: middle + np.array(off) for kind, off in RIM_MM.items()}


def _lacking(views: Iterable[_View]) -> tuple[str, ...]:
    seen = [name for view in views for name in view.shows or ()]
    return tuple(name for name in dict.fromkeys(seen) if seen.count(name) < 2)


def _channel(
    views: Iterable[_View], places: Mapping[str, Array], u_shift_mm: float
) -> tuple[float, float]:
    """Return U of the channel, mm: marked by hand, and with snapped dots."""
    held = list(views)
    further = _further(held)
    by_hand = [(v.fit, _dots(v, further), U_MARK_MM * v.px_per_mm) for v in held]
    snapped = [(fit, dots, SNAPPED_PX) for fit, dots, _ in by_hand]
    first, second = (
        COVERAGE * span_u(places, foretold(own, places, u_shift_mm), ("entry", "exit"))
        for own in (by_hand, snapped)
    )
    return first, second


def _dots(view: _View, further: tuple[float, float]) -> list[str]:
    """Return which kinds of dots a photo shows: as marked in it, else by where it looks from."""
    if view.shows is not None:
        return [kind for kind in RIM_MM if any(n.endswith(f"/{kind}") for n in view.shows)]
    rise, (above, below) = view.sight.rise_deg, _limits(view, further)
    hidden = {"entry": rise < above, "exit": rise > below, "floor": rise > above}
    return [kind for kind in RIM_MM if not hidden.get(kind, False)]


def _limits(view: _View, further: tuple[float, float] = (0.0, 0.0)) -> tuple[float, float]:
    """Return from how far above entries, and below exits, are seen with the view's step aside."""
    behind = -view.front * view.sight.aside_deg
    above, below = (
        float(np.interp(behind, STEPS_DEG, SEEN_FROM_DEG[end])) for end in ("entry", "exit")
    )
    return above + further[0], below - further[1]


def _further(views: Iterable[_View]) -> tuple[float, float]:
    """Return how much further up entries, and down exits, are seen, where marks lack them."""
    up = down = 0.0
    for view in views:
        kinds = {name.rsplit("/", 1)[-1] for name in view.shows or ("/entry", "/exit")}
        rise, (above, below) = view.sight.rise_deg, _limits(view)
        if rise > above + up and "entry" not in kinds:
            up = rise - above + FURTHER_DEG
        if rise < below - down and "exit" not in kinds:
            down = below - rise + FURTHER_DEG
    return up, down


def _candidates(views: list[_View], places: Mapping[str, Array]) -> list[_View]:
    """Return photos that could be taken next, none where one was taken."""
    like = views[0]
    middle = np.mean([places["entry"], places["exit"]], axis=0)
    distance = float(np.median([np.linalg.norm(view.fit.centre_mm - middle) for view in views]))
    scale = float(np.median([view.px_per_mm for view in views]))
    found = []
    for rise, behind in NEXT_DEG:
        sight = Sight(rise, -like.front * behind)
        if any(_apart_deg(sight, view.sight) < SAME_DEG for view in views):
            continue
        camera = camera_toward(like.fit, middle, _way(sight), distance)
        found.append(_View(camera, sight, like.front, None, scale))
    return found


def _way(sight: Sight) -> Array:
    return way_of(sight.rise_deg, sight.aside_deg)


def _apart_deg(one: Sight, other: Sight) -> float:
    return angle_deg(_way(one), _way(other))
