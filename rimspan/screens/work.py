"""What the pages ask for, each computed once: readings, the answer, the picture."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import replace
from functools import partial
from typing import Any

import numpy as np

from assess.criteria import Criteria
from assess.errors import AssessError
from assess.marks import CardMarks, Marks
from assess.measure import measure
from assess.passes import PASSES, piercers
from assess.read_marks import parse_marks
from assess.reading import PhotoReading, read_view
from assess.repeatability import MarkUncertainty
from assess.result import Result
from calibration.photo import Photo, PhotoError
from rimspan.assessment import Assessment, assess_marks, decoded, with_plan
from rimspan.client_papers import Chosen, client_sheet_of
from rimspan.clientfile import Revision
from rimspan.marked_again import keep_passes, measured_photo, own_uncertainty
from rimspan.marking_help import scale_of
from rimspan.plot import plot_png
from rimspan.reopening import Reopened, reopen, report_of
from rimspan.screens import chair, computed, lens_use, plan_work, state
from rimspan.screens.again_words import repeated_words
from rimspan.screens.document import Document, entry, files, hashes, measurable, with_hand
from rimspan.screens.help_route import HELP
from rimspan.screens.photo_routes import PARTS
from rimspan.screens.plan_draft import without_plan
from rimspan.screens.store import client_file
from rimspan.screens.talk_draft import record
from rimspan.studio_limits import criteria_of

LIVE_DRAWS = 4_000
"""Enough for a line that changes with every touch; the answer takes all draws."""


def photo(sha256: str) -> Photo | PhotoError:
    """Return a kept photo, decoded; only the last one stays in the visit's memory."""
    file = client_file()
    return state.remembered("photo", sha256, lambda: decoded(file.photo_bytes(sha256)), most=1)


def reading(document: Mapping[str, Any], file: str) -> PhotoReading:
    """Return what a photo says before anything is marked in it."""
    sha256, card, side = hashes(document)[file], document.get("card"), document["side"]

    def read() -> PhotoReading:
        found = photo(sha256)
        if isinstance(found, Photo):
            PARTS.hold(sha256, found)  # decoded just now, and soon to be marked
            _blank(sha256)
        return read_view(found, file=file, card=_expected(card), camera=camera, side=side)

    camera = lens_use.camera_of(sha256, lambda: photo(sha256))
    key = [file, sha256, card, side, *([camera.model_dump(mode="json")] if camera else [])]
    return computed.once("reading", key, read)


def _blank(sha256: str) -> Photo | PhotoError:
    """Return a kept photo without its picture: its size and facts, which is all it weighs."""

    def blank() -> Photo | PhotoError:
        found = photo(sha256)
        if isinstance(found, PhotoError):
            return found
        none = np.broadcast_to(np.zeros(1, dtype=np.uint8), found.pixels.shape)
        return Photo(none, found.facts)

    return computed.once("blank", sha256, blank)


def _expected(card: Mapping[str, Any] | None) -> CardMarks | None:
    if not card:
        return None
    # JSON has lists where the models want tuples.
    held = {name: tuple(v) if isinstance(v, list) else v for name, v in card.items()}
    return CardMarks.model_validate(held)


def readings(document: Mapping[str, Any]) -> list[PhotoReading]:
    """Return what every photo of the draft says."""
    return [reading(document, file) for file in files(document)]


def offer_help(document: Mapping[str, Any], file: str) -> str:
    """Open a photo to this chair, its parts and help with it, and return its hash."""
    sha256, kept = hashes(document)[file], client_file()
    chair.SIGN_INS.show(chair.written(), sha256)
    offset_mm = _offset_mm(document)
    HELP.offer(
        sha256,
        scale_of(reading(document, file), offset_mm),
        lambda: decoded(kept.photo_bytes(sha256)),
        ready=photo(sha256),
    )
    return sha256


def to_measure(document: Mapping[str, Any], only: Iterable[str] | None = None) -> Document:
    """Return the draft as it is measured, and saved: ``rimspan-marks/1``.

    Repeated marks are there as their mean, with the ``sigma_px`` of such a mean; what is known
    of a piercer's hand counts for marks made once, too.

    Parameters
    ----------
    only : the photos to keep; all by default
    """
    wanted = files(document) if only is None else list(only)
    photos = [_averaged(document, p) for p in document["photos"] if p["file"] in wanted]
    with_lens = measurable(dict(document) | {"photos": photos})
    own = hashes(document)
    for each in with_lens["photos"]:
        camera = lens_use.camera_of(own[each["file"]], partial(photo, own[each["file"]]))
        if camera is not None and "camera" not in each:
            each["camera"] = camera.model_dump(mode="json", exclude_none=True)
    return with_lens


def _averaged(document: Mapping[str, Any], photo: Mapping[str, Any]) -> Document:
    by_whom = with_hand(photo)
    names = piercers(by_whom)
    if not names:
        return by_whom
    seen, known = reading(document, photo["file"]), _hand(names[0])
    offset_mm = _offset_mm(document)
    return measured_photo(client_file(), by_whom, seen, offset_mm=offset_mm, known=known)


def _hand(by: str) -> MarkUncertainty:
    """Return what is known of a piercer's hand; the past is read anew once it has changed.

    While a point is dragged the marks change with every step, the past doesn't.
    """
    file = client_file()
    key = [by, file.repeats.stamp()]
    return state.remembered("hand", key, lambda: own_uncertainty(file, by))


def _offset_mm(document: Mapping[str, Any]) -> float:
    return float(document.get("rim_plane", {}).get("offset_mm", 0.0))


def keep_repeats(
    client: str, before: Mapping[str, Any], after: Mapping[str, Any], sha256: str
) -> None:
    """Keep a photo's passes for the piercer's past, if a change of the draft touched them."""
    names = {digest: file for file, digest in hashes(after).items()}
    if sha256 not in names or sha256 not in hashes(before).values():
        return
    file = names[sha256]
    old, new = entry(before, file), entry(after, file)
    if old.get(PASSES) == new.get(PASSES):
        return
    keep_passes(
        client_file(),
        client,
        new,
        reading(after, file),
        offset_mm=_offset_mm(after),
        before=old,
    )


def repeated(document: Mapping[str, Any], file: str) -> list[str]:
    """Return in words how a photo's marks repeat and what that makes of their uncertainty."""
    photo = with_hand(entry(document, file))
    names = piercers(photo)
    return repeated_words(photo, _hand(names[0])) if names else []


def live(document: Mapping[str, Any], file: str) -> Result | AssessError:
    """Return what the placements in one photo say, from fewer draws than the answer takes.

    With dots marked in others, too, all of them count together.  It follows a finger: card and
    pose are not looked for again, and the band, which takes longest, is left to the answer.
    """
    marked = [p["file"] for p in document["photos"] if p.get("placements") or p.get("ties")]
    together = [file, *(name for name in marked if name != file)]
    marks, photos = to_measure(document, together), hashes(document)
    limits = criteria_of(client_file())

    def measured() -> Result | AssessError:
        try:
            return measure(
                without_lines(parse_marks(marks)),
                {name: _blank(photos[name]) for name in together},
                criteria=limits,
                draws=LIVE_DRAWS,
                known={name: reading(document, name) for name in together},
            ).result
        except AssessError as error:
            return error

    key = [marks, [photos[name] for name in together], limits.to_dict()]
    return state.remembered("live", key, measured, most=3)


def without_lines(marks: Marks) -> Marks:
    """Return the marks with no contour in any photo: no band is measured then."""
    bare = {"outer_rim": None, "inner_rim": None}
    return marks.model_copy(
        update={"photos": tuple(photo.model_copy(update=bare) for photo in marks.photos)}
    )


def answer(document: Mapping[str, Any]) -> Assessment | AssessError:
    """Return the assessment of the draft by the limits in force, or why there is none yet."""
    marks, limits = to_measure(document), criteria_of(client_file())
    bare = without_plan(marks)

    def assessed() -> Assessment | AssessError:
        file = client_file()
        photos = {name: file.photo_bytes(sha) for name, sha in hashes(document).items()}
        try:
            return assess_marks(bare, photos, criteria=limits)
        except AssessError as error:
            return error.with_traceback(None)  # its frames hold the photos

    key = [bare, hashes(document), limits.to_dict()]
    found = computed.once("answer", key, assessed, most=40)
    if not isinstance(found, Assessment):
        return found
    planned = with_plan(found, marks, plan_work.measured(marks, seen(document)))
    return replace(planned, talk=record(document))


def seen(document: Mapping[str, Any]) -> plan_work.Seen:
    """Return how the plan comes by the draft's photos."""
    own = hashes(document)
    return plan_work.Seen(own, partial(reading, document), lambda name: _blank(own[name]))


def result_of(assessment: Assessment) -> Result:
    """Return an assessment's result with its parts by name."""
    return Result.model_validate(assessment.result)


def picture(document: Mapping[str, Any]) -> bytes:
    """Return the photo that was measured with everything drawn on it, as a PNG."""
    marks, limits = to_measure(document), criteria_of(client_file())

    def drawn() -> bytes:
        parsed = parse_marks(marks)
        photos = {name: photo(sha) for name, sha in hashes(document).items()}
        found = measure(parsed, photos, criteria=limits)
        return plot_png(found, parsed, photos, with_words=False)

    return state.remembered("picture", [marks, hashes(document), limits.to_dict()], drawn, most=2)


def saved_result(revision: Revision) -> Result:
    """Return a revision's result as it was saved."""
    return Result.model_validate(revision.result)


def saved_picture(revision: Revision) -> bytes | None:
    """Return the saved marks drawn on their photo, or None where no photo was marked."""

    def drawn() -> bytes | None:
        return _picture_of(reopen(client_file(), revision.id))

    return state.remembered("saved picture", revision.id, drawn, most=2)


def _picture_of(opened: Reopened, code: str = "en") -> bytes | None:
    photos = {name: decoded(data) for name, data in opened.photos.items()}
    if not photos:
        return None
    marks = parse_marks(opened.marks)
    confirmed_by = opened.revision.confirmed_by
    criteria = Criteria.from_dict(opened.criteria)
    found = measure(marks, photos, criteria=criteria, confirmed_by=confirmed_by)
    return plot_png(found, marks, photos, with_words=False, code=code)


def client_sheet(revision: Revision, chosen: Chosen) -> bytes:
    """Return the client's sheet of a revision, a PDF."""
    picture = _picture_of(reopen(client_file(), revision.id), chosen.code)
    return client_sheet_of(client_file(), revision, chosen, picture)


def report(revision: Revision, code: str) -> bytes:
    """Return a revision's one-page report in a language, a PDF."""
    opened = reopen(client_file(), revision.id)
    return report_of(
        client_file(), revision.id, picture_png=_picture_of(opened, code) or b"", code=code
    )
