"""The verbs that screens and commands share.  The gate is here.

Nothing is saved or printed as an assessment until a named piercer has confirmed that very
assessment: same marks, same result, same criteria, same software.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace
from hashlib import sha256
from typing import Any

from assess.criteria import DEFAULT_CRITERIA, Criteria
from assess.errors import AssessError
from assess.measure import DRAWS, measure
from assess.read_marks import parse_marks
from assess.wording import JUDGEMENT_STATEMENT
from calibration.photo import Photo, PhotoError, read_photo
from rimspan.clientfile import ClientFile, NewRevision, Person, Revision, canonical
from rimspan.sheets.report import report_pdf


class NotConfirmedError(Exception):
    """Nobody has confirmed this very assessment."""

    exit_status = 2


@dataclass(frozen=True, slots=True)
class Assessment:
    """What was measured from which photos, not confirmed by anybody."""

    marks: Mapping[str, Any]
    result: Mapping[str, Any]
    criteria: Mapping[str, Any]
    software: str
    photos: Mapping[str, str]
    """File name in the marks -> hash of the photo's bytes."""

    @property
    def digest(self) -> str:
        """Return the one number that stands for all of it."""
        parts = {
            "marks": self.marks,
            "result": self.result,
            "criteria": self.criteria,
            "software": self.software,
            "photos": self.photos,
        }
        return sha256(canonical(parts)).hexdigest()


@dataclass(frozen=True, slots=True)
class Confirmation:
    """A named piercer's word on one assessment: examined, and decides."""

    piercer: str
    digest: str
    statement: str


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


def decoded(data: bytes) -> Photo | PhotoError:
    """Return a photo, or why it can't be decoded."""
    try:
        return read_photo(data)
    except PhotoError as error:
        return error


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


def confirm(assessment: Assessment, piercer: str, examined_and_decides: bool) -> Confirmation:
    """Return the piercer's confirmation of this very assessment.

    Raises
    ------
    NotConfirmedError
        If nobody is named or the piercer has not said that they examined the ear and decide.
    """
    if not piercer.strip():
        raise NotConfirmedError("No piercer is named; enter the name of the piercer who decides.")
    if not examined_and_decides:
        raise NotConfirmedError(
            "Not confirmed: the piercer must say that they examined the ear and decide."
        )
    return Confirmation(piercer.strip(), assessment.digest, JUDGEMENT_STATEMENT)


def confirm_as(assessment: Assessment, person: Person, examined_and_decides: bool) -> Confirmation:
    """Return the confirmation of somebody who is signed in.

    Raises
    ------
    NotConfirmedError
        If an apprentice confirms, or somebody who works here no more; or as :func:`confirm`.
    """
    _check_may_confirm(person)
    return confirm(assessment, person.name, examined_and_decides)


def _check_may_confirm(person: Person) -> None:
    if not (person.active and person.role.may_confirm):
        raise NotConfirmedError(
            f"{person.name} may not confirm here. A piercer who examined the ear decides."
        )


def _check_role(file: ClientFile, name: str) -> None:
    """Refuse who is known and may not; others are named freely: the screens have no sign-in."""
    for person in [p for p in file.people.all() if p.name.casefold() == name.casefold()]:
        _check_may_confirm(person)


def _check(assessment: Assessment, confirmation: Confirmation | None) -> Confirmation:
    if confirmation is None:
        raise NotConfirmedError("Not confirmed: a named piercer must confirm it first.")
    if confirmation.digest != assessment.digest or not confirmation.piercer:
        raise NotConfirmedError(
            "The confirmation is for another state of the marks; look at this one and confirm it."
        )
    return confirmation


def save(
    file: ClientFile,
    client_id: str,
    assessment: Assessment,
    confirmation: Confirmation | None,
    *,
    measured_by: str,
    token: str,
    pierced_by: str = "",
) -> Revision:
    """Return the saved revision; the same token twice saves once.

    Parameters
    ----------
    measured_by : who measured; by default who decided
    pierced_by : who pierced, where that is known by now

    Raises
    ------
    NotConfirmedError
        If this very assessment isn't confirmed, or by somebody who may not.
    """
    given = _check(assessment, confirmation)
    _check_role(file, given.piercer)
    judgement = {"statement": given.statement, "confirmed_by": given.piercer}
    new = NewRevision(
        client_id=client_id,
        side=str(assessment.marks["side"]),
        marks=assessment.marks,
        result={**assessment.result, "judgement": judgement},
        criteria=assessment.criteria,
        software=assessment.software,
        measured_by=measured_by.strip() or given.piercer,
        confirmed_by=given.piercer,
        statement=given.statement,
        digest=given.digest,
        photos=assessment.photos,
        pierced_by=pierced_by.strip(),
    )
    return file.save_revision(new, token)


def report(
    assessment: Assessment,
    confirmation: Confirmation | None,
    *,
    picture_png: bytes,
    client: str | None = None,
    measured_by: str | None = None,
    date: str | None = None,
) -> bytes:
    """Return the one-page report as PDF.

    Raises
    ------
    NotConfirmedError
        If this very assessment isn't confirmed.
    """
    given = _check(assessment, confirmation)
    return report_pdf(
        assessment, given, picture_png, client=client, measured_by=measured_by, date=date
    )


def report_of(file: ClientFile, revision_id: str, *, picture_png: bytes) -> bytes:
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
        date=f"{revision.created_at:%Y-%m-%d}",
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
    return replace(again, marks=opened.marks)


__all__ = [
    "AssessError",
    "Assessment",
    "Confirmation",
    "NotConfirmedError",
    "Reopened",
    "assess_marks",
    "confirm",
    "confirm_as",
    "decoded",
    "remeasure",
    "reopen",
    "report",
    "report_of",
    "save",
]
