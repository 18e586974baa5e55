"""The live line is the answer's own channel, without the search for the card and the band."""

from __future__ import annotations

from typing import Any

import pytest

from assess.marks import CameraMarks
from assess.measure import measure
from assess.read_marks import parse_marks
from assess.reading import read_view
from calibration.photo import Photo, read_photo
from rimspan.screens.work import LIVE_DRAWS, without_lines


@pytest.fixture(scope="module")
def photo(flat_photo: bytes) -> Photo:
    return read_photo(flat_photo)


def test_a_photo_that_was_read_before_measures_the_same(
    photo: Photo, flat_document: dict[str, Any]
) -> None:
    marks, photos = parse_marks(flat_document), {"flat.jpg": photo}
    before = read_view(photo, file="flat.jpg", card=marks.card, side="left")
    assert before.fit is not None
    whole = measure(marks, photos, draws=LIVE_DRAWS)
    known = measure(marks, photos, draws=LIVE_DRAWS, known={"flat.jpg": before})
    assert known.result == whole.result
    assert known.readings["flat.jpg"].fit is before.fit


def test_the_pose_is_found_anew_for_another_print_or_camera(
    photo: Photo, flat_document: dict[str, Any]
) -> None:
    marks = parse_marks(flat_document)
    assert marks.card is not None
    before = read_view(photo, file="flat.jpg", card=marks.card)
    other = marks.card.model_copy(update={"check_bar_mm": (101.0, 101.0)})
    assert read_view(photo, file="flat.jpg", card=other, known=before).fit is not before.fit
    given = CameraMarks(fx=3000.0, fy=3000.0, cx=999.5, cy=749.5, dist=(0.0,) * 5)
    told = read_view(photo, file="flat.jpg", card=marks.card, camera=given, known=before)
    alone = read_view(photo, file="flat.jpg", card=marks.card, camera=given).fit
    assert told.fit is not None
    assert alone is not None
    assert told.fit is not before.fit
    assert told.fit.camera == alone.camera


def test_the_card_is_not_looked_for_again(photo: Photo, flat_document: dict[str, Any]) -> None:
    before = read_view(photo, file="flat.jpg")
    bare = Photo(photo.pixels * 0, photo.facts)
    known = measure(
        parse_marks(flat_document), {"flat.jpg": bare}, draws=500, known={"flat.jpg": before}
    )
    assert known.readings["flat.jpg"].refusal is None


def test_without_its_lines_a_photo_has_the_same_channel(
    photo: Photo, flat_document: dict[str, Any]
) -> None:
    marks, photos = parse_marks(flat_document), {"flat.jpg": photo}
    whole = measure(marks, photos, draws=LIVE_DRAWS).result
    quick = measure(without_lines(marks), photos, draws=LIVE_DRAWS).result
    assert whole.band is not None
    assert quick.band is None
    assert quick.placements[0].channel == whole.placements[0].channel
