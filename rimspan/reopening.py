"""Saved revisions opened again: measured anew, and printed as they were confirmed."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace
from typing import Any

from assess.criteria import Criteria
from assess.result import same_numbers
from rimspan.assessment import Assessment, assess_marks
from rimspan.clientfile import ClientFile, Revision
from rimspan.consultation import Confirmation, report
from rimspan.studio_clock import day_of


@dataclass(frozen=True, slots=True)
class Reopened:
    """A saved revision with its photos' bytes."""

    revision: Revision
    photos: Mapping[str, bytes]

    @property
    def marks(self) -> Mapping[str, Any]:
        """Return the marks it was measured from."""
        return self.revision.marks

    @property
    def result(self) -> Mapping[str, Any]:
        """Return the result as it was confirmed."""
        return self.revision.result

    @property
    def criteria(self) -> Mapping[str, Any]:
        """Return the limits that were in force."""
        return self.revision.criteria

    @property
    def software(self) -> str:
        """Return the software that measured."""
        return self.revision.saved.software


def report_of(file: ClientFile, revision_id: str, *, picture_png: bytes, code: str = "en") -> bytes:
    """Return the report of a saved revision, confirmed as it was when it was saved."""
    revision = file.revision(revision_id)
    assessment = _as_assessed(revision)
    given = Confirmation(revision.confirmed_by, revision.saved.digest, revision.saved.statement)
    return report(
        assessment,
        given,
        picture_png=picture_png,
        client=file.client(revision.client_id).name,
        measured_by=revision.measured_by,
        date=day_of(file, revision.created_at).isoformat(),
        code=code,
    )


def _as_assessed(revision: Revision) -> Assessment:
    """Return the assessment that was confirmed: the result before the name stood in it."""
    judgement = {**revision.result["judgement"], "confirmed_by": None}
    saved = revision.saved
    return Assessment(
        saved.marks,
        {**saved.result, "judgement": judgement},
        saved.criteria,
        saved.software,
        saved.photos,
        saved.talk,
    )


def reopen(file: ClientFile, revision_id: str) -> Reopened:
    """Return a saved revision with the bytes of its photos."""
    revision = file.revision(revision_id)
    photos = {name: file.photo_bytes(digest) for name, digest in revision.saved.photos.items()}
    return Reopened(revision, photos)


def remeasure(opened: Reopened) -> Assessment:
    """Return what measuring a saved revision again gives, by the limits it was saved with."""
    again = assess_marks(
        opened.marks,
        opened.photos,
        criteria=Criteria.from_dict(opened.criteria),
        seed=int(opened.result["seed"]),
        draws=int(opened.result["draws"]),
    )
    return replace(again, marks=opened.marks, talk=opened.revision.saved.talk)


def measured_again(file: ClientFile, revision: str) -> str:
    """Return whether measuring a revision again gives the numbers that were saved."""
    opened = reopen(file, revision)
    again = remeasure(opened)
    if same_numbers(opened.result["placements"], again.result["placements"]):
        return "Measured again: same numbers."
    return (
        "Measured again: other numbers than were saved. The saved ones stand; "
        f"they were measured by {opened.software}, this is {again.software}."
    )
