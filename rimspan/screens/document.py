"""The draft of a consultation: the marks document as far as it has got.

A draft is ``rimspan-marks/1`` that may still be incomplete (a line of one point, no photo),
with names of its own that begin with ``x_``.  Every function returns a new document.
"""

from __future__ import annotations

import copy
import secrets
from collections.abc import Iterable, Mapping, Sequence
from typing import Any

from assess.passes import PASSES
from assess.plan_marks import PLAN, WORN
from calibration.card import FRAME

Document = dict[str, Any]

LABEL = "1"
"""The first placement's label."""

STUDIO, AS_ON = ("card", "posts"), "x_as_on_"
"""What a new draft takes over from the assessment before, and what names that one's day."""

FROM_STOCK = "x_stock"
"""The version of the studio's stock that the draft's posts are of."""

RUNNING, MARKED_BY = "x_again", "x_marked_by"
"""The pass that runs in a photo, and who made its first marks."""

PHOTO_MARKS = (
    "outer_rim",
    "inner_rim",
    "head_up",
    "ties",
    "u_ties_px",
    "placements",
    "x_help",
    "x_ties_snap",
    "x_unseen",
    PASSES,
    RUNNING,
)
"""What the marking sends of a photo, and gets back.

``x_help`` and ``x_ties_snap`` say how marks came about: lines that were accepted, where a tie
was tapped; ``x_unseen`` names dots that can't be seen in the photo.
"""

MEASURED = (PLAN, WORN)
"""Of our own names those that are measured and saved."""

LINES = ("outer_rim", "inner_rim", "head_up")


def new_document(side: str) -> Document:
    """Return the draft with which a consultation begins."""
    return {
        "format": "rimspan-marks/1",
        "side": side,
        "card": {"id": FRAME.id},
        "photos": [],
        "caliper": {},
        "examined": {},
        "x_token": secrets.token_hex(16),
    }


def fresh_document(side: str, last: Mapping[str, Any], on: str) -> Document:
    """Return the draft with which a consultation begins after another one.

    The print of the card, with its check bars, and the posts in stock are the studio's, not the
    client's: they are as in the assessment before, and the draft says so until they are changed.

    Parameters
    ----------
    last : the marks of that assessment
    on : its day, in words
    """
    kept = {name: last[name] for name in STUDIO if last.get(name)}
    said = {f"{AS_ON}{name}": on for name in kept}
    return new_document(side) | copy.deepcopy(kept) | said


def changed(document: Mapping[str, Any], **values: Any) -> Document:  # noqa: ANN401
    """Return the draft with top-level values set; None takes one away.

    A changed draft is another assessment: it gets a token of its own.
    """
    new = copy.deepcopy(dict(document))
    for name, value in values.items():
        if value is None:
            new.pop(name, None)
        else:
            new[name] = copy.deepcopy(value)
        new.pop(f"{AS_ON}{name}", None)
        if name == "posts":
            new.pop(FROM_STOCK, None)
    if new == document:
        return new
    new.pop("x_saved", None)
    new["x_token"] = secrets.token_hex(16)
    return new


def with_stock(
    document: Mapping[str, Any], number: int, posts: Sequence[Mapping[str, Any]]
) -> Document:
    """Return the draft with the posts that a version of the stock has."""
    return changed(document, posts=list(posts)) | {FROM_STOCK: number}


def files(document: Mapping[str, Any]) -> list[str]:
    """Return the names of the draft's photos."""
    return [entry["file"] for entry in document["photos"]]


def of_ear(document: Mapping[str, Any]) -> list[str]:
    """Return the photos that the ear itself is measured in: nothing is worn in them."""
    return [photo["file"] for photo in document["photos"] if WORN not in photo]


def entry(document: Mapping[str, Any], file: str) -> Document:
    """Return a photo's part of the draft.

    Raises
    ------
    KeyError
        If the draft has no such photo.
    """
    for found in document["photos"]:
        if found["file"] == file:
            return dict(found)
    raise KeyError(file)


def hashes(document: Mapping[str, Any]) -> dict[str, str]:
    """Return each photo's file name and the hash under which its bytes are kept."""
    return {entry["file"]: entry["x_sha256"] for entry in document["photos"]}


def with_photo(document: Mapping[str, Any], filename: str, sha256: str) -> Document:
    """Return the draft with one more photo; the same bytes twice are one photo."""
    if sha256 in hashes(document).values():
        return dict(document)
    name, taken, count = filename, files(document), 1
    while name in taken:
        count += 1
        stem, dot, suffix = filename.rpartition(".")
        name = f"{stem} ({count}).{suffix}" if dot else f"{filename} ({count})"
    return changed(document, photos=[*document["photos"], {"file": name, "x_sha256": sha256}])


def without_photo(document: Mapping[str, Any], file: str) -> Document:
    """Return the draft without a photo and its marks."""
    kept = [entry for entry in document["photos"] if entry["file"] != file]
    return changed(document, photos=kept)


def with_marks(
    document: Mapping[str, Any], file: str, marks: Mapping[str, Any], by: str = ""
) -> Document:
    """Return the draft with a photo's marks replaced by what the marking sent.

    Parameters
    ----------
    by : who is at work; where the placements' marks differ, they are theirs from now on
    """
    new = {name: marks[name] for name in PHOTO_MARKS if marks.get(name)}
    photos = [_remarked(old, new, by) if old["file"] == file else old for old in document["photos"]]
    return changed(document, photos=photos)


def _remarked(old: Mapping[str, Any], new: Document, by: str) -> Document:
    marked = {name: value for name, value in old.items() if name not in PHOTO_MARKS} | new
    if old.get("placements") != new.get("placements"):
        marked.pop(MARKED_BY, None)
        marked |= {MARKED_BY: by} if by else {}
    return marked


def with_hand(photo: Mapping[str, Any]) -> Document:
    """Return a photo's part whose marks, made once by a known piercer, are its one pass.

    What the marks file itself says of their uncertainty stands.
    """
    by = photo.get(MARKED_BY)
    if not by or photo.get(PASSES) or "sigma_px" in photo:
        return dict(photo)
    return dict(photo) | {PASSES: [{"by": by, "placements": photo.get("placements", [])}]}


def marks_of(found: Mapping[str, Any]) -> Document:
    """Return a photo's marks alone."""
    return {name: found[name] for name in PHOTO_MARKS if name in found}


def labels(document: Mapping[str, Any]) -> list[str]:
    """Return the placements' labels in the order in which they were marked; one at least."""
    marked = [p["label"] for photo in document["photos"] for p in photo.get("placements", ())]
    read = [*document.get("caliper", {}), *document.get("examined", {})]
    return list(dict.fromkeys([*marked, *read])) or [LABEL]


def measurable(document: Mapping[str, Any], only: Iterable[str] | None = None) -> Document:
    """Return what the draft holds that can be measured: no stubs of lines.

    Of our own names only the plan stays.

    Parameters
    ----------
    only : the photos to keep; all by default
    """
    wanted = set(files(document) if only is None else only)
    new = _public(document)
    new["photos"] = [_whole(photo) for photo in document["photos"] if photo["file"] in wanted]
    for name in ("caliper", "examined"):
        new[name] = {label: found for label, found in document.get(name, {}).items() if found}
    return copy.deepcopy(new)


def _whole(photo: Mapping[str, Any]) -> Document:
    new = _public(photo)
    for name in LINES:
        if len(new.get(name) or ()) < 2:
            new.pop(name, None)
    new["placements"] = [_public(p) for p in new.get("placements", ()) if len(_public(p)) > 1]
    return new


def _public(found: Mapping[str, Any]) -> Document:
    return {n: value for n, value in found.items() if n in MEASURED or not n.startswith("x_")}


def missing_marks(document: Mapping[str, Any]) -> list[str]:
    """Return what isn't marked in any photo yet, in the order in which it is marked."""
    photos = [_whole(photo) for photo in document["photos"]]
    lacking = [
        words
        for name, words in (("outer_rim", "outer rim"), ("inner_rim", "inner rim"))
        if not any(name in photo for photo in photos)
    ]
    for name, words in (("entry", "entry"), ("exit", "exit"), ("below", "structure below")):
        if not any(name in p for photo in photos for p in photo["placements"]):
            lacking.append(words)
    return lacking
