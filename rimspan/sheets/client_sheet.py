"""The client's sheet: plain words in large type on two pages at most, as a tagged PDF.

It has no clock and no gate of its own.  A sheet with a measured placement on it is an
assessment: whoever makes it must have asked :mod:`rimspan.consultation` that it may be made.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from datetime import date, datetime
from typing import Any

from assess.insertion import NotHere
from assess.plan_result import PlanOut
from assess.posts import inch_name
from assess.result import PlacementOut
from assess.talk.care import CARE, DECIDES, WHEN
from assess.talk.decided import (
    CHANNEL,
    DECISIONS,
    ENDS,
    MATERIAL,
    MEASURED,
    PLAN_APPROVED,
    PLAN_POSTS,
    PLAN_WHY,
    POST,
    WISH,
    Decided,
)
from assess.talk.not_here import ELSEWHERE, FOUND, NOTHING_AGAINST
from assess.talk.outcome import Together
from assess.talk.plan import Plan, PlanRules, Trip
from assess.talk.sentences import Sentence
from rimspan.languages import Language, language
from rimspan.sheets.compiling import Paper, as_jpeg, compiled, pages
from rimspan.sheets.days import trip_lines, visit_lines

SIZES_PT = (15.0, 14.5, 14.0, 13.5, 13.0, 12.5, 12.0, 11.5, 11.0)
"""From large down to the smallest type that a client's sheet may have."""
MOST_PAGES = 2


class TooLongError(Exception):
    """The words take more than two pages at the smallest type."""

    exit_status = 2


@dataclass(frozen=True, slots=True)
class Jewellery:
    """What is in, or is planned: the ends and the material in the piercer's words."""

    gauge_mm: float
    length_mm: float
    ends: str
    material: str


@dataclass(frozen=True, slots=True)
class ClientSheet:
    """Everything that the sheet says beside what always stands on it."""

    decided: Decided
    side: str
    piercer: str
    day: date
    client: str = ""
    guardian: bool = False
    """Whether a guardian signs too."""
    until: date | None = None
    """Until when it waits, where that is known."""
    placement: PlacementOut | None = None
    answers: Together | None = None
    note: str = ""
    """The piercer's own reason, in their own words."""
    jewellery: Jewellery | None = None
    went_in: Mapping[str, Jewellery] = field(default_factory=dict)
    """Placement -> what really went in, which stands in place of what is planned."""
    not_here: NotHere | None = None
    """What was found where this place isn't the one."""
    wish: str = ""
    """What the client would like to wear there later, in their words."""
    pierced: bool = False
    posts: PlanOut | None = None
    """The placement plan, where there is one."""
    plan: Plan | None = None
    """The plan of visits."""
    trips: tuple[Trip, ...] = ()
    times: Mapping[str, datetime] = field(default_factory=dict)
    """Visit -> the time that was agreed."""


def client_sheet_pdf(
    sheet: ClientSheet,
    *,
    code: str = "en",
    paper: Paper = "a4",
    changes: Mapping[str, str] | None = None,
    picture_png: bytes | None = None,
) -> bytes:
    """Return the client's sheet as PDF/UA-1, in the largest type that two pages hold.

    Parameters
    ----------
    code : the language
    paper : "a4" or "us-letter"
    changes : a studio's own words, by the name of the text
    picture_png : bytes, optional
        The picture with everything drawn on it.

    Raises
    ------
    WordingError
        If a studio's words drop a caution.
    TooLongError
        If the words take more than two pages at 11 pt.
    """
    words = language(code, changes)
    data = page(sheet, words) | {"lang": code, "paper": paper, "picture": picture_png is not None}
    picture = None if picture_png is None else as_jpeg(picture_png)
    for size in SIZES_PT:
        given = data | {"size_pt": size}
        if pages("client_sheet.typ", given, picture) <= MOST_PAGES:
            return compiled("client_sheet.typ", given, picture)
    raise TooLongError(
        f"The words take more than {MOST_PAGES} pages at {SIZES_PT[-1]:g} pt; shorten some."
    )


def fits(sheet: ClientSheet, words: Language, paper: Paper) -> bool:
    """Return whether a sheet without a picture fits its pages at the smallest type."""
    data = {"lang": words.code, "paper": paper, "picture": False, "size_pt": SIZES_PT[-1]}
    return pages("client_sheet.typ", page(sheet, words) | data) <= MOST_PAGES


def page(sheet: ClientSheet, words: Language) -> dict[str, Any]:
    """Return what stands on the sheet, in a language."""
    signs = ["label.client", *(["label.guardian"] if sheet.guardian else []), "label.piercer"]
    facts = [words.say(f"label.{sheet.side}"), words.day(sheet.day)]
    return {
        "title": words.say("label.title"),
        "facts": [sheet.client, *facts] if sheet.client else facts,
        "sections": _decision(sheet, words),
        "later": "" if sheet.decided == "goes_ahead" else words.say("label.later"),
        "care": _care(sheet, words),
        "decides": words.say(DECIDES.id),
        "decided_by": words.say("label.decided_by", name=sheet.piercer),
        "signatures": [words.say(name) for name in signs],
        "signatures_title": words.say("label.signatures"),
        "date": words.say("label.date"),
        "alt": words.say("label.picture"),
        "page_words": words.say("label.page", page="{page}", pages="{pages}"),
    }


def _section(heading: str, lines: Sequence[str], urgent: bool = False) -> dict[str, Any]:
    return {"heading": heading, "lines": [line for line in lines if line], "urgent": urgent}


def _decision(sheet: ClientSheet, words: Language) -> list[dict[str, Any]]:
    found = [_section(words.say("label.decided"), _why(sheet, words))]
    for label, jewellery in sheet.went_in.items():
        which = f" ({label})" if len(sheet.went_in) > 1 else ""
        found.append(_section(words.say("label.in") + which, _jewellery(jewellery, words)))
    if sheet.jewellery is not None and not sheet.went_in:
        heading = words.say("label.in" if sheet.pierced else "label.planned")
        found.append(_section(heading, _jewellery(sheet.jewellery, words)))
    return found


def _why(sheet: ClientSheet, words: Language) -> list[str]:
    until = sheet.until if sheet.decided == "waits" else None
    first = words.say(DECISIONS[sheet.decided].id)
    if until is not None:
        first = words.say("decided.waits_until", date=words.day(until))
    lines = [first, *_not_here(sheet, words), sheet.note]
    lines += [*_measured(sheet.placement, words), *_planned(sheet.posts, words)]
    if sheet.answers is not None:
        lines += [words.say(f.answer.says.id) for f in sheet.answers.findings if f.answer.says]
    if sheet.plan is not None:
        lines += trip_lines(sheet.plan, sheet.trips, words)
    if sheet.wish:
        lines.append(words.say(WISH.id, wish=sheet.wish.rstrip(".")))
    return list(dict.fromkeys(lines))


def _not_here(sheet: ClientSheet, words: Language) -> list[str]:
    if sheet.decided != "not_here" or sheet.not_here is None:
        return []
    lines = [words.say(FOUND[finding].id) for finding in sheet.not_here.findings]
    lines.append(words.say(NOTHING_AGAINST.id))
    if sheet.not_here.elsewhere:
        lines.append(words.say(ELSEWHERE.id, places=", ".join(sheet.not_here.elsewhere)))
    return lines


def _measured(placement: PlacementOut | None, words: Language) -> list[str]:
    if placement is None:
        return []
    lines = [words.say(MEASURED[placement.verdict].id)]
    channel = placement.channel
    if channel is not None:
        u = channel.u
        value, low, high = (words.number(v, u) for v in (channel.value, channel.low, channel.high))
        lines.append(words.say(CHANNEL.id, value=value, low=low, high=high))
    return lines


def _planned(plan: PlanOut | None, words: Language) -> list[str]:
    """Return how many posts stand on the drawing, and why not as many as were asked for."""
    if plan is None or not plan.placements:
        return []
    count, wanted = len(plan.placements), plan.wanted
    lines = [words.say(PLAN_POSTS.id, count=str(count), wanted=str(wanted))]
    if count < wanted and plan.carries.why in PLAN_WHY:
        lines.append(words.say(PLAN_WHY[plan.carries.why].id))
    if plan.approval is not None and plan.approval.answer == "approved":
        lines.append(words.say(PLAN_APPROVED.id))
    return lines


def _jewellery(jewellery: Jewellery, words: Language) -> list[str]:
    inches = inch_name(jewellery.length_mm).removesuffix(" in")
    return [
        words.say(
            POST.id,
            gauge=words.number(jewellery.gauge_mm),
            length=words.number(jewellery.length_mm),
            inches=f" ({words.say('label.inches', inches=inches)})" if inches else "",
        ),
        words.say(ENDS.id, ends=jewellery.ends),
        words.say(MATERIAL.id, material=jewellery.material),
    ]


def _care(sheet: ClientSheet, words: Language) -> list[dict[str, Any]]:
    rules = sheet.plan.rules if sheet.plan is not None else PlanRules()
    found = []
    for heading, sentences in CARE:
        lines = [_said(sentence, rules, words) for sentence in sentences]
        if sentences is WHEN and sheet.plan is not None:
            lines = visit_lines(sheet.plan, sheet.trips, sheet.times, words) + lines
        found.append(_section(words.say(heading), lines, urgent=heading == "label.trouble"))
    return found


def _said(sentence: Sentence, rules: PlanRules, words: Language) -> str:
    if "{low}" not in sentence.text:
        return words.say(sentence.id)
    span = rules.downsizing
    return words.say(sentence.id, low=str(span.low), high=str(span.high))
