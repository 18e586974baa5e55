"""What is still missing, and the live line below the photo."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from assess.errors import AssessError, NothingMarkedError
from assess.result import Result
from rimspan.result_words import between
from rimspan.screens.document import missing_marks


def missing_words(photo: Mapping[str, Any]) -> str:
    """Return which marks this photo still lacks."""
    missing = missing_marks({"photos": [photo]})
    return f"Not marked in this photo: {', '.join(missing)}." if missing else "Nothing is missing."


def live_words(found: Result | AssessError) -> list[str]:
    """Return the live line of each placement, or why there is none."""
    if isinstance(found, NothingMarkedError):
        return ["No millimetres yet: entry and exit are needed."]
    if isinstance(found, AssessError):
        return [f"No millimetres yet: {fault.what}; {fault.remedy}." for fault in found.faults]
    several = len(found.placements) > 1
    lines = []
    for placement in found.placements:
        name = f"{placement.label}: " if several else ""
        if placement.channel is not None:
            lines.append(f"{name}channel {between(placement.channel)}")
        elif placement.missing:
            lines.append(f"{name}no channel yet: {placement.missing[0]}")
        else:
            lines.append(f"{name}no channel yet: entry and exit are needed.")
    return lines or ["No channel yet: entry and exit are needed."]
