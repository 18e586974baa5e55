"""A second visit as a JSON document, ``rimspan-recheck/1``, and in sentences."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

from assess.measure import software
from assess.recheck_change import Change, NotComparable, Shift
from assess.recheck_visit import Rechecked
from assess.recheck_words import (
    change_sentences,
    first_sentences,
    not_comparable_sentence,
    swelling_sentence,
)
from assess.visit import FirstThings, first_things, no_spare_probability
from assess.wording import JUDGEMENT_STATEMENT
from calibration.quantity import Quantity

FORMAT = "rimspan-recheck/1"


def first_of(found: Rechecked, post_mm: float | None) -> FirstThings:
    """Return what comes first by measurement alone: whether spare length is left."""
    if post_mm is None or found.channel_mm is None:
        return first_things(())
    return first_things((), no_spare_probability(post_mm, found.channel_mm))


def recheck_sentences(found: Rechecked, post_mm: float | None = None) -> tuple[str, ...]:
    """Return what is said of one post: what comes first, then what changed."""
    if isinstance(found.change, NotComparable):
        said: tuple[str, ...] = (not_comparable_sentence(found.change),)
    else:
        said = change_sentences(found.change)
    if found.longer is not None:
        said = (swelling_sentence(found.longer, found.label), *said)
    first = first_of(found, post_mm)
    return (*first_sentences(first), *said) if first.same_day else said


def recheck_document(
    found: Sequence[Rechecked], posts_mm: dict[str, float | None], seed: int, draws: int
) -> dict[str, Any]:
    """Return the document: the same input and seed give the same numbers."""
    return {
        "format": FORMAT,
        "software": software(),
        "seed": seed,
        "draws": draws,
        "posts": [_post(each, posts_mm.get(each.label)) for each in found],
        "judgement": {"statement": JUDGEMENT_STATEMENT, "confirmed_by": None},
    }


def _post(found: Rechecked, post_mm: float | None) -> dict[str, Any]:
    first = first_of(found, post_mm)
    told: dict[str, Any] = {
        "label": found.label,
        "photos": None if found.photos is None else list(found.photos),
        "first": list(first.first),
        "may": list(first.may),
        "channel_change": None if found.longer is None else _quantity(found.longer),
        "sentences": list(recheck_sentences(found, post_mm)),
    }
    change = found.change
    if isinstance(change, NotComparable):
        lines = {kind: line.tolist() for kind, line in found.outline_px.items()}
        return told | {
            "compared": False,
            "why": change.why,
            "view_change_deg": change.view_change_deg,
            "outline_px": lines,
        }
    return told | _changed(change)


def _changed(change: Change) -> dict[str, Any]:
    tilt = change.tilt
    return {
        "compared": True,
        "view_change_deg": change.view_change_deg,
        "tilt": {
            "value": tilt.value,
            "u": tilt.u,
            "U": tilt.expanded,
            "unit": "deg",
            "moved": tilt.moved,
        },
        "ends": {end: _shift(shift) for end, shift in change.ends.items()},
        "budget": [
            {"input": name, "tilt_deg2": float(part[0])} for name, part in change.parts.items()
        ],
    }


def _shift(shift: Shift) -> dict[str, Any]:
    return {
        "along_axis_mm": float(shift.vector[0]),
        "toward_face_mm": float(shift.vector[1]),
        "covariance_mm2": shift.covariance.tolist(),
        "size_mm": shift.size,
        "U_mm": shift.expanded,
        "moved": shift.moved,
    }


def _quantity(found: Quantity) -> dict[str, Any]:
    return {
        "value": found.value,
        "u": found.u,
        "low": found.low,
        "high": found.high,
        "unit": found.unit,
    }
