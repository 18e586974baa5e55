"""What a placement allows later: straight, curved and ring jewellery, as a table and a drawing.

A plan calls :func:`later` with its own draws; :func:`of_placement` does for a measured placement.
"""

from __future__ import annotations

from html import escape

import streamlit as st

from assess.later import Later
from assess.later_table import (
    TAKEN,
    Allowed,
    Evidence,
    allowed,
    evidence_of,
    evidence_of_channel,
)
from assess.plan_result import PlannedOut
from assess.posts import DEFAULT_GAUGE_MM
from assess.result import PlacementOut
from assess.wording import IF_LIMITS_RIGHT, chance, interval_sentence
from rimspan.screens.later_draw import later_svg
from rimspan.screens.layout import html
from rimspan.screens.stock_words import length_words
from rimspan.typed import in_markdown

HEADS = ("Piece", "Would it fit", f"Chance {IF_LIMITS_RIGHT}", "What decides")
BASIS = (
    f"By geometry alone, if {TAKEN} (assumption: common practice, no source). Nothing here says "
    "that it heals, nor when; the piercer decides what is worn."
)
NO_RING = (
    "Rings: can't tell. The tissue that a ring would close round wasn't measured; the fold depth "
    "by calipers tells it."
)
DECIDES = {
    "spare length": "spare length",
    "bend": "play that the bend needs",
    "reach": "reach past",
}


def of_placement(
    found: PlacementOut, wire_mm: float = DEFAULT_GAUGE_MM, alone: bool = False
) -> None:
    """Draw, folded, what a measured placement would allow once healed, if it has a channel."""
    evidence = evidence_of(found)
    if evidence is not None:
        which = "this placement" if alone else f"placement {in_markdown(found.label)}"
        with st.expander(f"What {which} would allow later"):
            later(evidence, wire_mm)


def of_planned(found: PlannedOut) -> None:
    """Draw, folded, what the channel of a planned post would allow once healed."""
    with st.expander(f"What post {in_markdown(found.label)} would allow later"):
        later(evidence_of_channel(found.channel))


def later(found: Evidence, wire_mm: float = DEFAULT_GAUGE_MM) -> None:
    """Draw what a channel would allow once healed.

    Parameters
    ----------
    found : draws of the channel, and of the tissue beside it where that is known
    wire_mm : thickness of the jewellery
    """
    told = allowed(found, wire_mm)
    html(later_svg(told))
    for line in least_words(told):
        st.write(line)
    head = "".join(f"<th>{name}</th>" for name in HEADS)
    rows = "".join(f"<tr>{_row(each)}</tr>" for each in told.pieces)
    html(f'<table class="rim-table"><thead><tr>{head}</tr></thead><tbody>{rows}</tbody></table>')
    st.caption(BASIS)


def least_words(told: Allowed) -> list[str]:
    """Return the tightest bend and the smallest ring, each with its interval."""
    lines = [f"Tightest bend: radius {interval_sentence(told.least.radius)}."]
    if told.least.ring_inner is None:
        return [*lines, NO_RING]
    ring = interval_sentence(told.least.ring_inner)
    return [*lines, f"Smallest ring, closing round {told.side}: inside diameter {ring}."]


def piece_words(found: Later) -> str:
    """Return what a piece is."""
    piece = found.piece
    if piece.kind == "straight":
        return f"Straight, {length_words(piece.size_mm)}"
    if piece.kind == "ring":
        return f"Ring, {piece.size_mm:g} mm inside"
    return f"Curved bar, radius {piece.size_mm:g} mm, {piece.length_mm:.1f} mm along the arc"


def _row(found: Later) -> str:
    decides = f"{DECIDES[found.decides]}: {interval_sentence(found.figure)}"
    cells = (piece_words(found), found.fit, chance(found.probability), decides)
    pairs = zip(HEADS, cells, strict=True)
    return "".join(f'<td data-of="{name}">{escape(cell)}</td>' for name, cell in pairs)
