"""A studio's own words: versions in the client file, sealed as settings are.

What a version no longer can be (a text that is gone, a caution that must say more by now) is left
out when it is read, so that no sheet fails for it; the screen that changes words says which.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import datetime
from typing import Any

from assess.talk.rewording import WordingError, standing
from rimspan.clientfile import ClientFile, Person, RefusedError
from rimspan.languages import Language, built_in, language
from rimspan.studio import manager

WORDING = "wording"
"""The name of the setting."""


@dataclass(frozen=True, slots=True)
class Reworded:
    """One change of one text: who set what, and when; None is the built-in text again."""

    text: str | None
    by: str
    at: datetime


def own_words(file: ClientFile, code: str, at: datetime | None = None) -> dict[str, str]:
    """Return the studio's own words in a language, now or as they were at a moment."""
    return _texts(_document(file, at), code)


def _document(file: ClientFile, at: datetime | None) -> Mapping[str, Any]:
    if at is None:
        return file.settings.get(WORDING)
    before = [each.document for each in file.settings.versions(WORDING) if each.at <= at]
    return before[-1] if before else {}


def _texts(document: Mapping[str, Any], code: str) -> dict[str, str]:
    return dict(document.get("texts", {}).get(code, {}))


def spoken(file: ClientFile, code: str, at: datetime | None = None) -> Language:
    """Return a language with the studio's own words in it, now or as they were at a moment."""
    return language(code, standing(own_words(file, code, at), code))


def changes_of(file: ClientFile, code: str) -> dict[str, list[Reworded]]:
    """Return for each text that was ever reworded what became of it, the newest first."""
    found: dict[str, list[Reworded]] = {}
    before: dict[str, str] = {}
    for version in file.settings.versions(WORDING):
        now = _texts(version.document, code)
        by = str(version.document.get("by", ""))
        for name in sorted(set(before) | set(now)):
            if before.get(name) != now.get(name):
                found.setdefault(name, []).insert(0, Reworded(now.get(name), by, version.at))
        before = now
    return found


def reword(file: ClientFile, by: Person | None, code: str, name: str, text: str | None) -> None:
    """Put a studio's words in the place of a text; None or the built-in words bring those back.

    Raises
    ------
    NotAllowedError
        If nobody is signed in, or they don't manage.
    RefusedError
        If the words are refused: see :func:`assess.talk.rewording.reworded`.
    """
    said = manager(file, by).name
    new = None if text is None or text.strip() == built_in(code)[name] else text.strip()
    if new is not None:
        try:
            language(code, {name: new})
        except WordingError as error:
            said = "; ".join(f"{fault.what}; {fault.remedy}" for fault in error.faults)
            raise RefusedError(said) from None

    def edit(old: dict[str, Any]) -> dict[str, Any]:
        texts = dict(old.get("texts", {}))
        kept = {each: held for each, held in _texts(old, code).items() if each != name}
        return {"texts": texts | {code: kept | ({} if new is None else {name: new})}, "by": said}

    if own_words(file, code).get(name) != new:
        file.settings.change(WORDING, edit, said)
