"""Which pieces a healed channel would take, for a table: from draws, or from what a result says."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass

import numpy as np

from assess.later import CLEAR_MM, PLAY_MM, Bounds, Healed, Later, Piece, arc_mm, bounds, would_fit
from assess.posts import DEFAULT_GAUGE_MM, STEP_IN, inches_mm
from assess.result import PlacementOut
from assess.result_parts import QuantityOut
from calibration.frames import Array

SIDES = {"cover_front": "the front", "cover_behind": "the back"}
"""Criterion -> the side of the channel on which a ring would close."""
BAR_RADII_MM = (8.0, 12.0, 16.0, 20.0, 30.0, 40.0, 60.0)
RING_INNER_MM = (8.0, 10.0, 12.0, 16.0, 20.0)
"""What is asked about, from small to far larger than is worn: so that the limit shows."""
MID_SPARE = 0.5
"""A curved bar is as long as its arc in the channel and the middle of the wanted spare length."""
USUAL = Healed()
DRAWS, SEED = 20_000, 1


@dataclass(frozen=True, slots=True)
class Evidence:
    """Draws of the channel and of the tissue that a ring would close round, (M,) mm each.

    ``tissue_mm`` is None where it wasn't measured; ``side`` says on which side it lies.
    """

    channel_mm: Array
    tissue_mm: Array | None = None
    side: str = ""


@dataclass(frozen=True, slots=True)
class Allowed:
    """What a channel would allow once healed: each piece, and the least of radius and ring."""

    pieces: tuple[Later, ...]
    least: Bounds
    side: str
    wire_mm: float
    channel_mm: float
    tissue_mm: float | None


def evidence_of(found: PlacementOut) -> Evidence | None:
    """Return draws by what a result says of a placement; None without a channel.

    A result keeps values and standard uncertainties, no draws: they are drawn anew as normal, and
    channel and tissue apart from each other.  A ring is taken to close where there is less tissue.
    """
    if found.channel is None:
        return None
    random = np.random.default_rng(SEED)
    channel = _drawn(found.channel, random)
    beside = [
        (reason.measured.value, reason.measured.u, SIDES[reason.criterion])
        for reason in found.reasons
        if reason.criterion in SIDES and reason.measured is not None
    ]
    if not beside:
        return Evidence(channel)
    value, u, side = min(beside)
    return Evidence(channel, np.maximum(random.normal(value, u, DRAWS), 0.0), side)


def evidence_of_channel(channel: QuantityOut) -> Evidence:
    """Return draws of a channel alone, as a plan tells it: nothing is known of what lies beside."""
    return Evidence(_drawn(channel, np.random.default_rng(SEED)))


def _drawn(found: QuantityOut, random: np.random.Generator) -> Array:
    return random.normal(found.value, found.u, DRAWS)


def pieces_for(channel_mm: float, wire_mm: float, healed: Healed = USUAL) -> tuple[Piece, ...]:
    """Return the pieces to ask about: straight ones round the wanted length, bars, rings."""
    channel = np.asarray(channel_mm)
    wanted = channel_mm + sum(healed.spare_mm) / 2.0
    lengths = [inches_mm(n * STEP_IN) for n in range(6, 33)]
    near = sorted(sorted(lengths, key=lambda length: abs(length - wanted))[:3])
    spare = healed.spare_mm[0] + MID_SPARE * (healed.spare_mm[1] - healed.spare_mm[0])
    bars = [
        Piece("curved bar", wire_mm, radius, float(arc_mm(radius, channel)) + spare)
        for radius in BAR_RADII_MM
        if 2.0 * radius > channel_mm
    ]
    rings = [Piece("ring", wire_mm, inner) for inner in RING_INNER_MM]
    return (*(Piece("straight", wire_mm, length) for length in near), *bars, *rings)


def allowed(
    found: Evidence,
    wire_mm: float = DEFAULT_GAUGE_MM,
    pieces: Iterable[Piece] = (),
    healed: Healed = USUAL,
) -> Allowed:
    """Return what a healed channel would take, by geometry; rings only where tissue is known.

    Parameters
    ----------
    wire_mm : of the pieces
    pieces : to ask about; by default :func:`pieces_for` the channel's mean
    """
    mean = float(np.mean(found.channel_mm))
    asked = tuple(pieces) or pieces_for(mean, wire_mm, healed)
    told = [would_fit(piece, found.channel_mm, found.tissue_mm, healed) for piece in asked]
    return Allowed(
        tuple(each for each in told if each is not None),
        bounds(wire_mm, found.channel_mm, found.tissue_mm, healed),
        found.side,
        wire_mm,
        mean,
        None if found.tissue_mm is None else float(np.mean(found.tissue_mm)),
    )


TAKEN = f"a healed channel has {PLAY_MM:g} mm of play, a ring stands {CLEAR_MM:g} mm off the tissue"
