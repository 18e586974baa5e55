"""What the Marks page says of a photo that was marked again, or by a hand that is known."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from assess.passes import Place, piercers, repeats
from assess.reading import U_MARK_MM
from assess.repeatability import (
    LEAST_DOF,
    MOST_PASSES,
    U_DEFINITION_MM,
    MarkUncertainty,
    Scatter,
)
from rimspan.screens.scatter_rule import two_digits

UNDER_WAY = (
    "A pass is under way. The millimetres come back when it is finished, so that they don't lead "
    "your hand."
)


def repeated_words(photo: Mapping[str, Any], known: MarkUncertainty) -> list[str]:
    """Return how often the marks were made, the hand's own scatter and what it replaces.

    Parameters
    ----------
    photo : a photo's part of a draft
    known : the uncertainty of a mark of whoever made its first marks
    """
    names, times = piercers(photo), {p: len(marks) for p, marks in repeats(photo).items()}
    if not names or not times or (known.learned is None and max(times.values()) == 1):
        return []
    fewest = min(times.values())
    return [_made(names, times), _scatter(known), _mean(known, fewest)]


def _made(names: tuple[str, ...], times: Mapping[Place, int]) -> str:
    """Return who made the marks how often, and which points lag behind."""
    fewest, most = min(times.values()), max(times.values())
    enough = ", which is the most" if fewest >= MOST_PASSES else ""
    words = f"Marked {_times(most)} by {names[0]}{enough}."
    if most > 1:
        words += " The mean counts; the first marks are drawn faint."
    lagging = [f"{point} of placement {label}" for (label, point), n in times.items() if n < most]
    if lagging:
        words += (
            f" Marked less often, or moved since: {', '.join(lagging)}. The photo counts as "
            f"marked {_times(fewest)}; choose \u201cMark again\u201d to bring them level."
        )
    if len(names) > 1:
        words += f" The marks of {' and '.join(names[1:])} are for comparison."
    return words


def _times(count: int) -> str:
    return {1: "once", 2: "twice"}.get(count, f"{count} times")


def _scatter(known: MarkUncertainty) -> str:
    """Return the hand's own repeatability, what stands behind it, and what it replaces."""
    if known.learned is None:
        return f"Nothing is known of this hand yet, so {U_MARK_MM:g} mm are assumed."
    own = _own(known.learned)
    if known.own:
        return f"{own}. It takes the place of the assumed {U_MARK_MM:g} mm."
    return (
        f"{own}. From {LEAST_DOF} degrees of freedom on it takes the place of the assumed "
        f"{U_MARK_MM:g} mm; until then the two are weighed, which makes "
        f"{two_digits(known.u_mm)} mm."
    )


def _own(learned: Scatter) -> str:
    return (
        f"Own repeatability: {two_digits(learned.s_mm)} mm across and down, with {learned.dof} "
        "degrees of freedom"
    )


def _mean(known: MarkUncertainty, passes: int) -> str:
    """Return the definition's part, apart, and what a mark counts for with it."""
    what = "a mark" if passes == 1 else f"a mean of {passes} marks"
    return (
        f"Apart from it stands {U_DEFINITION_MM:g} mm where two good piercers would differ "
        "(assumption: common practice, no source); marking again can't make it less. With "
        f"it, {what} counts as uncertain by {two_digits(known.of_mean(passes))} mm."
    )
