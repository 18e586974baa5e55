"""An assessment that nobody confirmed so far: marks and photos measured."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field, replace
from hashlib import sha256
from typing import Any

from assess.criteria import DEFAULT_CRITERIA, Criteria
from assess.measure import DRAWS, measure
from assess.plan_marks import PLAN
from assess.plan_measure import MeasuredPlan
from assess.plan_words import NO_RIM
from assess.read_marks import parse_marks
from calibration.photo import Photo, PhotoError, read_photo
from rimspan.clientfile import canonical


@dataclass(frozen=True, slots=True)
class Assessment:
    """What was measured from which photos, not confirmed by anybody."""

    marks: Mapping[str, Any]
    result: Mapping[str, Any]
    criteria: Mapping[str, Any]
    software: str
    photos: Mapping[str, str]
    """File name in the marks -> hash of the photo's bytes."""
    talk: Mapping[str, Any] = field(default_factory=dict)
    """What was asked and seen of the client (:mod:`assess.talk.record`); empty without one."""

    @property
    def digest(self) -> str:
        """Return the one number that stands for all of it."""
        parts: dict[str, Any] = {
            "marks": self.marks,
            "result": self.result,
            "criteria": self.criteria,
            "software": self.software,
            "photos": self.photos,
        }
        if self.talk:  # one without is the same number as before there were talks
            parts["talk"] = self.talk
        return sha256(canonical(parts)).hexdigest()


def decoded(data: bytes) -> Photo | PhotoError:
    """Return a photo, or why it can't be decoded."""
    try:
        return read_photo(data)
    except PhotoError as error:
        return error


def with_plan(found: Assessment, marks: Mapping[str, Any], plan: MeasuredPlan | None) -> Assessment:
    """Return what was measured without the plan, with it: as if it were measured in one.

    Parameters
    ----------
    found : of the same marks without their plan
    marks : with it
    plan : what is measured of it
    """
    missing = NO_RIM if PLAN in marks and plan is None else None
    told = None if plan is None else plan.out.model_dump(mode="json")
    return replace(
        found, marks=marks, result={**found.result, "plan": told, "plan_missing": missing}
    )


def assess_marks(
    marks: Mapping[str, Any],
    photos: Mapping[str, bytes],
    *,
    criteria: Criteria = DEFAULT_CRITERIA,
    seed: int = 1,
    draws: int = DRAWS,
) -> Assessment:
    """Return the unconfirmed assessment of marks and photos.

    Raises
    ------
    AssessError
        If the marks are wrong or nothing can be measured.
    """
    parsed = parse_marks(marks)
    pictures = {name: decoded(data) for name, data in photos.items()}
    found = measure(parsed, pictures, criteria=criteria, seed=seed, draws=draws)
    hashes = {name: sha256(data).hexdigest() for name, data in photos.items()}
    result = found.result.model_dump(mode="json")
    return Assessment(marks, result, criteria.to_dict(), found.result.software, hashes)
