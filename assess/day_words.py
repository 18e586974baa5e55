"""A day in words."""

from __future__ import annotations

from datetime import date


def in_words(day: date) -> str:
    """Return a day (of a moment: its own day), as ``4 December 2026``."""
    return f"{day.day} {day:%B %Y}"
