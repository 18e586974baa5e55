"""The channel on the day of a visit: by calipers, else as today's marks show it."""

from __future__ import annotations

from assess.channel import combine
from assess.marks import CaliperMarks
from assess.placements import see
from assess.recheck_visit import NOW, Visit
from calibration.draws import Draws
from calibration.frames import Array


def read_channel(label: str, channel_mm: float, u_mm: float, draws: Draws) -> Array:
    """Return a caliper reading's draws, (M,) mm."""
    reading = CaliperMarks(channel_mm=channel_mm, u_channel_mm=u_mm)
    found = combine(None, reading, label, draws)
    if found is None:
        raise ValueError("a reading always gives a channel")
    return found.draws


def seen_channel(visit: Visit, label: str, draws: Draws) -> Array | None:
    """Return the channel as a visit's photos show it, (M,) mm; None where an end isn't marked."""
    seen = see(visit.marks, visit.photos, visit.readings, draws)
    found = combine(seen.axes.get(label), None, label, draws)
    return None if found is None else found.draws


def draws_now(seed: int, count: int) -> Draws:
    """Return the draws of a later visit."""
    return Draws(seed, count, NOW)
