"""What the card in a photo says, and which views there are, in words."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from html import escape
from types import MappingProxyType

import numpy as np

from assess.reading import PhotoReading
from assess.view_set import (
    STEP_DEG,
    VIEWS,
    View,
    ViewName,
    elevation_deg,
    missing_views,
    view_of,
)
from calibration.find import CardSeen
from calibration.flags import Flag

VIEW_WORDS: Mapping[ViewName, tuple[str, str]] = MappingProxyType(
    {
        "square-on": ("square-on", "under 10°"),
        "above-1": ("from above", "25 to 35°"),
        "above-2": ("from above", "40 to 50°"),
        "below-1": ("from below", "33 to 43°"),
        "below-2": ("from below", "45 to 55°"),
    }
)
"""Each view's name, and how far from square-on it is aimed at."""
BY_EYE_DEG = 5.0
"""A photo from so much further is told from where it was taken."""


def view_words(view: View) -> str:
    """Return a view's name and its degrees."""
    name, degrees = VIEW_WORDS[view.name]
    return f"{name}, {degrees}"


def step_words(view: View) -> str:
    """Return how far to which side a view steps, as another line; nothing for square-on."""
    if not view.aside_deg:
        return ""
    low, high = STEP_DEG
    return f"<br>{low:.0f} to {high:.0f}° to the {'right' if view.aside_deg > 0 else 'left'}"


def views_words(readings: Iterable[PhotoReading]) -> str:
    """Return how many of the five views are there, and which are missing."""
    missing = missing_views(readings)
    there = len(VIEWS) - len(missing)
    if not missing:
        return f"All {there} views are there."
    names = "; ".join(view_words(view) for view in missing)
    return f"{there} of {len(VIEWS)} views. Missing: {names}."


def view_of_words(reading: PhotoReading) -> str:
    """Return which of the five views a photo is, or why it is none."""
    if reading.fit is None:
        return "Which view it is can't be told yet."
    view = view_of(reading)
    if view is None:
        return "None of the five views: it was taken too far aside or too steeply."
    rise = elevation_deg(reading) or 0.0
    beyond = max(view.from_deg - rise, rise - view.to_deg)
    if view.aside_deg and beyond > BY_EYE_DEG:
        return f"Counts as the view {view_words(view)}, though taken from about {abs(rise):.0f}°."
    return f"Counts as the view {view_words(view)}."


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
