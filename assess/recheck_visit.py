"""One visit's marks against the baseline's: every post that both show, and the channel as seen."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np

from assess.channel import combine
from assess.marks import Marks
from assess.placements import see
from assess.reading import PhotoReading
from assess.recheck import compare
from assess.recheck_carry import Pair
from assess.recheck_change import Change, NotComparable
from assess.recheck_marks import PostsMarked
from assess.recheck_match import projected_outlines
from assess.recheck_pair import pair_of, same_print
from assess.recheck_space import compare_in_space
from assess.recheck_space_points import VisitPoints, WhyNotSpace, visit_points
from calibration.draws import Draws
from calibration.frames import Array
from calibration.photo import Photo, PhotoError
from calibration.quantity import Quantity

BASELINE, NOW = "baseline", "now"


@dataclass(frozen=True, eq=False)
class Visit:
    """A visit as it was marked: its marks, posts, decoded photos and what each photo said."""

    marks: Marks
    posts: PostsMarked
    photos: Mapping[str, Photo | PhotoError]
    readings: Mapping[str, PhotoReading]


@dataclass(frozen=True, eq=False)
class Rechecked:
    """One post at a visit: its change or why there is none, and the channel.

    ``longer`` is by how much the channel as seen is longer than at the baseline, ``channel_mm``
    (M,) the draws of today's, ``then_mm`` of the baseline's; ``outline_px`` the baseline's outlines
    in the new photo, to match it; ``one_view`` why one photo of each visit was compared, None where
    several were, in space.
    """

    label: str
    photos: tuple[str, str] | None
    change: Change | NotComparable
    longer: Quantity | None
    channel_mm: Array | None
    outline_px: Mapping[str, Array]
    then_mm: Array | None = None
    one_view: WhyNotSpace | None = None

    @property
    def swollen(self) -> bool:
        """Return whether the channel as seen is measurably longer than at the baseline."""
        return self.longer is not None and self.longer.low > 0.0


def recheck(baseline: Visit, now: Visit, *, seed: int = 1, draws: int = 100_000) -> list[Rechecked]:
    """Return every post that both visits mark.

    In space where both visits' photos give both ends and lasting places there; else by the pair of
    photos whose views differ least.  The print of the card, and the visible band's error, which
    belongs to the ear, are the same inputs at both visits.
    """
    kinds = (Draws(seed, draws, BASELINE), Draws(seed, draws, NOW))
    channels = [
        _channels(visit, drawing) for visit, drawing in zip((baseline, now), kinds, strict=True)
    ]
    points = [
        visit_points(visit.marks, visit.posts, visit.photos, visit.readings)
        for visit in (baseline, now)
    ]
    shared = [label for label in baseline.posts.labels() if label in now.posts.labels()]
    return [_one(label, baseline, now, kinds, channels, points) for label in shared]


def _channels(visit: Visit, draws: Draws) -> dict[str, Array]:
    seen = see(visit.marks, visit.photos, visit.readings, draws)
    found = {
        label: combine(seen.axes.get(label), visit.marks.caliper.get(label), label, draws)
        for label in visit.marks.labels()
    }
    return {label: channel.draws for label, channel in found.items() if channel is not None}


def _one(
    label: str,
    baseline: Visit,
    now: Visit,
    draws: tuple[Draws, Draws],
    channels: list[dict[str, Array]],
    points: list[VisitPoints | None],
) -> Rechecked:
    then_mm, now_mm = (each.get(label) for each in channels)
    longer = None
    if then_mm is not None and now_mm is not None:
        longer = Quantity.from_draws(now_mm - then_mm, "mm")
    worn = baseline.posts.of(label), now.posts.of(label)
    face = 1.0 if now.marks.side == "left" else -1.0
    change = compare_in_space(
        label,
        (points[0], points[1]),
        worn,
        frozenset([*baseline.posts.labels(), *now.posts.labels()]),
        face,
        draws,
        same_print=same_print(baseline.marks.card, now.marks.card),
    )
    if isinstance(change, Change):
        return Rechecked(label, change.photos, change, longer, now_mm, {}, then_mm)
    seen = _by_one_view(label, baseline, now, draws, face)
    return Rechecked(label, seen[0], seen[1], longer, now_mm, seen[2], then_mm, change)


def _by_one_view(
    label: str, baseline: Visit, now: Visit, draws: tuple[Draws, Draws], face: float
) -> tuple[tuple[str, str] | None, Change | NotComparable, Mapping[str, Array]]:
    """Return the two photos compared, what came of it, and the outline to match the view by."""
    found = _nearest(label, baseline, now)
    if found is None:
        return None, NotComparable("no_rim"), {}
    files, pair = found
    worn = baseline.posts.of(label), now.posts.of(label)
    change = compare(label, pair, worn, face, draws)
    if not isinstance(change, NotComparable):
        return files, change, {}
    middle = np.mean(list(now.posts.photos[files[1]][label].points.values()), axis=0)
    offset = now.marks.rim_plane.offset_mm
    outline = projected_outlines(pair.baseline, now.readings[files[1]], offset, middle)
    return files, change, outline


def _nearest(label: str, baseline: Visit, now: Visit) -> tuple[tuple[str, str], Pair] | None:
    """Return the two photos whose views differ least, by the cards, and their pair."""
    best: tuple[float, tuple[str, str], Pair] | None = None
    for file, posts in baseline.posts.photos.items():
        for other, later in now.posts.photos.items():
            if label not in posts or label not in later:
                continue
            pair = pair_of(
                (baseline.marks, now.marks),
                (file, other),
                (posts[label], later[label]),
                (baseline.readings[file], now.readings[other]),
            )
            if pair is not None and (best is None or pair.view_change_deg(0.0) < best[0]):
                best = pair.view_change_deg(0.0), (file, other), pair
    return None if best is None else (best[1], best[2])
