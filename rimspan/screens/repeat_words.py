"""Repeated marks in words: how well they repeat, what stands behind it, what it does."""

from __future__ import annotations

from assess.between_piercers import BetweenPiercers
from assess.reading import U_MARK_MM
from assess.repeatability import (
    LEAST_DOF,
    LEAST_PASSES,
    MOST_PASSES,
    U_DEFINITION_MM,
    MarkUncertainty,
    Scatter,
)
from rimspan.screens.scatter_rule import two_digits

PASSES = 3
"""The number of passes for which the page says what they bring."""

BEGIN = (
    "Nobody has marked a photo again yet, so every mark by hand counts as uncertain by "
    f"{U_MARK_MM:g} mm, which is assumed. Open a client's photo on the page Marks and choose "
    "“Mark again”: the first marks are hidden, and you set the same points anew, "
    f"{LEAST_PASSES} to {MOST_PASSES} times in all. What your hand does from one time to the next "
    "then stands here."
)

WHAT_IT_IS = (
    "How far a piercer's marks of one point lie apart, as a standard deviation across and down. "
    "Every repeat of a point brings two degrees of freedom, one across and one down; the more "
    "of them, the better the scatter is known. Points found by snapping don't count."
)

NOT_SHARED = (
    "No photo was marked by two piercers yet, one of them at least twice. Let a colleague mark "
    "one that you have marked again; how far you differ then stands here."
)


def _count(many: int, one: str, more: str | None = None) -> str:
    return f"{many} {one if many == 1 else more or one + 's'}"


def behind_words(scatter: Scatter) -> str:
    """Return what stands behind a scatter."""
    points, photos = _count(scatter.points, "point"), _count(scatter.photos, "photo")
    return f"{scatter.dof} degrees of freedom stand behind it, from {points} in {photos}."


def used_words(uncertainty: MarkUncertainty) -> str:
    """Return what the measurement makes of it."""
    u = two_digits(uncertainty.u_mm)
    if uncertainty.own:
        return (
            f"That is enough to take the place of the assumed {U_MARK_MM:g} mm: a mark of this "
            f"hand counts as uncertain by {u} mm."
        )
    return (
        f"From {LEAST_DOF} on it takes the place of the assumed {U_MARK_MM:g} mm. Until then the "
        f"two are weighed, and a mark of this hand counts as uncertain by {u} mm. Mark a photo "
        "again to get there."
    )


def mean_words(uncertainty: MarkUncertainty) -> str:
    """Return what repeating brings, and what it can't."""
    u = two_digits(uncertainty.of_mean(PASSES))
    return (
        f"A point marked {PASSES} times counts as uncertain by {u} mm. In that are "
        f"{U_DEFINITION_MM:g} mm where two good piercers would differ (assumption: common "
        "practice, no source); marking again can't make them less."
    )


def between_rows(found: BetweenPiercers) -> list[tuple[str, float]]:
    """Return the three scatters in words with their lengths, mm."""
    precision = found.precision
    return [
        ("One piercer, from time to time (s_r)", precision.s_r),
        ("From piercer to piercer (s_L)", precision.s_L),
        ("One mark by any of them (s_R)", precision.s_R),
    ]


def between_words(found: BetweenPiercers) -> list[str]:
    """Return what stands behind the scatter between piercers, and how it is meant."""
    lines = [
        f"From {_count(found.photos, 'photo')}, {_count(found.points, 'point')} and "
        f"{_count(found.piercers, 'piercer')}. Standard deviations across and down, by one-way "
        "analysis of variance (ISO 5725-2)."
    ]
    if found.precision.s_L == 0.0:
        lines.append(
            "The piercers differ by no more than each one's own scatter explains, so 0 is given "
            "for s_L. That is no proof that they agree."
        )
    lines.append(
        f"The measurement assumes {U_DEFINITION_MM:g} mm for s_L (assumption: common practice, "
        "no source); what stands here doesn't change it."
    )
    return lines
