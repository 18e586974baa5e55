"""The plan in a few lines, the same on the table, the pages and the sheets.

The sentences themselves stand in the result, and come from ``assess.plan_words``.
"""

from __future__ import annotations

from assess.plan_result import DistanceOut, PlannedOut, PlanOut, WornOut
from assess.post_wording import length_words
from rimspan.result_words import between

DRAWN = (
    "Drawn at true size: each post as it stands with half of its spare length on each side; "
    "dashed inside the rim. The wide band along the rim is where a post keeps its limits."
)


def plan_lines(plan: PlanOut) -> list[str]:
    """Return everything that has to be said of a plan, the number first."""
    lines = [plan.sentences[0], plan.carries.sentence, *plan.sentences[1:-1]]
    lines += [planned_line(each) for each in plan.placements]
    lines += [each.sentence for each in broken(plan)]
    lines += [each.sentence for each in in_the_way(plan)]
    lines += list(plan.jewellery)
    return [*lines, *plan.sentences[-1:]] if len(plan.sentences) > 1 else lines


def planned_line(found: PlannedOut) -> str:
    """Return one planned post: its channel and both lengths."""
    now, later = found.posts
    return (
        f"{found.label}: channel {between(found.channel)}; post {length_words(now.length_mm)} at "
        f"first, {length_words(later.length_mm)} after downsizing (expected)."
    )


def broken(plan: PlanOut) -> list[DistanceOut]:
    """Return the distances that don't keep their limit."""
    return [each for each in plan.distances if each.distance_mm < each.needed_mm]


def in_the_way(plan: PlanOut) -> list[WornOut]:
    """Return the worn things that touch or come close."""
    return [each for each in plan.worn if each.says != "clear"]
