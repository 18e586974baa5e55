"""What the Visit page says of today's photo and the baseline's."""

from __future__ import annotations

from collections.abc import Sequence

from assess.day_words import in_words
from assess.reading import PhotoReading
from assess.recheck_first_look import FirstLook
from assess.recheck_words import not_comparable_sentence
from rimspan.rechecks import Baseline
from rimspan.screens import svg
from rimspan.screens.photo_words import ASLANT, card_words, flag_html, seen_from
from rimspan.typed import in_html

NONE_BEFORE = (
    "No photo of this post is kept yet. One that is taken and marked today is what later visits "
    "are held against."
)


def baseline_words(baseline: Baseline | None, *, marked_today: bool = False) -> str:
    """Return what today's photo is held against.

    Parameters
    ----------
    marked_today : its marks were made in the open visit
    """
    if baseline is None:
        return NONE_BEFORE
    what = "right after the insertion" if baseline.after_insertion else "of the first visit"
    marked = baseline.kept
    said = "marked then"
    if marked is None:
        said = "marked at this visit" if marked_today else "not marked yet"
    if marked is not None and marked.marked_later:
        said = f"marked later, on {in_words(marked.marked_on)}, by {marked.marked_by}"
    count = len(baseline.photos)
    photos = "the photo" if count == 1 else f"{count} photos"
    return f"Held against {photos} {what}, {in_words(baseline.on)}: {said}."


def later_words(baseline: Baseline | None) -> str:
    """Return that marks of the baseline are made later, where they are."""
    if baseline is None or baseline.kept is not None:
        return ""
    return (
        f"This photo is of {in_words(baseline.on)} and is marked now. The visit's record says that "
        "it was marked later."
    )


def lacks_words(lacking: Sequence[str], *, alone: bool) -> str:
    """Return what is still to be marked in today's photo."""
    if lacking:
        return f"To mark in today's photo: {' and '.join(lacking)}."
    return "Marked. Later visits are held against this photo." if alone else ""


def view_words(look: FirstLook) -> str:
    """Return whether the view is the baseline's."""
    if look.refused is not None:
        return not_comparable_sentence(look.refused)
    return f"The view is {look.off_deg:.0f}° off the baseline's; up to 5° is compared."


def photo_html(reading: PhotoReading, look: FirstLook | None = None) -> str:
    """Return what a photo's card says: how the phone was held, how far away, its flags.

    Parameters
    ----------
    look : how its view compares; where that is refused, square-on isn't what is asked for
    """
    if reading.refusal:
        return (
            "<p><strong>This photo can't be measured.</strong></p>"
            f'<div class="rim-flag">{in_html(reading.refusal)}</div>'
        )
    drawn = svg.phone(reading.tilt_deg, seen_from(reading)) + svg.distance(reading.distance_mm)
    aslant = ASLANT if look is not None and look.refused is not None else frozenset()
    flags = "".join(flag_html(flag) for flag in reading.flags if flag.code not in aslant)
    return (
        f'<div class="rim-taken">{drawn}<div><p class="rim-quiet">{in_html(card_words(reading))}'
        f"</p>{flags}</div></div>"
    )
