"""The order of things in the chair: a short list that follows the work and never blocks it."""

from __future__ import annotations

from collections.abc import Collection

from assess.talk.sentences import OWN, Sentence

CHAIR: tuple[Sentence, ...] = (
    Sentence(
        "chair.hands",
        "Wash your hands.",
        "Clean hands come before everything that touches the ear.",
    ),
    Sentence(
        "chair.seat",
        "Client upright, eyes level, hair clipped back, glasses off.",
        "The ear stands as it is worn, and nothing covers or bends it.",
    ),
    Sentence(
        "chair.before",
        "Photos of both ears without marks.",
        "They show both sides as they were; marks can't be taken out of a photo later.",
    ),
    Sentence(
        "chair.skin",
        "Clean the skin and let it dry.",
        "Ink runs and wipes off on skin that is damp or greasy.",
    ),
    Sentence(
        "chair.pen",
        "Mark entry and exit with a single-use pen.",
        "A pen that touched one client's skin never touches another's.",
    ),
    Sentence(
        "chair.mirror",
        "Give the client a mirror.",
        "The client sees the place as others will see it.",
    ),
    Sentence(
        "chair.agrees",
        "The client agrees to the marks: record it. If not, wipe them off and mark anew.",
        "It is the client's ear; what was agreed stands in the record.",
    ),
    Sentence(
        "chair.photos",
        "Photos with the marks.",
        "What was agreed is what is measured.",
    ),
    Sentence(
        "chair.feel",
        "Hands and light: firm or soft, vessels, scars, lumps.",
        "A photo can't tell firm cartilage from a soft fold, and it sees no vessels.",
        OWN,
    ),
    Sentence(
        "chair.prepare",
        "Prepare the skin, then check the dots. If they moved, make a new revision.",
        "Cleaning can shift or thin a dot; what was confirmed was for the old place.",
    ),
    Sentence(
        "chair.gloves",
        "Change gloves that touched screen, phone or calipers.",
        "A screen is not clean: what was on it must not reach the skin.",
    ),
    Sentence(
        "chair.calipers",
        "Calipers that touch skin are never those used on the print.",
        "Paper and desk are not clean, and the print is handled by everybody.",
    ),
)


def still_open(done: Collection[str]) -> tuple[Sentence, ...]:
    """Return the steps that nobody ticked yet, in their order; none of them blocks anything.

    Raises
    ------
    ValueError
        If something was ticked that is no step.
    """
    unknown = set(done) - {step.id for step in CHAIR}
    if unknown:
        raise ValueError(f"'done' must hold steps of the chair (got {sorted(unknown)})")
    return tuple(step for step in CHAIR if step.id not in done)
