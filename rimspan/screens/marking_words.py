"""What is still missing, and the live line below the photo."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from typing import Any

from assess.errors import AssessError, NothingMarkedError
from assess.result import Result
from rimspan.result_words import between
from rimspan.screens.document import labels

RIMS = (("outer_rim", "outer rim"), ("inner_rim", "inner rim"))
ENDS = (("entry", "entry"), ("exit", "exit"))
HOLLOW = ("crest", "floor")
ROD = "the depth rod's reading"


def needs_words(document: Mapping[str, Any]) -> str:
    """Return which result still lacks what.

    Both marks of a result belong into one photo, or the dots of each into two.
    """
    lines = [_line("Band width", _fewest(document["photos"], RIMS))]
    known = labels(document)
    for label in known:
        of = f" of {label}" if len(known) > 1 else ""
        seen = [p for photo in document["photos"] for p in photo.get("placements", ())]
        own = [placement for placement in seen if placement["label"] == label]
        read = document.get("caliper", {}).get(label, {})
        ends = [] if "channel_mm" in read or _twice(own, "entry", "exit") else _fewest(own, ENDS)
        room = [] if any("below" in p for p in own) else ["the next structure below"]
        rod = [] if "relief_mm" in read or _twice(own, *HOLLOW) else [ROD]
        lines += [
            _line(f"{name}{of}", lacking)
            for name, lacking in (("Channel", ends), ("Room below", room), ("Relief", rod))
        ]
    said = " ".join(line for line in lines if line)
    return f"Still needed. {said}" if said else "Nothing is missing."


def _fewest(held: Iterable[Mapping[str, Any]], wanted: Iterable[tuple[str, str]]) -> list[str]:
    """Return what is lacking where least is lacking."""
    pairs = list(wanted)
    lacking = [[words for name, words in pairs if not _is_marked(one, name)] for one in held]
    return min(lacking, key=len, default=[words for _, words in pairs])


def _twice(own: Iterable[Mapping[str, Any]], *names: str) -> bool:
    """Return whether each of these dots is marked in two photos, not on a visible edge."""
    held = list(own)
    counts = [sum(n in p and n not in p.get("outline", ()) for p in held) for n in names]
    return all(count > 1 for count in counts)


def _is_marked(held: Mapping[str, Any], name: str) -> bool:
    return len(held.get(name) or ()) >= 2  # a line of two points, or a point's x and y


def _line(result: str, lacking: list[str]) -> str:
    return f"{result}: {', '.join(lacking)}." if lacking else ""


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
