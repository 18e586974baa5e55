"""The report's words in a language: its own, and the result's sentences as they were saved.

What people typed (names, labels, dates) is no sentence of ours and is left as it is.
"""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from rimspan.languages.phrases import Say, Translator

LABELS = {
    "title": "Rim assessment",
    "ear": "Ear",
    "client": "Client",
    "date": "Date",
    "placement": "Placement",
    "channel": "Channel",
    "angle": "Angle",
    "relief": "Relief",
    "method": "Method",
    "settle": "What would settle it:",
    "shares": "Largest parts of the channel's uncertainty:",
    "besides": "Limits and uncertainty",
    "limits_are": "Limits are",
    "cautions": "Cautions",
    "decides": "Who decides",
    "decided_by": "Decided by",
    "measured_by": "Measured by",
    "plan": "The plan, drawn at true size on the photo",
    "seed": "seed",
    "limits": "Limits:",
    "assessment": "Assessment",
    "picture": "The measured photo with the marks, the channel and a scale bar drawn on it",
}
"""The words that stand in the sheet itself."""

SENTENCES = ("side", "criteria", "limits", "uncertainty", "judgement", "statement")
LISTS = ("cautions", "plan")
OF_PLACEMENT = ("channel", "angle", "relief", "method", "headline", "risk")
LISTS_OF_PLACEMENT = ("reasons", "settle", "notes", "seat")

UNTRANSLATED = "What stands in English was saved in words that have no translation."


def in_language(data: Mapping[str, Any], code: str) -> dict[str, Any]:
    """Return what stands on the report, with its labels, in a language."""
    title = f"{LABELS['title']}, {data['side']} ear"
    if code == "en":
        return {**data, "lang": code, "words": LABELS, "document": title}
    translator = Translator(code)
    said = _page(data, translator.say)
    words = {name: translator.say(label) for name, label in LABELS.items()}
    said |= {"lang": code, "words": words, "document": translator.say(title)}
    if translator.unknown:
        said["cautions"] = [*said["cautions"], translator.say(UNTRANSLATED)]
    return said


def _page(data: Mapping[str, Any], say: Say) -> dict[str, Any]:
    return {
        **data,
        **{name: say(data[name]) for name in SENTENCES},
        **{name: [say(line) for line in data[name]] for name in LISTS},
        "placements": [_placement(each, say) for each in data["placements"]],
    }


def _placement(data: Mapping[str, Any], say: Say) -> dict[str, Any]:
    return {
        **data,
        **{name: say(data[name]) for name in OF_PLACEMENT},
        **{name: [say(line) for line in data[name]] for name in LISTS_OF_PLACEMENT},
        "posts": [{"name": say(p["name"]), "words": say(p["words"])} for p in data["posts"]],
        "parts": [{"input": say(p["input"]), "share": say(p["share"])} for p in data["parts"]],
    }
