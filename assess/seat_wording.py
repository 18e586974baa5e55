"""Every sentence a person reads about the seat: how a disc lies, and what would measure it."""

from __future__ import annotations

from assess.seat import EndSeat, Seat
from assess.wording import interval_sentence
from calibration.frames import Array
from calibration.quantity import Quantity

ENDS = ("entry", "exit")
TRACE_BOTH = "Trace both contours of the rim in a square-on photo, and mark both ends there."
TRACE_MORE = (
    "Trace the outer contour in three photos and more, from above and below, and mark the "
    "entry's dot in two."
)
LOOK = "Photos don't show how the skin slopes under the fold: look how the lower disc lies."


def end_sentence(name: str, end: EndSeat) -> str:
    """Return how the axis stands to the skin at one end, or what would measure it."""
    if end.along_deg is None:
        return f"Seat at the {name}: not measured. {TRACE_BOTH}"
    along = _lean(end.along_deg, ("toward the face", "away from the face"))
    said = f"Seat at the {name}, against square to the skin: along the rim {along}"
    if end.across_deg is None or end.within_deg is None:
        return f"{said}; across it not measured. {TRACE_MORE if name == 'entry' else LOOK}"
    across = _lean(end.across_deg, ("outward", "toward the head"))
    return (
        f"{said}; across it {across}. The disc lies flush to within "
        f"{end.within_deg:.0f} deg, 95 times in 100."
    )


def _lean(draws: Array, ways: tuple[str, str]) -> str:
    """Return for example ``3 deg, between -2 and 8 (positive: outward)``."""
    words = interval_sentence(Quantity.from_draws(draws, "deg"))
    return f"{words} (positive {ways[0]})"


def seat_sentences(seat: Seat) -> tuple[str, str]:
    """Return what is said of the seat at the entry and at the exit."""
    return end_sentence("entry", seat.entry), end_sentence("exit", seat.exit)
