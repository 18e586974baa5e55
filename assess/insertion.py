"""What was done at the chair: put in, opened and not used, declined, or not here.

Before anything is put in the assessment should be of the day, and of the dots that are there: one
that is older, or made before dots were drawn anew, asks to be measured again.  What really happened
is always recorded: where the piercer goes ahead in spite of a question, the record says why.  A
baseline photo is taken right after.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import date, datetime
from typing import Literal

from assess.stock import Stock

Again = Literal["old", "dots drawn anew", "tissue changed"]


class RecordError(ValueError):
    """A record can't be made as it is: the message says what is lacking."""


@dataclass(frozen=True, slots=True)
class Assessed:
    """The assessment that a plan stands on: its revision, the day, when its dots were drawn.

    ``void`` where it doesn't count any more; ``consent_lacks`` what of age and consent isn't met.
    Nothing is put in on either.
    """

    revision: str
    on: date
    dots_drawn: datetime
    confirmed_by: str
    void: bool = False
    consent_lacks: tuple[str, ...] = ()


def measure_again(
    assessed: Assessed, today: date, dots_drawn: datetime, *, changed: bool = False
) -> tuple[Again, ...]:
    """Return why the placement has to be measured again before it is pierced; empty if it needn't.

    Parameters
    ----------
    assessed : the assessment
    today : the day of the insertion
    dots_drawn : when the dots that are on the ear were drawn last
    changed : whether the piercer sees that the ear isn't as it was (swelling, irritation)
    """
    found: list[Again] = []
    if assessed.on < today:
        found.append("old")
    if dots_drawn > assessed.dots_drawn:
        found.append("dots drawn anew")
    if changed:
        found.append("tissue changed")
    return tuple(found)


@dataclass(frozen=True, slots=True)
class PutIn:
    """One post that went in: which, at which placement."""

    label: str
    stock_key: str
    lot: str
    batch: str
    gauge_mm: float
    length_mm: float


@dataclass(frozen=True, slots=True)
class OpenedUnused:
    """A post whose packet was opened and that didn't go in: it is gone from stock too."""

    stock_key: str
    reason: str


@dataclass(frozen=True, slots=True)
class Declined:
    """A placement that was planned and not pierced, and why; whose decision it was."""

    label: str
    reason: str
    by: Literal["client", "piercer"]


@dataclass(frozen=True, slots=True)
class Insertion:
    """What really happened at one sitting.

    ``baseline_photo`` names the photo taken right after, post in and ear cleaned; None while it is
    still to be taken.  ``in_spite_of`` are the questions that were open, ``because`` the piercer's
    reason for going ahead.
    """

    assessed: Assessed
    at: datetime
    pierced_by: str
    put_in: tuple[PutIn, ...]
    opened_unused: tuple[OpenedUnused, ...] = ()
    declined: tuple[Declined, ...] = ()
    baseline_photo: str | None = None
    in_spite_of: tuple[str, ...] = ()
    because: str = ""

    def __post_init__(self) -> None:
        if not self.pierced_by.strip():
            raise RecordError("say who pierced")
        if not self.assessed.confirmed_by.strip():
            raise RecordError("the assessment isn't confirmed by a piercer")
        if self.put_in and self.assessed.void:
            raise RecordError("the assessment is void: measure and sign again first")
        if self.put_in and self.assessed.consent_lacks:
            raise RecordError(
                f"age and consent aren't met: {' '.join(self.assessed.consent_lacks)}"
            )
        if not (self.put_in or self.opened_unused or self.declined):
            raise RecordError("say what was put in, opened or declined")
        labels = [each.label for each in self.put_in] + [each.label for each in self.declined]
        if len(set(labels)) < len(labels):
            raise RecordError("a placement is named twice")
        reasons = [e.reason for e in self.opened_unused] + [e.reason for e in self.declined]
        if not all(reason.strip() for reason in reasons):
            raise RecordError("say why it was not used or declined")
        if self.in_spite_of and not self.because.strip():
            raise RecordError(f"say why you go ahead in spite of: {', '.join(self.in_spite_of)}")

    @property
    def lacks_baseline(self) -> bool:
        """Return whether a post went in and the photo right after is still to be taken."""
        return bool(self.put_in) and self.baseline_photo is None


def open_questions(
    stock: Stock,
    assessed: Assessed,
    at: datetime,
    chosen: Mapping[str, str],
    *,
    dots_drawn: datetime,
    changed: bool = False,
) -> tuple[str, ...]:
    """Return what speaks against putting these in: each wants the piercer's reason.

    Parameters
    ----------
    stock, assessed, at, chosen, dots_drawn, changed : see ``insert``
    """
    items = [stock.item(key) for key in chosen.values()]
    again = measure_again(assessed, at.date(), dots_drawn, changed=changed) if items else ()
    return (
        *(f"measure again: {reason}" for reason in again),
        *(f"{item.key}: {reason}" for item in items for reason in item.against(at.date())),
    )


def insert(
    stock: Stock,
    assessed: Assessed,
    at: datetime,
    pierced_by: str,
    chosen: Mapping[str, str],
    *,
    dots_drawn: datetime,
    changed: bool = False,
    opened_unused: tuple[OpenedUnused, ...] = (),
    declined: tuple[Declined, ...] = (),
    because: str = "",
) -> tuple[Insertion, Stock]:
    """Return the record of a sitting, and the stock after it.

    Only here stock goes down: by what went in, and by what was opened.

    Parameters
    ----------
    stock : before
    assessed : the assessment that was confirmed
    at : when it was put in
    pierced_by : who did it
    chosen : stock key by placement label, for what went in
    dots_drawn, changed : see ``measure_again``
    opened_unused, declined : what else happened
    because : why the piercer goes ahead where something speaks against it

    Raises
    ------
    RecordError
        If something speaks against it (measure again first; not for the beginning; no longer
        sterile) and no reason is given for going ahead, or the record lacks something.
    StockError
        If what is said to have gone in is not in stock.
    """
    if at.date() < assessed.on:
        raise RecordError("the assessment was made after that day; choose the one before it")
    items = {label: stock.item(key) for label, key in chosen.items()}
    asked = open_questions(stock, assessed, at, chosen, dots_drawn=dots_drawn, changed=changed)
    left = stock.taken([*chosen.values(), *(each.stock_key for each in opened_unused)])
    put_in = tuple(
        PutIn(label, i.key, i.lot, i.batch, i.gauge_mm, i.length_mm) for label, i in items.items()
    )
    record = Insertion(
        assessed,
        at,
        pierced_by,
        put_in,
        opened_unused,
        declined,
        in_spite_of=asked,
        because=because,
    )
    return record, left


Finding = Literal[
    "rim too narrow",
    "rim too thick",
    "too little relief",
    "too little tissue beside the post",
    "too little room below",
    "soft tissue",
    "vessel in the way",
    "scar, lump or irritation",
    "too near an earlier piercing",
    "something worn would touch",
    "client prefers another place",
]


@dataclass(frozen=True, slots=True)
class NotHere:
    """The rim doesn't support it, or it isn't wanted there: what was found, what was talked about.

    ``elsewhere`` are the other places that were talked about; none is an answer too, and is said.
    """

    on: date
    decided_by: str
    findings: tuple[Finding, ...]
    elsewhere: tuple[str, ...] = ()
    note: str = ""
    revision: str | None = None

    def __post_init__(self) -> None:
        if not self.decided_by.strip():
            raise RecordError("say who decided")
        if not self.findings:
            raise RecordError("say what was found")
