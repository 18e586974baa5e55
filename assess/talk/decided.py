"""What the client's sheet says of the decision, the numbers, the jewellery and the days."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Literal

from assess.talk.sentences import OWN, Basis, Sentence
from assess.verdict import Verdict

Decided = Literal["goes_ahead", "waits", "doctor_first", "not_here"]

_LIMITS = Basis("own", "this studio's own limits; the defaults are common practice, no source")


def _own(name: str, text: str, why: str, basis: Basis = OWN) -> Sentence:
    return Sentence(f"decided.{name}", text, why, basis)


DECISIONS: Mapping[Decided, Sentence] = {
    "goes_ahead": _own("goes_ahead", "We go ahead.", "What was decided stands first."),
    "waits": _own("waits", "We wait.", "What was decided stands first."),
    "doctor_first": _own(
        "doctor_first", "Ask a doctor first, then we talk again.", "Health is for licensed care."
    ),
    "not_here": _own(
        "not_here", "We do not pierce this place.", "A no is said plainly, with its reason."
    ),
}
WAITS_UNTIL = _own("waits_until", "We wait until {date}.", "A date where one is known.")

MEASURED: Mapping[Verdict, Sentence] = {
    "supports": _own(
        "supports", "The rim has room for the post here.", "The verdict in short.", _LIMITS
    ),
    "undecided": _own(
        "undecided", "The numbers alone can't tell yet.", "The verdict in short.", _LIMITS
    ),
    "does_not_support": _own(
        "does_not_support",
        "The rim has too little room for the post here.",
        "The verdict in short.",
        _LIMITS,
    ),
}
CHANNEL = _own(
    "channel",
    "The way through the rim is about {value} mm long, between {low} and {high}.",
    "The one number that the post's length hangs on, with what it lies between.",
)

POST = _own("post", "Post: {gauge} mm thick, {length} mm long{inches}.", "For whoever looks next.")
ENDS = _own("ends", "Ends: {ends}.", "For whoever looks next.")
END = _own("end", "{shape}, {width} mm across", "One end of the post that is in.")
MATERIAL = _own("material", "Material: {material}.", "For whoever looks next, and for allergies.")
WISH = _own(
    "wish",
    "You would like to wear later: {wish}. What fits shows once it has healed.",
    "A wish is noted, and nothing is promised.",
)
VISIT = _own("visit", "{name}: {first} to {last}.", "A span, so that a day can be found in it.")
TIME = _own("time", "{name}: {date}, {time}.", "The time that was agreed.")
TRIP_WAIT = _own(
    "trip_wait",
    "Your trip ({name}, {first} to {last}) comes too early: it is better made first.",
    "Away from home it is hard to keep clean.",
)
TRIP_WEIGH = _own(
    "trip_weigh",
    "On your trip ({name}, {first} to {last}) it may not have healed: ask the piercer.",
    "Healing can take a year.",
)
TRIP_VISIT = _own(
    "trip_visit",
    "{visit}: because of your trip, come {days}.",
    "A trip takes days of a visit; these are left.",
)
TRIP_NO_DAY = _own(
    "trip_no_day",
    "{visit}: your trip takes all its days. Agree on another day.",
    "No day of that visit is left.",
)
SPAN = _own("span", "{first} to {last}", "A span of days.")
OR = _own("or", "or", "Between two spans of days.")

PLAN_POSTS = _own(
    "plan_posts",
    "Posts on the drawing: {count}. You asked for: {wanted}.",
    "What was asked for and what the rim has room for.",
)
PLAN_WHY: Mapping[str, Sentence] = {
    "earlier": _own(
        "plan_earlier", "What was pierced before takes the room for more.", "Why not more."
    ),
    "ends": _own("plan_ends", "The ends are too wide for more.", "Why not more."),
    "room": _own("plan_room", "There is too little room for more.", "Why not more.", _LIMITS),
    "length": _own(
        "plan_length", "The rim is not thick enough in more places.", "Why not more.", _LIMITS
    ),
    "together": _own("plan_together", "More would not be sure enough.", "Why not more.", _LIMITS),
}
PLAN_APPROVED = _own(
    "plan_approved",
    "You saw the drawing at true size, and it is right for you.",
    "The client's own word.",
)

SHEET: tuple[Sentence, ...] = (
    *DECISIONS.values(),
    WAITS_UNTIL,
    *MEASURED.values(),
    CHANNEL,
    POST,
    ENDS,
    END,
    MATERIAL,
    WISH,
    VISIT,
    TIME,
    TRIP_WAIT,
    TRIP_WEIGH,
    TRIP_VISIT,
    TRIP_NO_DAY,
    SPAN,
    OR,
    PLAN_POSTS,
    *PLAN_WHY.values(),
    PLAN_APPROVED,
)

LABELS: Mapping[str, str] = {
    "label.title": "Your ear, and how to look after it",
    "label.decided": "What was decided, and why",
    "label.in": "What is in",
    "label.planned": "What is planned",
    "label.when": "When to come",
    "label.clean": "Keep it clean",
    "label.alone": "Leave it alone",
    "label.feels": "How it feels",
    "label.trouble": "When to get help",
    "label.client": "Client",
    "label.guardian": "Guardian",
    "label.piercer": "Piercer",
    "label.date": "Date",
    "label.disc": "disc",
    "label.ball": "ball",
    "label.pointed": "point",
    "label.left": "Left ear",
    "label.right": "Right ear",
    "label.signatures": "Signatures",
    "label.later": "For the day when it is done:",
    "label.decided_by": "Decided by {name}",
    "label.picture": "Photo of the ear with the marks and the measured length drawn on it",
    "label.inches": "{inches} in",
    "label.page": "Page {page} of {pages}",
    "label.appointment": "Piercing studio: {name}",
    "label.about": "Call the studio if you can't come. The days are a span, not a promise.",
}
"""Headings and names of fields, which claim nothing."""
