"""What is read of visits, of who is due and of outcomes: described, never diagnosed."""

from __future__ import annotations

from collections.abc import Iterable
from datetime import date, timedelta

from assess.day_words import in_words
from assess.due_list import State
from assess.outcome_counts import Became, Count
from assess.post_wording import length_words
from assess.result_parts import QuantityOut
from assess.talk.spans import Days
from assess.visit_measured import MarkedSet
from assess.visit_record import VisitRecord, WornNow
from assess.visit_signs import SIGNS, Done
from assess.wording import interval_sentence
from calibration.quantity import Quantity

DONE: dict[Done, str] = {
    "lengthen": "A longer post",
    "keep": "The same post stays",
    "shorten": "A shorter post",
    "remove": "Removed, the client's choice",
}

BECAME: dict[Became, str] = {
    "healed": "healed",
    "removed": "removed by choice",
    "rejected": "rejected",
    "migrated": "migrated",
    "infection": "infection seen by a clinician",
    "lost": "lost from sight",
}

STATES: dict[State, str] = {
    "overdue": "Overdue",
    "due": "Due now",
    "silent": "Silent",
    "later": "Later",
}
STATES_WHY: dict[State, str] = {
    "overdue": "The last day has passed.",
    "due": "The days in which they are expected.",
    "silent": "More than four weeks past the last day: nobody knows how they are.",
    "later": "Not yet expected.",
}

COUNTS_CAUTION = (
    "Counts are of piercings of which something is noted here. Who comes back differs from who "
    "doesn't, and many who are lost from sight may be well or not. Few cases say little: see the "
    "intervals. The limits turned others away before they were pierced, and what would have become "
    "of those is in no count. These counts don't show that a limit is right, and they promise "
    "nothing to anybody."
)

_SIGN_WORDS = {each.sign: each.text for each in SIGNS}


def worn_words(worn: WornNow | None) -> str:
    """Return which post is in."""
    if worn is None:
        return "no post is in"
    lot = f", lot {worn.lot}" if worn.lot else ""
    return f"{worn.gauge_mm:g} mm thick, {length_words(worn.length_mm)} long{lot}"


def spare_words(length_mm: float, channel: QuantityOut | None) -> str:
    """Return the spare length that a post leaves by the channel as it was measured."""
    if channel is None:
        return "the channel wasn't measured"
    spare = Quantity(
        length_mm - channel.value,
        channel.u,
        length_mm - channel.high,
        length_mm - channel.low,
        channel.unit,
    )
    return f"spare length {interval_sentence(spare)}"


def span_words(days: Days) -> str:
    """Return a span of days."""
    if days.first == days.last:
        return in_words(days.first)
    return f"{in_words(days.first)} to {in_words(days.last)}"


def how_long_words(days: Days, today: date) -> str:
    """Return how many days it is to a span of days, how many of it are left, or how many over."""
    if today < days.first:
        return f"in {_days(days.first - today)}"
    if today < days.last:
        return f"{_days(days.last - today)} left"
    return "the last day" if today == days.last else f"{_days(today - days.last)} over"


def _days(span: timedelta) -> str:
    return "1 day" if span.days == 1 else f"{span.days} days"


def visit_lines(visit: VisitRecord) -> list[str]:
    """Return what was seen and done at a visit, a line each."""
    weeks = (visit.on - visit.pierced_on).days // 7
    lines = [f"{in_words(visit.on)}, {_weeks(weeks)} after the piercing. By {visit.done_by}."]
    seen = ", ".join(_SIGN_WORDS[sign].lower() for sign in visit.signs)
    lines.append(f"Seen first: {seen}." if seen else "Seen first: none of the signs.")
    if visit.told_care:
        lines.append("The client was sent to licensed medical care that day.")
    lines.append(f"{DONE[visit.done]}. {_capital(_posts(visit))}.")
    lines += [f"{_capital(n.trouble)}: {n.words or 'no words'}." for n in visit.troubles]
    lines += _measured(visit)
    if visit.because:
        lines.append(f"In spite of {'; '.join(visit.in_spite_of)}: {visit.because}")
    if visit.note:
        lines.append(f"Note: {visit.note}")
    if visit.next_check is not None:
        lines.append(f"Next look: {span_words(visit.next_check.days)}.")
    return lines


def _measured(visit: VisitRecord) -> list[str]:
    lines = [] if visit.downsizing is None else list(visit.downsizing.sentences)
    if visit.recheck is None:
        return lines
    return [*lines, against_words(visit.recheck.baseline), *visit.recheck.sentences]


def against_words(baseline: MarkedSet | None) -> str:
    """Return what a visit's photo was held against, and when that was marked."""
    if baseline is None:
        return "A photo was marked; there was none before to hold it against."
    what = "right after the insertion" if baseline.after_insertion else "of an earlier visit"
    marked = f", marked on {in_words(baseline.marked_on)}" if baseline.marked_later else ""
    return (
        f"Held against the photo {what}, {in_words(baseline.on)}{marked} by {baseline.marked_by}."
    )


def _weeks(weeks: int) -> str:
    return "under a week" if weeks == 0 else "1 week" if weeks == 1 else f"{weeks} weeks"


def _posts(visit: VisitRecord) -> str:
    if visit.done == "keep":
        return f"In: {worn_words(visit.after)}"
    return f"before: {worn_words(visit.before)}; now: {worn_words(visit.after)}"


def _capital(words: str) -> str:
    return words[:1].upper() + words[1:]


def count_words(count: Count) -> str:
    """Return a count with the interval of its share, in whole per cent."""
    if count.of == 0:
        return "nothing noted yet"
    low, high = round(100 * count.low), round(100 * count.high)
    return f"{count.count} of {count.of}, {low} to {high} % (95 % interval)"


def channels_words(count: Count) -> str:
    """Return the measured channels of those that a count is of."""
    if count.channels_mm is None:
        return "-"
    low, middle, high = count.channels_mm
    if low == high:
        return f"{middle:.1f} mm"
    return f"{low:.1f} to {high:.1f} mm, middle {middle:.1f} mm"


def limits_table(found: Iterable[Count]) -> dict[str, list[str]]:
    """Return counts as a table's columns."""
    listed = list(found)
    return {
        "What became of it": [_capital(BECAME[each.became]) for each in listed],
        "How many": [count_words(each) for each in listed],
        "Channels as measured": [channels_words(each) for each in listed],
    }
