"""Every sentence a person reads about a second visit.

What is measured is told with its U; below it the answer is that there is no measurable change.
What a piercer considers is common practice, no source, and never a diagnosis.
"""

from __future__ import annotations

from collections.abc import Iterable

from assess.downsizing import Downsizing
from assess.post_wording import length_words, no_post_sentence
from assess.posts import NoPost
from assess.recheck_change import Change, InSpace, Leaned, NotComparable, Shift, Turned
from assess.recheck_space_points import WhyNotSpace
from assess.space import TIE
from assess.trend import Trend
from assess.visit_signs import FIRST, Asks
from assess.wording import capital, chance, chance_of, interval_sentence, number
from calibration.quantity import Quantity

NO_DIAGNOSIS = (
    "These are measurements, no diagnosis. The piercer who examines the ear decides; what looks "
    "ill is for licensed medical care."
)
PRACTICE = "Common practice, no source."

WHY_WORDS = {
    "view": (
        "The view is {off:.0f}° off from the baseline's. Over 5° one photo can't tell a moved post "
        "from a moved phone. {where}"
    ),
    "no_rim": (
        "Too little of the rim is marked in both photos, away from the piercing. Nothing else "
        "tells where the ear is. Mark the outline as far as it can be followed, to the front and "
        "to the lobe."
    ),
    "no_match": (
        "The outlines don't lie on each other. A mark is far off, the rim itself changed, or it is "
        "another ear. Look at the outlines of both photos again."
    ),
    "no_axis": (
        "The post isn't marked in both photos. Without its two ends, or two places on its middle "
        "line, its tilt can't be told. Mark them."
    ),
}

ONE_VIEW_WORDS: dict[WhyNotSpace, str] = {
    "few_photos": "not both visits have two photos whose marks give places in space",
    "ends": "not both ends of the post are marked in two photos of each visit",
    "few_points": (
        "under three lasting places on the ear are marked alike in several photos of both visits, "
        "away from the post. A freckle or an earlier piercing, marked as a spare dot by one name, "
        "is such a place"
    ),
    "in_line": "the lasting places that both visits mark lie nearly on one line",
    "no_match": (
        "the lasting places of both visits don't lie on each other. A mark is far off, or a place "
        "isn't the same"
    ),
}

CONSIDER = {
    "tilt": (
        "A piercer looks at what pushes on it (sleeping side, mask, hair, a long arm), and whether "
        "the post is longer than it has to be."
    ),
    "shift": (
        "A piercer looks at the skin between the holes, at what pulls, and whether it is still the "
        "channel it was; and sees it again sooner."
    ),
}


SHARPEN_FROM_DEG = 5.0
"""An U of the tilt, by one photo of each visit, over which it is said what would lower it."""

SHARPEN = (
    "A smaller change would show with both outlines traced to the front and to the lobe and the "
    "ends snapped, and most of all with several photos at both visits."
)


def first_sentences(asks: Iterable[Asks]) -> tuple[str, ...]:
    """Return what comes first."""
    return tuple(f"{FIRST[each]} {PRACTICE}" for each in asks)


def not_comparable_sentence(why: NotComparable) -> str:
    """Return why two photos aren't compared, and what to do."""
    return WHY_WORDS[why.why].format(off=why.view_change_deg or 0.0, where=where_to(why))


def where_to(why: NotComparable) -> str:
    """Return which way to move the phone to match the baseline's view."""
    aside, down = why.aside_deg
    ways = []
    if abs(aside) >= 1.0:
        ways.append(f"{abs(aside):.0f}° to the {'left' if aside > 0.0 else 'right'}")
    if abs(down) >= 1.0:
        ways.append(f"{abs(down):.0f}° {'up' if down > 0.0 else 'down'}")
    if not ways:
        return "Take it again until the earlier outline lies on the rim."
    return f"Move the phone {' and '.join(ways)}, until the earlier outline lies on the rim."


def one_view_sentence(why: WhyNotSpace) -> str:
    """Return why one photo of each visit was compared, and what it doesn't see."""
    return (
        f"By one photo of each visit: {ONE_VIEW_WORDS[why]}. What moves toward the viewer isn't "
        "seen so."
    )


def in_space_sentence(how: InSpace) -> str:
    """Return which places on the ear the later visit was laid on."""
    first, later = how.photos
    places = ", ".join(name.removeprefix(TIE) for name in how.shared)
    said = f"In space, by {len(first)} and {len(later)} photos, laid on each other by {places}."
    if how.left_out:
        left = ", ".join(name.removeprefix(TIE) for name in how.left_out)
        said += f" Left out, as it doesn't lie as the others do: {left}. Look at its marks again."
    return said


def tilt_sentence(tilt: Turned, label: str) -> str:
    """Return by how much a post leans further than at the baseline."""
    known = number(tilt.expanded, tilt.u)
    if not tilt.moved:
        return f"Tilt of {label}: no measurable change (a change over {known}° would show)."
    if isinstance(tilt, Leaned):
        face, outward = (float(v) for v in tilt.way.vector)
        ways = ways_of(
            tilt.value,
            (abs(face), f"{number(abs(face), tilt.u)}° toward the {_to(face)}"),
            (abs(outward), f"{number(abs(outward), tilt.u)}° {_out(outward)}"),
        )
        size = _with_ways(f"{number(tilt.value, tilt.u)}°", ways, " since the baseline")
        return f"Tilt of {label}: {size}, ± {known}°."
    size = number(abs(tilt.value), tilt.u)
    return f"Tilt of {label}: {size}° toward the {_to(tilt.value)} since the baseline, ± {known}°."


def shift_sentence(shift: Shift, end: str, label: str) -> str:
    """Return how far an end moved, and which way."""
    u = shift.expanded / shift.k
    known = number(shift.expanded, u)
    if not shift.moved:
        return (
            f"End at the {end} of {label}: no measurable change (a change over {known} mm that way "
            "would show)."
        )
    along, face, *rest = (float(v) for v in shift.vector)
    ways = ways_of(
        shift.size,
        (abs(along), f"{number(abs(along), u)} mm {'up' if along > 0.0 else 'down'} the axis"),
        (abs(face), f"{number(abs(face), u)} mm toward the {_to(face)}"),
        *((abs(out), f"{number(abs(out), u)} mm {_out(out)}") for out in rest),
    )
    size = _with_ways(f"{number(shift.size, u)} mm", ways)
    return f"End at the {end} of {label}: moved by {size}, ± {known} mm."


def _to(face: float) -> str:
    return "face" if face > 0.0 else "back"


def _out(outward: float) -> str:
    return "outward, away from the head" if outward > 0.0 else "inward, to the head"


def ways_of(whole: float, *ways: tuple[float, str]) -> str:
    """Return the words of those parts that matter beside the whole."""
    return " and ".join(words for size, words in ways if size > 0.3 * whole)


def _with_ways(size: str, ways: str, since: str = "") -> str:
    """Return a size with the ways it goes; one way of that size needs no second number."""
    if ways.startswith(f"{size} ") and " and " not in ways:
        return f"{ways}{since}"
    return f"{size}{since} ({ways})"


def change_sentences(change: Change) -> tuple[str, ...]:
    """Return everything that one comparison says, and what a piercer considers."""
    return (*moved_sentences(change), *considered_sentences(change), NO_DIAGNOSIS)


def moved_sentences(change: Change) -> tuple[str, ...]:
    """Return what one comparison measured."""
    lines = [tilt_sentence(change.tilt, change.label)]
    lines += [shift_sentence(shift, end, change.label) for end, shift in change.ends.items()]
    if change.in_space is not None:
        lines.insert(0, in_space_sentence(change.in_space))
    return tuple(lines)


def considered_sentences(change: Change) -> tuple[str, ...]:
    """Return what a piercer considers, or what would show a smaller change."""
    lines = []
    if change.tilt.moved:
        lines.append(f"{CONSIDER['tilt']} {PRACTICE}")
    if any(shift.moved for shift in change.ends.values()):
        lines.append(f"{CONSIDER['shift']} {PRACTICE}")
    wide = change.in_space is None and change.tilt.expanded > SHARPEN_FROM_DEG
    if wide and not change.tilt.moved:
        lines.append(SHARPEN)
    return tuple(lines)


def swelling_sentence(longer: Quantity, label: str) -> str:
    """Return by how much the channel as seen is longer than at the baseline."""
    if longer.low <= 0.0 <= longer.high:
        known = number(0.5 * (longer.high - longer.low), longer.u)
        return f"Channel of {label} as seen: no measurable change (± {known} mm)."
    way = "longer" if longer.value > 0.0 else "shorter"
    low, high = sorted((abs(longer.low), abs(longer.high)))
    size = Quantity(abs(longer.value), longer.u, low, high, "mm")
    return f"Channel of {label} as seen: {way} by {interval_sentence(size)}."


def trend_sentence(trend: Trend, what: str, unit: str) -> str:
    """Return whether it drifts: its speed, and what a piercer considers."""
    low, high = (number(v, trend.u) for v in (trend.low, trend.high))
    unit = unit if unit == "°" else f" {unit}"
    between = f"{low}° and {high}°" if unit == "°" else f"{low} and {high}{unit}"
    span = f"between {between} a month"
    if not trend.said:
        return f"{capital(what)}: no drift that can be told over {trend.visits} visits ({span})."
    bent = "" if trend.fits else " The visits don't lie on one straight line: it isn't even."
    return (
        f"{capital(what)}: drifts by {number(trend.per_month, trend.u)}{unit} a month, {span}; "
        f"that it goes this way has a chance of {chance(trend.probability)}.{bent} A piercer "
        "considers another post, what pushes on it, and seeing it sooner; a drift that goes on is "
        f"talked about before it shows at the skin. {PRACTICE} {NO_DIAGNOSIS}"
    )


def downsizing_sentences(found: Downsizing) -> tuple[str, ...]:
    """Return the lengths side by side: worn, planned, and from today's channel."""
    lines = []
    if found.waits:
        lines.append(FIRST["wait"])
    if found.worn_mm is not None:
        lines.append(f"In it now: {length_words(found.worn_mm)}.")
    if found.planned_mm is not None:
        lines.append(f"Planned at the beginning: {length_words(found.planned_mm)}.")
    lines.append(f"Channel today: {interval_sentence(found.channel)}.")
    if isinstance(found.choice, NoPost):
        lines.append(no_post_sentence(found.choice, later=False))
    else:
        length = length_words(found.choice.length_mm)
        lines.append(
            f"From stock now: {length}, as wanted with {chance_of(found.choice.probability)}."
        )
        if found.shorter is False:
            lines.append("That isn't shorter than the post that is in.")
        if found.as_planned is False:
            lines.append("That is another length than was planned: today's channel counts.")
    return tuple(lines)
