"""The live line is the answer's own channel, without the search for the card and the band."""

from __future__ import annotations

from typing import Any

import pytest

from assess.measure import measure
from assess.read_marks import parse_marks
from assess.reading import read_view
from calibration.photo import Photo, read_photo
from rimspan.screens.work import LIVE_DRAWS, without_lines


@pytest.fixture(scope="module")
def photo(flat_photo: bytes) -> Photo:
    return read_photo(flat_photo)


def test_a_card_that_was_found_before_measures_the_same(
    photo: Photo, flat_document: dict[str, Any]
) -> None:
    marks, photos = parse_marks(flat_document), {"flat.jpg": photo}
    seen = read_view(photo, file="flat.jpg").seen
    assert seen is not None
    whole = measure(marks, photos, draws=LIVE_DRAWS)
    known = measure(marks, photos, draws=LIVE_DRAWS, seen={"flat.jpg": seen})
    assert known.result == whole.result


def test_the_card_is_not_looked_for_again(photo: Photo, flat_document: dict[str, Any]) -> None:
    seen = read_view(photo, file="flat.jpg").seen
    assert seen is not None
    bare = Photo(photo.pixels * 0, photo.facts)
    known = measure(
        parse_marks(flat_document), {"flat.jpg": bare}, draws=500, seen={"flat.jpg": seen}
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
