"""The demo's client file: invented staff, and invented clients to try a consultation with."""

from __future__ import annotations

import json
from collections.abc import Mapping
from dataclasses import replace
from importlib.resources.abc import Traversable
from typing import Any

from rimspan.assessment import assess_marks
from rimspan.clientfile import ClientFile, Role
from rimspan.consultation import confirm, save

PIERCER = "Demo Piercer (invented)"
APPRENTICE = "Demo Apprentice (invented)"
PASSWORD = "invented"  # noqa: S105  (the demo's screens say it)
CLIENTS = {
    "Demo client A (invented, rendered ear)": "pronounced",
    "Demo client B (invented, rendered ear)": "flat",
    "Demo client C (invented, rendered ear)": "three",
}
"""Each client with the sample ear that stands for theirs; A's is confirmed and saved."""

CONFIRMED = next(iter(CLIENTS))
NOTE = "Invented for the demo. The pictures are rendered; nobody's ear is in them."
TOKEN = "rimspan-demo-1"  # noqa: S105  (marks the one saving, so that it isn't done twice)


TALK = {"age": {"at_least_years": 18, "identity_checked": True}}
"""Invented, too: nobody's identity paper was looked at."""


def fill_client_file(file: ClientFile, samples: Traversable) -> None:
    """Put the demo's clients into a client file, where they aren't there yet.

    Parameters
    ----------
    samples : folder with one of marks and photos for each ear
    """
    add_people(file)
    known = {client.name for client in file.clients()}
    for name, ear in CLIENTS.items():
        if name not in known:
            _add(file, name, samples.joinpath(ear))


def add_people(file: ClientFile) -> None:
    """Add the invented staff, if the client file is for demo data only."""
    if file.sealed:
        return
    known = {person.name for person in file.people.all()}
    for name, role in ((PIERCER, Role.MANAGER), (APPRENTICE, Role.APPRENTICE)):
        if name not in known:
            file.people.add(name, role, PASSWORD, by=PIERCER)


def _add(file: ClientFile, name: str, sample: Traversable) -> None:
    chosen = "marks-examined.json" if name == CONFIRMED else "marks.json"
    marks = json.loads(sample.joinpath(chosen).read_text("utf-8"))
    client = file.create_client(name, note=NOTE, by=PIERCER)
    kept = photos_kept(file, client.id, marks, sample)
    draft = draft_of(marks, kept, TALK, TOKEN + marks["side"])
    if name == CONFIRMED:
        stored = {filename: file.photo_bytes(sha256) for filename, sha256 in kept.items()}
        assessment = replace(assess_marks(marks, stored), talk=TALK)
        confirmation = confirm(assessment, PIERCER, examined_and_decides=True)
        saved = save(file, client.id, assessment, confirmation, measured_by=PIERCER, token=TOKEN)
        draft["x_saved"] = {"id": saved.id, "number": saved.number}
    file.save_draft(client.id, marks["side"], draft)


def photos_kept(
    file: ClientFile, client: str, marks: Mapping[str, Any], sample: Traversable
) -> dict[str, str]:
    """Keep the photos that are marked, and return the hash of each by its file's name."""
    return {
        entry["file"]: file.add_photo(
            client,
            sample.joinpath(entry["file"]).read_bytes(),
            entry["file"],
            marks["side"],
            by=PIERCER,
        ).sha256
        for entry in marks["photos"]
    }


def draft_of(
    marks: Mapping[str, Any], kept: Mapping[str, str], talk: Mapping[str, Any], token: str
) -> dict[str, Any]:
    """Return the marks as the screens keep them: each photo with the hash of its bytes."""
    photos = [{**entry, "x_sha256": kept[entry["file"]]} for entry in marks["photos"]]
    return {**marks, "photos": photos, "x_token": token, "x_talk": dict(talk)}
