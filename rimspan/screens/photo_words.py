"""What the card in a photo says, in words and small drawings."""

from __future__ import annotations

from html import escape

import numpy as np

from assess.reading import PhotoReading
from calibration.flags import Flag


def seen_from(reading: PhotoReading) -> str:
    """Return from where the phone looked: the larger of up or down and front or behind."""
    if reading.fit is None or reading.target_px is None or reading.tilt_deg is None:
        return "unknown"
    if reading.tilt_deg < 3.0:
        return "level"
    ear = reading.fit.on_plane(np.array([reading.target_px]), 0.0)[0]
    right, down = reading.fit.centre_mm[:2] - ear
    if abs(down) >= abs(right):
        return "below" if down > 0 else "above"
    return "the right" if right > 0 else "the left"


def card_words(reading: PhotoReading) -> str:
    """Return which card was found and how much of it."""
    if reading.seen is None:
        return "No card in this photo."
    printed = len(reading.seen.card.corner_ids)
    return (
        f"Card {reading.seen.card.id} found: {len(reading.seen.corner_ids)} of {printed} corners."
    )


def flag_html(flag: Flag) -> str:
    """Return a flag as three sentences: what was seen, what it means, what to do."""
    kind = "note" if flag.severity == "note" else ""
    return (
        f'<div class="rim-flag {kind}"><strong>{escape(flag.seen)}</strong> '
        f"{escape(flag.means)} {escape(flag.do)}</div>"
    )
