"""What the card in a photo says, and which views there are, in words."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from html import escape
from types import MappingProxyType

import numpy as np

from assess.reading import PhotoReading
from assess.view_set import (
    VIEWS,
    Side,
    View,
    ViewName,
    missing_views,
    off_deg,
    view_of,
)
from calibration.find import CardSeen
from calibration.flags import Flag

VIEW_WORDS: Mapping[ViewName, tuple[str, str, str]] = MappingProxyType(
    {
        "square-on": ("square-on", "under 10°", ""),
        "above": ("from above", "50 to 60°", ""),
        "behind": ("from behind the ear", "40 to 50°", "and 5 to 15° from above"),
        "front": ("from the face side", "40 to 50°", "and 10 to 20° from below"),
        "below": ("from below", "50 to 60°", "and 5 to 15° to the face side"),
    }
)
"""Each view's name, how far from square-on it is aimed at, and what comes to that."""
BY_EYE_DEG = 15.0
"""A photo taken further from its view's middle than this is told how far."""
ASLANT = frozenset({"tilt", "tilt_over"})
"""The flags that say a photo isn't square-on."""


def view_words(view: View) -> str:
    """Return a view's name and its degrees."""
    name, degrees, _ = VIEW_WORDS[view.name]
    return f"{name}, {degrees}"


def views_words(readings: Iterable[PhotoReading], side: Side) -> str:
    """Return how many of an ear's five views are there, and which are missing."""
    missing = missing_views(readings, side)
    there = len(VIEWS) - len(missing)
    if not missing:
        return f"All {there} views are there."
    names = "; ".join(view_words(view) for view in missing)
    return f"{there} of {len(VIEWS)} views. Missing: {names}."


def view_of_words(reading: PhotoReading, side: Side) -> str:
    """Return which of an ear's five views a photo is, or why it is none."""
    if reading.fit is None:
        return "Which view it is can't be told yet."
    view = view_of(reading, side)
    if view is None:
        return "None of the five views: the card is seen too much from the side."
    off = off_deg(reading, view, side)
    if off > BY_EYE_DEG:
        return f"Counts as the view {view_words(view)}, though taken about {off:.0f}° from there."
    return f"Counts as the view {view_words(view)}."


def flags_shown(reading: PhotoReading, side: Side) -> list[Flag]:
    """Return a photo's flags; that it is aslant is none where it was taken so as is asked."""
    view = view_of(reading, side)
    asked = view is not None and view != VIEWS[0] and off_deg(reading, view, side) <= BY_EYE_DEG
    return [flag for flag in reading.flags if not (asked and flag.code in ASLANT)]


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
    return f"Card {reading.seen.card.id} found: {card_corners(reading.seen)}."


def card_corners(seen: CardSeen) -> str:
    """Return how much of a card is seen, in short."""
    return f"{len(seen.corner_ids)} of {len(seen.card.corner_ids)} corners"


def mirrored_words(reading: PhotoReading) -> str:
    """Return whether the photo is mirrored, which the card tells."""
    if reading.seen is None:
        return "mirrored? can't tell yet"
    return "mirrored: turned back to measure" if reading.mirrored else "not mirrored"


def sharpness_words(reading: PhotoReading) -> str:
    """Return how sharp the photo is at the ear."""
    if reading.sharpness is None:
        return "pixel for pixel; sharpness can't be told here"
    return f"pixel for pixel; sharpness {reading.sharpness:.2f} of 1"


def flag_html(flag: Flag) -> str:
    """Return a flag as three sentences: what was seen, what it means, what to do."""
    kind = "note" if flag.severity == "note" else ""
    return (
        f'<div class="rim-flag {kind}"><strong>{escape(flag.seen)}</strong> '
        f"{escape(flag.means)} {escape(flag.do)}</div>"
    )
