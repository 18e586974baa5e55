"""The demo's visit at which something is measured: today's photo against that of the piercing."""

from __future__ import annotations

import json
from dataclasses import dataclass
from importlib.resources.abc import Traversable

from assess.measure import DRAWS, read_photos
from assess.read_marks import parse_marks
from assess.result import PlacementOut
from assess.visit_measured import Downsized, MarkedSet, Recheck
from assess.visit_record import WornNow
from calibration.photo import read_photo
from rimspan.clientfile import ClientFile
from rimspan.demo.client import PIERCER, photos_kept
from rimspan.downsizings import channel_today, downsizing_of
from rimspan.rechecks import Shown, compared, kept_recheck
from rimspan.studio_clock import day_of
from rimspan.visits import Piercing


@dataclass(frozen=True)
class Marked:
    """A photo with the post in that the demo brings: as kept with a visit, and as measured."""

    kept: MarkedSet
    shown: Shown


def marked(
    file: ClientFile, client: str, sample: Traversable, name: str, *, after: bool = False
) -> Marked:
    """Return a photo and its marks, the photo kept in the client's file."""
    marks = json.loads(sample.joinpath(f"marks-{name}.json").read_text("utf-8"))
    hashes = photos_kept(file, client, marks, sample)
    photos = {each: read_photo(file.photo_bytes(digest)) for each, digest in hashes.items()}
    on = day_of(file, file.clock())
    readings = read_photos(parse_marks(marks), photos, None)
    return Marked(MarkedSet(on, on, PIERCER, marks, hashes, after), Shown(marks, photos, readings))


def held_against(baseline: Marked, now: Marked, label: str, length_mm: float) -> Recheck:
    """Return what the later photo shows against the baseline."""
    found = compared(baseline.shown, now.shown, label, DRAWS)
    return kept_recheck(now.kept, baseline.kept, found, length_mm)


def shorter_today(
    file: ClientFile, piercing: Piercing, now: Marked, worn: WornNow
) -> Downsized | None:
    """Return which shorter post today's channel asks for."""
    channel = channel_today(piercing.label, None, now.shown)
    told = next(
        each for each in piercing.revision.result["placements"] if each["label"] == piercing.label
    )
    if channel is None:
        return None
    measured = PlacementOut.model_validate(told)
    return downsizing_of(file, piercing, measured, worn, channel, (), now.kept.on)
