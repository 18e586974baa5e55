"""Which shorter post now: today's channel, what was planned, and what the stock has for it."""

from __future__ import annotations

from collections.abc import Collection
from datetime import date

from assess.downsizing import downsizing
from assess.measure import DRAWS
from assess.recheck_words import downsizing_sentences
from assess.result import PlacementOut, PostOut
from assess.visit_channel import draws_now, read_channel, seen_channel
from assess.visit_measured import By, Downsized, downsized
from assess.visit_record import WornNow
from assess.visit_signs import Asks
from calibration.frames import Array
from rimspan.clientfile import ClientFile
from rimspan.rechecks import SEED, Shown
from rimspan.studio_limits import criteria_of
from rimspan.visit_posts import stock_for
from rimspan.visits import Piercing


def channel_today(
    label: str, calipers: tuple[float, float] | None, now: Shown | None, draws: int = DRAWS
) -> tuple[By, Array] | None:
    """Return today's channel, by what and its draws, mm; None where nothing measured it.

    Parameters
    ----------
    calipers : the reading and its u, mm
    now : today's marked photos
    """
    if calipers is not None:
        return "calipers", read_channel(label, *calipers, draws_now(SEED, draws))
    if now is None:
        return None
    seen = seen_channel(now.visit, label, draws_now(SEED, draws))
    return None if seen is None else ("marks", seen)


def downsizing_of(
    file: ClientFile,
    piercing: Piercing,
    measured: PlacementOut,
    worn: WornNow,
    channel: tuple[By, Array],
    asks: Collection[Asks],
    on: date,
) -> Downsized:
    """Return which length now, from the posts of the thickness that is in.

    Parameters
    ----------
    measured : the placement as the assessment has it, with what was planned
    worn : the post that is in
    channel : by what it was measured today, and its draws, mm
    asks : what comes first
    """
    planned = measured.posts.downsized if measured.posts is not None else None
    by, channel_mm = channel
    found = downsizing(
        channel_mm,
        stock_for(file, piercing.revision, worn, on),
        criteria_of(file),
        asks,
        worn_mm=worn.length_mm,
        planned_mm=planned.length_mm if isinstance(planned, PostOut) else None,
    )
    return downsized(found, by, downsizing_sentences(found))
