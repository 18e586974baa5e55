"""Every sentence a person reads about several photos: what was left out, and what to do."""

from __future__ import annotations

from assess.space import MOVED_LINE, TIE, SpacePlacement
from calibration.views import PhotoSaid, PointRefused, Refusal, ViewsRefused, ViewsSolved

KIND_WORDS = {
    "entry": "entry",
    "exit": "exit",
    "crest": "crest",
    "floor": "floor",
    "below": "next structure below",
}

LOOSE_SHARE = 0.5
"""Of a channel's variance: beyond it the card's movement is named as what to mend."""

REFUSALS: dict[Refusal, tuple[str, str, str]] = {
    "one_photo": (
        "Only one photo with a readable card shows dots.",
        "Depth can't be told from one photo.",
        "Take a second one from further up or down.",
    ),
    "no_points": (
        "No dot is marked in two photos.",
        "Depth can't be told from one photo.",
        "Mark the same dots in another photo.",
    ),
    "cards": (
        "The cards in {photos} can't be brought together.",
        "They may be of different prints, or one is bent.",
        "Use one flat card in all photos.",
    ),
    "swapped": (
        "The dots of {photos} fit if their marks are exchanged.",
        "The marks stand in the wrong photos.",
        "Mark these photos again.",
    ),
    "odd": (
        "The dots in one of {photos} don't fit the others.",
        "It shows another ear, or dots bear wrong names in it.",
        "Look at these photos and their marks again.",
    ),
    "misfit": (
        "The dots in {photos} don't fit together.",
        "More than one mark is wrong, or the ear or the card moved a lot.",
        "Check each dot's name in each photo, or take the photos again.",
    ),
}


def point_words(name: str) -> str:
    """Return for example ``entry of A`` or ``spare dot lobe``."""
    if name.startswith(TIE):
        return f"spare dot {name.removeprefix(TIE)}"
    label, kind = name.rsplit("/", 1)
    return f"{KIND_WORDS[kind]} of {label}"


def point_sentence(point: PointRefused) -> str:
    """Return why a dot isn't measured in space, by its name."""
    words, photos = point_words(point.name), listed(point.photos)
    if point.fault == "one_view":
        return (
            f"The {words} is marked in {photos} only. One photo can't tell its depth. Mark it in "
            "a second one, taken from further up, down or aside."
        )
    if point.fault == "narrow":
        return (
            f"The lines of sight to the {words} differ by {point.angle_deg or 0.0:.0f} degrees. "
            "Under 5 degrees its depth can't be told. Take a photo from further up, down or aside."
        )
    return (
        f"The lines of sight to the {words} miss each other by more than their uncertainty. A "
        f"mark is wrong in {photos}, or the dot isn't the same one. Mark it again there."
    )


def photo_sentence(said: PhotoSaid) -> str:
    """Return what is the matter with a photo among several."""
    photos = listed(said.photos)
    if said.fault == "lens":
        return (
            f"The card in {photos} looks as if taken with another lens or zoom. The photo counts "
            "with a lens of its own. Take all photos without zoom."
        )
    return (
        f"The dots in {photos} don't fit the other photos. It shows another ear, is marked in its "
        "mirrored picture, or dots bear wrong names in it. It was left out; look at it again."
    )


def refusal_sentence(refused: ViewsRefused) -> str:
    """Return why several photos give no dot in space."""
    seen, means, do = REFUSALS[refused.why]
    return f"{seen.format(photos=listed(refused.photos))} {means} {do}"


def moved_sentence(solved: ViewsSolved) -> str | None:
    """Return that the card moved more than told, if it did."""
    if not solved.card_moved:
        return None
    return (
        "The card moved between the photos by more than was told. The dots that several photos "
        "show were used to put it right, and the uncertainty is wider for it. Fix the card to "
        "the head next time."
    )


def loose_sentence(placement: SpacePlacement) -> str | None:
    """Return that the card's own movement rules the channel, if it brings most of its variance."""
    if placement.axis is None:
        return None
    parts = {line.name: line.variance for line in placement.axis.lines}
    if parts.get(MOVED_LINE, 0.0) <= LOOSE_SHARE * sum(parts.values()):
        return None
    return (
        f"Most of the uncertainty of {placement.label} comes from the card, which may have moved "
        "between the photos. Mark crest, floor and spare dots in every photo that shows them, or "
        "fix the card to the head."
    )


def narrow_sentence(name: str, angle_deg: float) -> str:
    """Return that a dot's depth is poorly known."""
    return (
        f"The lines of sight to the {point_words(name)} differ by {angle_deg:.0f} degrees only. "
        "Its depth is poorly known. A photo from further aside would help."
    )


def sentences(solved: ViewsSolved) -> tuple[str, ...]:
    """Return everything to be said about photos that were measured together."""
    moved = moved_sentence(solved)
    return (
        *(photo_sentence(said) for said in solved.said),
        *([moved] if moved else []),
        *(point_sentence(point) for point in solved.refused),
        *(narrow_sentence(name, solved.angle_deg[name]) for name in solved.narrow),
    )


def listed(names: tuple[str, ...]) -> str:
    """Return for example ``a.jpg, b.jpg and c.jpg``."""
    if len(names) < 2:
        return "".join(names)
    return f"{', '.join(names[:-1])} and {names[-1]}"
