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
from assess.recheck_pair import pair_of
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
    in the new photo, to match it.
    """

    label: str
    photos: tuple[str, str] | None
    change: Change | NotComparable
    longer: Quantity | None
    channel_mm: Array | None
    outline_px: Mapping[str, Array]
    then_mm: Array | None = None

    @property
    def swollen(self) -> bool:
        """Return whether the channel as seen is measurably longer than at the baseline."""
        return self.longer is not None and self.longer.low > 0.0


def recheck(baseline: Visit, now: Visit, *, seed: int = 1, draws: int = 100_000) -> list[Rechecked]:
    """Return every post that both visits mark.

    The pair of photos whose views differ least is compared.  The print of the card, and the
    visible band's error, which belongs to the ear, are the same inputs at both visits.
    """
    kinds = (Draws(seed, draws, BASELINE), Draws(seed, draws, NOW))
    channels = [
        _channels(visit, drawing) for visit, drawing in zip((baseline, now), kinds, strict=True)
    ]
    shared = [label for label in baseline.posts.labels() if label in now.posts.labels()]
    return [_one(label, baseline, now, kinds, channels) for label in shared]


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
) -> Rechecked:
    then_mm, now_mm = (each.get(label) for each in channels)
    longer = None
    if then_mm is not None and now_mm is not None:
        longer = Quantity.from_draws(now_mm - then_mm, "mm")
    found = _nearest(label, baseline, now)
    if found is None:
        return Rechecked(label, None, NotComparable("no_rim"), longer, now_mm, {}, then_mm)
    files, pair = found
    worn = baseline.posts.of(label), now.posts.of(label)
    face = 1.0 if now.marks.side == "left" else -1.0
    change = compare(label, pair, worn, face, draws)
    outline = {}
    if isinstance(change, NotComparable):
        middle = np.mean(list(now.posts.photos[files[1]][label].points.values()), axis=0)
        offset = now.marks.rim_plane.offset_mm
        outline = projected_outlines(pair.baseline, now.readings[files[1]], offset, middle)
    return Rechecked(label, files, change, longer, now_mm, outline, then_mm)


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
