"""The gate: nothing is saved or printed as an assessment that nobody confirmed.

A named piercer must have confirmed that very assessment: same marks, same result, same criteria,
same software.  Screens and commands go through here; an apprentice's word is refused here, and
whoever's it is while age and consent aren't met.  (A marks file measured on the command line is
nobody's client: it is printed, and never saved.)
"""

from __future__ import annotations

from dataclasses import dataclass, replace

from assess.talk.consent import AgeRules, unmet
from assess.talk.record import talk_from
from assess.wording import JUDGEMENT_STATEMENT
from rimspan.assessment import Assessment
from rimspan.clientfile import ClientFile, NewRevision, Person, Revision
from rimspan.sheets.report import report_pdf
from rimspan.studio import age_rules

DEFAULT_AGES = AgeRules()


class NotConfirmedError(Exception):
    """Nobody has confirmed this very assessment."""

    exit_status = 2


@dataclass(frozen=True, slots=True)
class Confirmation:
    """A named piercer's word on one assessment: examined, and decides."""

    piercer: str
    digest: str
    statement: str
    person: str = ""
    """The id of who is signed in, or ``""``: a name given on the command line."""


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


def confirm_as(
    assessment: Assessment,
    person: Person | None,
    examined_and_decides: bool,
    rules: AgeRules = DEFAULT_AGES,
) -> Confirmation:
    """Return the confirmation of who is signed in.

    Raises
    ------
    NotConfirmedError
        If nobody is, an apprentice confirms, or somebody who works here no more; if age and
        consent aren't met; or as :func:`confirm`.
    """
    if person is None:
        raise NotConfirmedError("Nobody is signed in here; sign in and confirm it again.")
    _check_may_confirm(person)
    given = confirm(assessment, person.name, examined_and_decides)
    check_consent(assessment, rules)
    return replace(given, person=person.id)


def _check_may_confirm(person: Person) -> None:
    if not (person.active and person.role.may_confirm):
        raise NotConfirmedError(
            f"{person.name} may not confirm here. A piercer who examined the ear decides."
        )


def check_consent(assessment: Assessment, rules: AgeRules) -> None:
    """Refuse where age and consent are not met by the studio's rules.

    Raises
    ------
    NotConfirmedError
        With everything that is missing; what nobody looked at is missing too.
    """
    talk = talk_from(assessment.talk, photos_kept=bool(assessment.photos))
    missing = unmet(talk.facts, rules)
    if missing:
        said = " ".join(sentence.text for sentence in missing)
        raise NotConfirmedError(f"Age and consent aren't met. {said}")


def _check_role(file: ClientFile, given: Confirmation) -> None:
    """Refuse who may not confirm as things are now, whatever they might when they signed in.

    A name of nobody here is what was confirmed elsewhere: the demo's.
    """
    if given.person:
        person = file.people.find(given.person)
        if person is None:
            raise NotConfirmedError(f"{given.piercer} doesn't work here. A piercer here decides.")
        _check_may_confirm(person)
    for person in [p for p in file.people.all() if p.name.casefold() == given.piercer.casefold()]:
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
        If this very assessment isn't confirmed, or by somebody who may not, or if age and
        consent aren't met by what the studio sets now.
    """
    given = _check(assessment, confirmation)
    _check_role(file, given)
    check_consent(assessment, age_rules(file))
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
        talk=assessment.talk,
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
    code: str = "en",
) -> bytes:
    """Return the one-page report as PDF, in a language.

    Raises
    ------
    NotConfirmedError
        If this very assessment isn't confirmed.
    """
    given = _check(assessment, confirmation)
    return report_pdf(
        assessment,
        given,
        picture_png,
        client=client,
        measured_by=measured_by,
        date=date,
        code=code,
    )
