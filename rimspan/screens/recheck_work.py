"""What the Visit page asks of today's photos and the baseline's: readings, the comparison."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import date
from functools import partial
from typing import Any

from assess.errors import AssessError
from assess.measure import DRAWS
from assess.recheck_first_look import FirstLook
from assess.recheck_series import Followup, points_of
from assess.recheck_visit import Rechecked
from assess.visit_measured import MarkedSet, Recheck
from rimspan.post_marks import as_marks, lacking
from rimspan.rechecks import (
    Baseline,
    Shown,
    baselines,
    compared,
    followed,
    kept_recheck,
    looked_at,
)
from rimspan.screens import lens_use, recheck_draft, state, visit_draft, work
from rimspan.screens.document import MARKED_BY, Document, hashes
from rimspan.screens.store import client_file
from rimspan.studio_clock import today
from rimspan.visits import Piercing

Held = Mapping[str, Any]


@dataclass(frozen=True, slots=True)
class BesideBaseline:
    """Today's photos beside the baseline: both sets of marks, and what came of them.

    ``against`` is None while the baseline isn't marked, ``now`` without a photo of today, ``found``
    while either lacks marks.
    """

    base: Baseline | None
    against: MarkedSet | None
    now: MarkedSet | None
    found: Rechecked | AssessError | None

    @property
    def rechecked(self) -> Rechecked | None:
        """Return the comparison, if there is one."""
        return self.found if isinstance(self.found, Rechecked) else None


def beside_baseline(held: Held, piercing: Piercing, draws: int = work.LIVE_DRAWS) -> BesideBaseline:
    """Return today's photos beside the baseline."""
    base, now = baseline_of(piercing), marked_now(held, piercing)
    against = None if base is None else _marked_baseline(held, piercing, base)
    return BesideBaseline(base, against, now, _comparison(against, now, piercing.label, draws))


def baseline_of(piercing: Piercing) -> Baseline | None:
    """Return the baseline: the best one in which the card was found."""
    found = baselines(client_file(), piercing)
    for each in found if len(found) > 1 else ():  # a card is looked for only to choose
        photos = recheck_draft.begun(each, piercing.revision.side)
        if any(work.reading(photos, name).fit is not None for name in each.photos):
            return each
    return found[0] if found else None


def _marked_baseline(held: Held, piercing: Piercing, baseline: Baseline) -> MarkedSet | None:
    """Return the baseline with its marks: as marked now, else as kept; None without marks."""
    photos = recheck_draft.photos_of(held, "baseline")
    if photos is None:
        return baseline.kept
    if lacking(photos, piercing.label):
        return None
    return _set(
        photos, piercing.label, baseline.length_mm, baseline.on, after=baseline.after_insertion
    )


def marked_now(held: Held, piercing: Piercing) -> MarkedSet | None:
    """Return today's photos with their marks, whatever they lack; None without a photo."""
    photos = recheck_draft.photos_of(held, "now")
    if photos is None:
        return None
    worn = visit_draft.before(held, piercing)
    length = None if worn is None else worn.length_mm
    return _set(photos, piercing.label, length, today(client_file()))


def _set(
    photos: Document, label: str, length_mm: float | None, on: date, *, after: bool = False
) -> MarkedSet:
    own = hashes(photos)
    cameras = {
        name: camera.model_dump(mode="json", exclude_none=True)
        for name, digest in own.items()
        if (camera := lens_use.camera_of(digest, partial(work.photo, digest))) is not None
    }
    by = [photo[MARKED_BY] for photo in photos["photos"] if photo.get(MARKED_BY)]
    marks = as_marks(photos, label, length_mm, cameras)
    named = by[-1] if by else state.piercer()
    return MarkedSet(on, today(client_file()), named, marks, own, after)


def shown(marked: MarkedSet) -> Shown:
    """Return a set of marks with what its photos say."""
    photos = {
        "side": marked.marks["side"],
        "card": marked.marks.get("card"),
        "photos": [{"file": name, "x_sha256": digest} for name, digest in marked.photos.items()],
    }
    seen = work.seen(photos)
    return Shown(
        marked.marks,
        {name: seen.blank(name) for name in marked.photos},
        {name: seen.reading(name) for name in marked.photos},
    )


def look(baseline: MarkedSet | None, photos: Document, file: str, label: str) -> FirstLook | None:
    """Return how a new photo's view compares, before anything is marked in it."""
    if baseline is None:
        return None
    key = [baseline.marks, hashes(photos)[file], label]
    return state.remembered(
        "first look", key, lambda: looked_at(shown(baseline), label, work.reading(photos, file))
    )


def _comparison(
    baseline: MarkedSet | None, now: MarkedSet | None, label: str, draws: int
) -> Rechecked | AssessError | None:
    """Return how the post changed; None while a set lacks marks."""
    if baseline is None or now is None:
        return None

    def made() -> Rechecked | AssessError | None:
        try:
            return compared(shown(baseline), shown(now), label, draws)
        except AssessError as error:
            return error

    key = [baseline.marks, baseline.photos, now.marks, now.photos, label, draws]
    return state.remembered("recheck", key, made, most=4)


def to_keep(held: Held, piercing: Piercing) -> Recheck | None:
    """Return what is kept of today's photos with the visit; None without any."""
    seen = beside_baseline(held, piercing, DRAWS)
    if seen.now is None:
        return None
    worn = visit_draft.before(held, piercing)
    length = None if worn is None else worn.length_mm
    return kept_recheck(seen.now, seen.against, seen.rechecked, length)


def over_visits(piercing: Piercing, seen: BesideBaseline) -> tuple[Followup, ...]:
    """Return what is followed over the visits, today's among them."""
    points = () if seen.rechecked is None else points_of(seen.rechecked)
    now = (today(client_file()), points) if points else None
    return followed(piercing, seen.against, now)
