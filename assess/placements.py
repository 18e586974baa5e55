"""The placements of a visit: what its photos, calipers and hands say of each, and the decision.

Where both ends of a placement are triangulated, several views measure it; else the photo of least
tilt that shows both, in the rim's plane as several views see it if they do; else calipers alone.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field, replace
from itertools import combinations

import numpy as np

from assess import relief as tissue_depth
from assess.channel import Axis, Channel, combine
from assess.criteria import Criteria
from assess.marks import Marks, PhotoMarks, PostStock
from assess.placing import axes_in, both_ends, usual_marks_px, view_of
from assess.posts import DEFAULT_GAUGE_MM, default_stock
from assess.reading import ONE_VIEW_TILT_DEG, PhotoReading
from assess.report_placement import Found
from assess.seat import Seat
from assess.seat_views import outlines_in, seat_in_photo, seats_in_views
from assess.several_views import assumed_in, several_views, upright
from assess.space import Space, SpacePlacement, in_space, placement_in_space, point_name
from assess.space_plane import seen_plane
from assess.space_wording import refusal_sentence, sentences
from assess.steps import Circumstances
from assess.two_sides import TwoSides, sides_in_photo, sides_in_space
from assess.verdict import decide
from calibration.draws import Draws
from calibration.frames import Array
from calibration.inputs import Input
from calibration.photo import Photo, PhotoError
from calibration.views import ViewsOutcome, ViewsRefused, ViewsSolved


@dataclass(frozen=True)
class Seen:
    """What a visit's photos say of its placements.

    ``axes`` by label; ``frames`` which of them share a frame (None: the card's, by several views,
    else the photo); ``space`` what several views say; ``said`` what is to be said of
    them; ``seats`` by label where a contour tells of them,
    ``sides`` where the dots lie.
    """

    axes: Mapping[str, Axis]
    frames: Mapping[str, str | None]
    space: Mapping[str, SpacePlacement]
    said: tuple[str, ...]
    seats: Mapping[str, Seat] = field(default_factory=dict)
    sides: Mapping[str, TwoSides] = field(default_factory=dict)


def see(
    marks: Marks,
    photos: Mapping[str, Photo | PhotoError],
    readings: Mapping[str, PhotoReading],
    draws: Draws,
) -> Seen:
    """Return what the photos say of every placement."""
    usual_px = usual_marks_px(marks, readings)
    outcome = several_views(marks, photos, readings, usual_px)
    dots = _dots(marks, outcome, draws)
    space = _space(marks, readings, usual_px, dots, draws)
    seats, sides = _in_views(marks, readings, usual_px, dots, draws)
    axes = {label: at.axis for label, at in space.items() if at.axis is not None}
    frames: dict[str, str | None] = dict.fromkeys(axes)
    left = [label for label in marks.labels() if label not in axes]
    views = {label: view_of(label, marks, readings) for label in left}
    for photo in marks.photos:
        labels = [label for label, view in views.items() if view is photo]
        if labels:
            plane = _plane(marks, photo, readings[photo.file], outcome)
            axes |= axes_in(photo, labels, marks, readings[photo.file], draws, plane=plane)
            frames |= dict.fromkeys(labels, photo.file)
            reading, u_px = readings[photo.file], usual_px[photo.file]
            for label in labels:
                drawn = sides_in_photo(photo, label, reading, marks, u_px)
                sides |= {} if drawn is None else {label: drawn}
            seats |= {
                label: seat_in_photo(photo, label, reading, marks, u_px, draws) for label in labels
            }
    return Seen(axes, frames, space, _said(outcome), seats, sides)


def _in_views(
    marks: Marks,
    readings: Mapping[str, PhotoReading],
    usual_px: Mapping[str, float],
    dots: Space | None,
    draws: Draws,
) -> tuple[dict[str, Seat], dict[str, TwoSides]]:
    """Return seats and drawings of the placements that several views measured."""
    if dots is None:
        return {}, {}
    lines = outlines_in(marks, readings, usual_px, dots)
    ends = ("entry", "exit")
    able = [x for x in marks.labels() if dots.has(*(point_name(x, end) for end in ends))]
    sides = {label: sides_in_space(label, dots, lines) for label in able}
    return seats_in_views(marks, lines, dots, draws), sides


def _dots(marks: Marks, outcome: ViewsOutcome | None, draws: Draws) -> Space | None:
    if not isinstance(outcome, ViewsSolved):
        return None
    return in_space(outcome, draws, assumed_in(marks))


def _space(
    marks: Marks,
    readings: Mapping[str, PhotoReading],
    usual_px: Mapping[str, float],
    dots: Space | None,
    draws: Draws,
) -> dict[str, SpacePlacement]:
    if dots is None:
        return {}
    up = upright(marks, readings, usual_px, marks.rim_plane.offset_mm, draws)
    return {label: placement_in_space(label, dots, marks.side, up) for label in marks.labels()}


def _plane(
    marks: Marks, photo: PhotoMarks, reading: PhotoReading, outcome: ViewsOutcome | None
) -> tuple[Input, Input] | None:
    """Return the rim's plane as several views see it, for a single photo; None if they don't."""
    names = [point_name(label, end) for label in marks.labels() for end in ("entry", "exit")]
    if not isinstance(outcome, ViewsSolved) or reading.fit is None:
        return None
    if photo.file not in {view.name for view in outcome.found.problem.photos}:
        return None
    seen = seen_plane(outcome.in_photo(photo.file), names, marks.rim_plane)
    if seen is None or reading.target_px is None:
        return None
    middle = reading.fit.on_plane(np.array([reading.target_px]), float(seen.at[0]))[0]
    return seen.inputs(middle)


def _said(outcome: ViewsOutcome | None) -> tuple[str, ...]:
    if outcome is None:
        return ()
    if isinstance(outcome, ViewsRefused):
        return (refusal_sentence(outcome),)
    return sentences(outcome)


def placements(
    marks: Marks,
    readings: Mapping[str, PhotoReading],
    seen: Seen,
    criteria: Criteria,
    draws: Draws,
) -> list[Found]:
    """Return everything found on each placement."""
    spacing = _spacing(seen)
    founds = []
    for label in marks.labels():
        channel = combine(seen.axes.get(label), marks.caliper.get(label), label, draws)
        founds.append(_found(label, marks, readings, seen, channel, spacing, criteria, draws))
    return founds


def _found(
    label: str,
    marks: Marks,
    readings: Mapping[str, PhotoReading],
    seen: Seen,
    channel: Channel | None,
    spacing: Mapping[str, Array | None],
    criteria: Criteria,
    draws: Draws,
) -> Found:
    axis, space, reading = seen.axes.get(label), seen.space.get(label), marks.caliper.get(label)
    relief = tissue_depth.relief(reading, space, label, draws)
    cover = tissue_depth.cover(reading, _post_mm(marks.posts, criteria), label, draws)
    evidence: dict[str, Array | None] = {
        "channel": channel.draws if channel else None,
        "relief": relief,
        "cover_front": cover[0] if cover else None,
        "cover_behind": cover[1] if cover else None,
        "room_below": axis.room_below_mm if axis else None,
    }
    if label in spacing:
        evidence["spacing"] = spacing[label]
    examined = marks.examined.get(label)
    decision = decide(evidence, examined.tissue if examined else "not_examined", criteria)
    refusals = _refusals(label, marks, readings) if axis is None else ()
    file = seen.frames.get(label)
    view = readings.get(file or "")
    how = Circumstances(
        view.tilt_deg if view else None,
        all(r.scale.verified for r in readings.values() if r.seen is not None),
        marks.rim_plane.u_offset_mm,
        reading,
    )
    seat = seen.seats.get(label, Seat())
    found = Found(label, file, axis, channel, relief, decision, refusals, how, seat=seat)
    low = view is not None and view.low_confidence
    found = replace(found, sides=seen.sides.get(label), low_confidence=low)
    return found if space is None else replace(found, space=space)


def _post_mm(stock: tuple[PostStock, ...] | None, criteria: Criteria) -> float:
    """Return the diameter that would be used: the first of the stock that may be."""
    gauges = [post.gauge_mm for post in stock or default_stock()]
    wanted = [gauge for gauge in gauges if criteria.limits["post"].contains(gauge)]
    return wanted[0] if wanted else DEFAULT_GAUGE_MM


def _spacing(seen: Seen) -> dict[str, Array | None]:
    """Return each placement's distance to the nearest other, for groups of two and more."""
    if len(seen.axes) < 2:
        return {}
    nearest: dict[str, Array | None] = dict.fromkeys(seen.axes)
    for a, b in combinations(seen.axes, 2):
        if seen.frames[a] != seen.frames[b]:  # each photo has a plane of its own
            continue
        gap = np.linalg.norm(seen.axes[a].middle_mm - seen.axes[b].middle_mm, axis=-1)
        for label in (a, b):
            known = nearest[label]
            nearest[label] = gap if known is None else np.minimum(known, gap)
    return nearest


def _refusals(label: str, marks: Marks, readings: Mapping[str, PhotoReading]) -> tuple[str, ...]:
    """Return why no photo gives this placement's channel."""
    showing = [photo for photo in marks.photos if both_ends(photo.placement(label))]
    lines = []
    for photo in showing:
        reading = readings[photo.file]
        if reading.refusal:
            lines.append(f"{photo.file}: {reading.refusal}")
        elif (reading.tilt_deg or 0.0) > ONE_VIEW_TILT_DEG:
            lines.append(
                f"{photo.file}: seen at {reading.tilt_deg:.0f} degrees, over "
                f"{ONE_VIEW_TILT_DEG:.0f}; take one square-on."
            )
    return tuple(lines)
