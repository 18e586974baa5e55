"""A second visit as a JSON document, ``rimspan-recheck/1``, and in sentences."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

import numpy as np

from assess.measure import software
from assess.recheck_change import Change, Leaned, NotComparable, Shift
from assess.recheck_visit import Rechecked
from assess.recheck_words import (
    NO_DIAGNOSIS,
    considered_sentences,
    first_sentences,
    moved_sentences,
    not_comparable_sentence,
    one_view_sentence,
    swelling_sentence,
)
from assess.visit_signs import Asks, asked_by
from assess.wording import JUDGEMENT_STATEMENT
from calibration.frames import Array
from calibration.quantity import Quantity

FORMAT = "rimspan-recheck/1"
NO_SPARE_FROM = 0.5
"""A post counts as without spare length from this probability on that it has none (assumption)."""


def no_spare_probability(post_mm: float, channel_mm: Array) -> float:
    """Return how probably a post has no spare length: the share of the channel's draws, (M,) mm."""
    return float(np.mean(channel_mm >= post_mm))


def first_of(found: Rechecked, post_mm: float | None) -> tuple[Asks, ...]:
    """Return what comes first by measurement alone: whether spare length is left."""
    if post_mm is None or found.channel_mm is None:
        return ()
    spent = no_spare_probability(post_mm, found.channel_mm) >= NO_SPARE_FROM
    return asked_by(["no_spare"] if spent else [])


def recheck_sentences(found: Rechecked, post_mm: float | None = None) -> tuple[str, ...]:
    """Return what is said of one post: what comes first, then what changed."""
    first = first_sentences(first_of(found, post_mm))
    return (*first, *measured_sentences(found), *considered_of(found), *about_sentences(found))


def measured_sentences(found: Rechecked) -> tuple[str, ...]:
    """Return what was measured: the channel, and what moved or why that can't be told."""
    longer = found.longer
    said = () if longer is None else (swelling_sentence(longer, found.label),)
    if isinstance(found.change, NotComparable):
        return (*said, not_comparable_sentence(found.change))
    return (*said, *moved_sentences(found.change))


def considered_of(found: Rechecked) -> tuple[str, ...]:
    """Return what a piercer considers of what moved; nothing where that can't be told."""
    return () if isinstance(found.change, NotComparable) else considered_sentences(found.change)


def about_sentences(found: Rechecked) -> tuple[str, ...]:
    """Return what holds of all that was measured, and what one photo of each visit doesn't see."""
    said = () if isinstance(found.change, NotComparable) else (NO_DIAGNOSIS,)
    return said if found.one_view is None else (*said, one_view_sentence(found.one_view))


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
    told: dict[str, Any] = {
        "label": found.label,
        "photos": None if found.photos is None else list(found.photos),
        "by": "several views" if found.one_view is None else "one view",
        "why_one_view": found.one_view,
        "first": list(first_of(found, post_mm)),
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
    told: dict[str, Any] = {
        "value": tilt.value,
        "u": tilt.u,
        "U": tilt.expanded,
        "unit": "deg",
        "moved": tilt.moved,
    }
    rows = 1
    if isinstance(tilt, Leaned):
        rows = 2
        told |= {
            "toward_face_deg": float(tilt.way.vector[0]),
            "outward_deg": float(tilt.way.vector[1]),
            "covariance_deg2": tilt.way.covariance.tolist(),
        }
    found: dict[str, Any] = {
        "compared": True,
        "view_change_deg": change.view_change_deg,
        "tilt": told,
        "ends": {end: _shift(shift) for end, shift in change.ends.items()},
        "budget": [
            {"input": name, "tilt_deg2": float(part[:rows].sum())}
            for name, part in change.parts.items()
        ],
    }
    if change.in_space is not None:
        found["in_space"] = {
            "photos": [list(files) for files in change.in_space.photos],
            "shared": list(change.in_space.shared),
            "left_out": list(change.in_space.left_out),
        }
    return found


def _shift(shift: Shift) -> dict[str, Any]:
    names = ("along_axis_mm", "toward_face_mm", "outward_mm")
    return {
        **{name: float(v) for name, v in zip(names, shift.vector, strict=False)},
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
