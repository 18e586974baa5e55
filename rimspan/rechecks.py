"""A later visit's photos held against the baseline: which baseline, and what came of it.

The baseline is the photo taken right after the insertion; where none was taken, or none can be
measured, it is that of the first later visit whose photo was marked.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from datetime import date
from typing import Any

from assess.measure import DRAWS
from assess.read_marks import parse_marks
from assess.reading import PhotoReading
from assess.recheck_first_look import FirstLook, first_look
from assess.recheck_marks import parse_posts
from assess.recheck_result import recheck_document
from assess.recheck_series import Followup, Point, followups, points_of
from assess.recheck_view import plane_view
from assess.recheck_visit import Rechecked, Visit, recheck
from assess.visit_measured import MarkedSet, Recheck
from calibration.photo import Photo, PhotoError
from rimspan.clientfile import ClientFile
from rimspan.insertions import sittings
from rimspan.post_marks import lacking
from rimspan.studio_clock import day_of
from rimspan.visits import Piercing

SEED = 1


@dataclass(frozen=True, slots=True)
class Baseline:
    """Photos that a later visit may be held against; ``kept`` their marks, where there are any."""

    on: date
    photos: Mapping[str, str]
    after_insertion: bool
    length_mm: float | None
    card: Mapping[str, Any] | None
    kept: MarkedSet | None = None


@dataclass(frozen=True)
class Shown:
    """Marked photos as they are measured: what each said, and its size."""

    marks: Mapping[str, Any]
    photos: Mapping[str, Photo | PhotoError]
    readings: Mapping[str, PhotoReading]

    @property
    def visit(self) -> Visit:
        """Return it as the comparison takes it."""
        return Visit(parse_marks(self.marks), parse_posts(self.marks), self.photos, self.readings)


def baselines(file: ClientFile, piercing: Piercing) -> list[Baseline]:
    """Return what a visit may be held against, the best first."""
    kept = [each.visit.recheck for each in piercing.visits if each.visit.recheck is not None]
    found = _after_insertion(file, piercing, kept)
    for each in kept:
        if not lacking_of(each.now, piercing.label):
            found.append(_as_baseline(each.now, piercing.label))
            break
    return found


def _after_insertion(
    file: ClientFile, piercing: Piercing, kept: Iterable[Recheck]
) -> list[Baseline]:
    revision = piercing.revision
    names = {p.sha256: p.filename for p in file.photos(revision.client_id, revision.side)}
    marked = [r.baseline for r in kept if r.baseline is not None and r.baseline.after_insertion]
    found = []
    for sitting in sittings(file, revision.client_id):
        put = [each for each in sitting.insertion.put_in if each.label == piercing.label]
        photos = {names[digest]: digest for digest in sitting.baseline if digest in names}
        if sitting.revision != revision.number or not put or not photos:
            continue
        own = [each for each in marked if set(each.photos.values()) <= set(photos.values())]
        on, card = day_of(file, sitting.insertion.at), revision.marks.get("card")
        last = own[-1] if own else None
        found.append(Baseline(on, photos, True, put[0].length_mm, card, last))
    return found


def _as_baseline(now: MarkedSet, label: str) -> Baseline:
    length = now.marks.get("x_posts", {}).get(label, {}).get("length_mm")
    return Baseline(now.on, now.photos, False, length, now.marks.get("card"), now)


def lacking_of(marked: MarkedSet, label: str) -> tuple[str, ...]:
    """Return what a kept set of marks lacks, of what a comparison needs."""
    photos = [
        photo
        | {"placements": [p | _flat(p.get("x_post", {})) for p in photo.get("placements", ())]}
        for photo in marked.marks["photos"]
    ]
    return lacking({"photos": photos}, label)


def _flat(post: Mapping[str, Any]) -> dict[str, Any]:
    axis = dict(zip(("axis_from", "axis_to"), post.get("axis", ()), strict=False))
    return dict(post) | axis


def looked_at(baseline: Shown, label: str, now: PhotoReading) -> FirstLook | None:
    """Return how a new photo's view compares with the nearest of the baseline's."""
    visit, found = baseline.visit, []
    for file, posts in visit.posts.photos.items():
        if label not in posts or file not in visit.readings:
            continue
        view = plane_view(visit.marks, file, posts[label], visit.readings[file])
        look = None if view is None else first_look(view, visit.readings[file], now)
        if look is not None:
            found.append(look)
    return min(found, key=lambda look: look.off_deg, default=None)


def compared(baseline: Shown, now: Shown, label: str, draws: int) -> Rechecked | None:
    """Return how a post changed; None where one of both doesn't show it."""
    found = recheck(baseline.visit, now.visit, seed=SEED, draws=draws)
    return next((each for each in found if each.label == label), None)


def kept_recheck(
    now: MarkedSet,
    baseline: MarkedSet | None,
    found: Rechecked | None,
    length_mm: float | None,
) -> Recheck:
    """Return a comparison as it is kept with the visit.

    Parameters
    ----------
    length_mm : of the post that was in
    """
    if baseline is None or found is None:
        return Recheck(now, baseline)
    document = recheck_document([found], {found.label: length_mm}, SEED, DRAWS)
    return Recheck(now, baseline, document, points_of(found), found.swollen)


def followed(
    piercing: Piercing,
    baseline: MarkedSet | None,
    now: tuple[date, tuple[Point, ...]] | None = None,
) -> tuple[Followup, ...]:
    """Return what is followed over the visits that were held against one baseline.

    Parameters
    ----------
    baseline : the set of marks; of visits held against another one nothing is said
    now : the day of a visit that isn't kept yet, and what was found at it
    """
    if baseline is None:
        return ()
    visits = [
        (each.visit.on, each.visit.recheck.points)
        for each in piercing.visits
        if each.visit.recheck is not None and each.visit.recheck.baseline == baseline
    ]
    return followups(baseline.on, [*visits, *([] if now is None else [now])])


def last_followed(piercing: Piercing) -> tuple[Followup, ...]:
    """Return what is followed over the visits that are kept, by the baseline used last."""
    used = [each.visit.recheck for each in piercing.visits if each.visit.recheck is not None]
    sets = [each.baseline for each in used if each.points]
    return followed(piercing, sets[-1]) if sets else ()
