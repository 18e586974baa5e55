"""What was found and done at a visit after the piercing, as a piercer confirms it.

Troubles are described, not diagnosed.  What really happened is always recorded: where the piercer
does something in spite of what speaks against it, the record says why.
"""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date
from typing import Literal

from assess.insertion import RecordError
from assess.talk.plan import Plan, PlanRules, plan_from
from assess.talk.sentences import ASSUMED
from assess.talk.spans import Days, Range
from assess.visit_measured import Downsized, Recheck
from assess.visit_signs import Done, Sign, against, asked_by

Trouble = Literal["bump", "snag", "lost end", "loose end", "irritation"]
TROUBLES: tuple[Trouble, ...] = ("bump", "snag", "lost end", "loose end", "irritation")

SOON = Range(2, 7, "days", ASSUMED)
"""When to look again after a longer post, or where somebody was sent to medical care."""
ONWARD = Range(8, 12, "weeks", ASSUMED)
"""When to look again once the plan's visits are over and nothing is said of how it ended."""

CHECK_AGAIN = "visit.again"
"""The name of a check that isn't one of the plan's visits."""


@dataclass(frozen=True, slots=True)
class WornNow:
    """The post that is in: how thick and long, and its packet where it is of the stock (mm)."""

    gauge_mm: float
    length_mm: float
    stock_key: str = ""
    lot: str = ""
    batch: str = ""

    def __post_init__(self) -> None:
        if self.gauge_mm <= 0.0 or self.length_mm <= 0.0:
            raise RecordError("say which post is in: gauge and length must be over 0 mm")


@dataclass(frozen=True, slots=True)
class Noted:
    """A trouble in the piercer's words; the photo of it is a hash, or None."""

    trouble: Trouble
    words: str = ""
    photo: str | None = None


@dataclass(frozen=True, slots=True)
class NextCheck:
    """When to come again, and what for (the name of a text)."""

    name: str
    days: Days


@dataclass(frozen=True, slots=True)
class VisitRecord:
    """One visit of one piercing: what was seen first, what was done, and when to come again.

    ``told_care`` is whether the client was sent to licensed medical care; ``because`` why
    something was done in spite of what speaks against it; ``recheck`` and ``downsizing`` what was
    measured, where it was.
    """

    revision: int
    label: str
    on: date
    pierced_on: date
    done: Done
    done_by: str
    before: WornNow
    after: WornNow | None
    signs: tuple[Sign, ...] = ()
    told_care: bool = False
    troubles: tuple[Noted, ...] = ()
    next_check: NextCheck | None = None
    because: str = ""
    note: str = ""
    recheck: Recheck | None = None
    downsizing: Downsized | None = None

    def __post_init__(self) -> None:
        if not self.done_by.strip():
            raise RecordError("say who did it")
        if self.on < self.pierced_on:
            raise RecordError("the visit lies before the day of the piercing")
        self._check_post()
        if "care" in asked_by(self.signs) and not self.told_care:
            raise RecordError("say that the client was sent to licensed medical care today")
        if self.in_spite_of and not self.because.strip():
            raise RecordError(f"say why you go ahead in spite of: {'; '.join(self.in_spite_of)}")
        if self.next_check is None and self.done != "remove":
            raise RecordError("say when to look again")
        if self.next_check is not None and self.next_check.days.first < self.on:
            raise RecordError("the next check lies before this visit")

    def _check_post(self) -> None:
        if self.done == "remove":
            if self.after is not None:
                raise RecordError("it was removed: no post is in")
            return
        if self.after is None:
            raise RecordError("say which post is in now")
        longer = self.after.length_mm - self.before.length_mm
        fits = {"lengthen": longer > 0.0, "shorten": longer < 0.0, "keep": longer == 0.0}
        if not fits[self.done]:
            said = f"{self.before.length_mm:g} mm before, {self.after.length_mm:g} mm now"
            raise RecordError(f"{self.done}: the post was {said}; choose the length that went in")

    @property
    def in_spite_of(self) -> tuple[str, ...]:
        """Return what speaks against what was done."""
        longer = self.recheck is not None and self.recheck.swollen
        return against(self.signs, self.done, longer_channel=longer)


def next_check(
    signs: tuple[Sign, ...],
    done: Done,
    pierced_on: date,
    on: date,
    rules: PlanRules | None = None,
) -> NextCheck | None:
    """Return when to look again, as it is proposed to the piercer; None where it was removed.

    Parameters
    ----------
    signs, done : what was seen and done
    pierced_on, on : the day of the piercing and that of the visit
    rules : what the studio set
    """
    if done == "remove":
        return None
    plan, asks = plan_from(pierced_on, rules), asked_by(signs)
    if "care" in asks or "longer" in asks or done == "lengthen":
        return NextCheck(CHECK_AGAIN, SOON.after(on))
    if "wait" in asks:
        return NextCheck(CHECK_AGAIN, plan.rules.look_again.after(on))
    return _of_plan(plan, done, on) or NextCheck(CHECK_AGAIN, ONWARD.after(on))


def _of_plan(plan: Plan, done: Done, on: date) -> NextCheck | None:
    """Return the next of the plan's visits that begins after a day; a shorter post is in or not."""
    visits = plan.visits[-1:] if done == "shorten" else plan.visits
    later = [visit for visit in visits if visit.days.first > on]
    return NextCheck(later[0].name, later[0].days) if later else None
