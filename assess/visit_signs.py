"""First things first at a visit: what the piercer looks for before anything else.

Taps, not words: each sign is seen or not seen, and none names an illness.  What asks for licensed
medical care comes before everything, then what asks for a longer post on the same day, then what
lets a shorter one wait.  Nothing here ever advises that jewellery comes out.
"""

from __future__ import annotations

from collections.abc import Collection
from dataclasses import dataclass
from typing import Literal

Sign = Literal["sinking", "no_spare", "swollen", "covered", "redness", "pus", "fever", "pain"]
Asks = Literal["care", "longer", "wait"]
Done = Literal["lengthen", "keep", "shorten", "remove"]


@dataclass(frozen=True, slots=True)
class Looked:
    """A sign as it is asked, and what it asks for where it is seen."""

    sign: Sign
    text: str
    asks: Asks


SIGNS: tuple[Looked, ...] = (
    Looked("sinking", "An end sinks in", "longer"),
    Looked("no_spare", "No spare length left", "longer"),
    Looked("swollen", "Still swollen", "wait"),
    Looked("covered", "Skin closes over an end", "care"),
    Looked("redness", "Redness that spreads", "care"),
    Looked("pus", "Pus", "care"),
    Looked("fever", "Fever", "care"),
    Looked("pain", "Pain that grows", "care"),
)
"""In the order in which they are looked for (common practice, no source)."""

FIRST: dict[Asks, str] = {
    "care": (
        "Licensed medical care the same day. The jewellery stays in unless a clinician says "
        "otherwise. This is no diagnosis."
    ),
    "longer": (
        "A longer post the same day, before anything else: an end without room sinks in further. "
        "Where that can't be done here today: licensed medical care the same day."
    ),
    "wait": "A shorter post waits: swelling first goes down. Look again in one to two weeks.",
}
"""What is to be done first."""

ORDER: tuple[Asks, ...] = ("care", "longer", "wait")
_BY_SIGN = {each.sign: each for each in SIGNS}


def asked_by(signs: Collection[Sign]) -> tuple[Asks, ...]:
    """Return what the signs that are seen ask for, the most urgent first.

    Examples
    --------
    >>> asked_by(["swollen", "sinking"])
    ('longer', 'wait')
    """
    found = {_BY_SIGN[sign].asks for sign in signs}
    return tuple(each for each in ORDER if each in found)


def against(
    signs: Collection[Sign], done: Done, *, longer_channel: bool = False
) -> tuple[str, ...]:
    """Return what speaks against what was done; the piercer may say why it was done all the same.

    A removal is the client's own choice, and never this program's advice.

    Parameters
    ----------
    signs, done : what is seen and done
    longer_channel : whether the channel as seen is measurably longer than at the baseline
    """
    asks, found = asked_by(signs), []
    if "care" in asks and done == "remove":
        found.append("signs that need medical care: a clinician says whether it stays in")
    if "longer" in asks and done in {"keep", "shorten"}:
        found.append("an end sinks in or has no spare length: a longer post the same day")
    if "wait" in asks and done == "shorten":
        found.append("still swollen: a shorter post waits")
    elif longer_channel and done == "shorten":
        found.append("the channel as seen is longer than at the baseline: a shorter post waits")
    return tuple(found)
