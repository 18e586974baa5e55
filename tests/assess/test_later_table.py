"""Which pieces a healed channel would take, as a table: held against the closed forms."""

from __future__ import annotations

import math

import numpy as np
import pytest

from assess.later import CLEAR_MM, PLAY_MM
from assess.later_table import Evidence, allowed, pieces_for

CHANNEL, TISSUE, WIRE = 7.0, 2.5, 1.2
EXACT = Evidence(np.full(100, CHANNEL), np.full(100, TISSUE), "the back")


def fits(found: Evidence) -> dict[tuple[str, float], str]:
    return {(e.piece.kind, e.piece.size_mm): e.fit for e in allowed(found, WIRE).pieces}


def test_of_an_exact_channel_each_piece_is_as_the_closed_form_says() -> None:
    """The inner side's sagitta over the channel is at most the play; a ring reaches round."""
    told = fits(EXACT)
    for (kind, size), fit in told.items():
        if kind == "curved bar":
            inner = size - WIRE / 2.0
            sagitta = inner - math.sqrt(inner**2 - CHANNEL**2 / 4.0)
            assert fit == ("would fit" if sagitta <= PLAY_MM else "would not fit"), size
        elif kind == "ring":
            inner = size / 2.0
            room = inner**2 - CHANNEL**2 / 4.0
            bends = room >= 0.0 and inner - math.sqrt(room) <= PLAY_MM
            reaches = room >= 0.0 and inner + math.sqrt(room) >= TISSUE + CLEAR_MM
            assert fit == ("would fit" if bends and reaches else "would not fit"), size
        else:
            assert fit == ("would fit" if 0.3 <= size - CHANNEL <= 1.3 else "would not fit"), size
    for kind in ("straight", "curved bar"):
        assert {fit for (of, _), fit in told.items() if of == kind} == {
            "would fit",
            "would not fit",
        }


def test_the_bounds_part_what_fits_from_what_does_not() -> None:
    told = allowed(EXACT, WIRE)
    assert told.least.ring_inner is not None
    for each in told.pieces:
        if each.piece.kind == "ring":
            assert (each.fit == "would fit") == (each.piece.size_mm >= told.least.ring_inner.value)
        if each.piece.kind == "curved bar":
            assert (each.fit == "would fit") == (each.piece.size_mm >= told.least.radius.value)


def test_without_tissue_no_ring_is_told() -> None:
    told = allowed(Evidence(EXACT.channel_mm), WIRE)
    assert not [each for each in told.pieces if each.piece.kind == "ring"]
    assert told.least.ring_inner is None


def test_an_uncertain_channel_cannot_tell_where_the_limit_lies() -> None:
    wide = np.random.default_rng(2).normal(CHANNEL, 0.5, 20_000)
    told = fits(Evidence(wide))
    assert "can't tell" in told.values()


def test_straight_pieces_are_those_round_the_wanted_length() -> None:
    straight = [p.size_mm for p in pieces_for(CHANNEL, WIRE) if p.kind == "straight"]
    assert straight == pytest.approx([7.14375, 7.9375, 8.73125])
