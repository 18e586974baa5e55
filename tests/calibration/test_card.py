"""The cards as data agree with OpenCV's own idea of the board, and keep their margins."""

import cv2
import numpy as np
import pytest

from calibration.card import CARDS, FRAME, POCKET, Card, UnknownCardError, card_by_id
from calibration.drawing import Box, Polygon, on_body, pattern

CLEAR_MM = 1.0


@pytest.fixture(params=CARDS.values(), ids=CARDS)
def card(request: pytest.FixtureRequest) -> Card:
    return request.param


def board(card: Card) -> cv2.aruco.CharucoBoard:
    return cv2.aruco.CharucoBoard(
        (card.columns, card.rows),
        card.square_mm,
        card.marker_mm,
        cv2.aruco.getPredefinedDictionary(getattr(cv2.aruco, card.dictionary)),
        np.asarray(card.marker_ids, dtype=np.int32),
    )


def test_corners_are_where_opencv_has_them(card: Card) -> None:
    theirs = np.asarray(board(card).getChessboardCorners(), dtype=np.float64)
    ids = range((card.columns - 1) * (card.rows - 1))
    ours = card.corners_mm(ids) - np.asarray(card.board_origin_mm)
    np.testing.assert_allclose(ours, theirs[:, :2], atol=1e-5)


def test_markers_are_where_opencv_has_them(card: Card) -> None:
    """Black boxes as large as a marker, in the board's order of ids, where those are printed."""
    boxes = [box.rect for box in pattern(card) if box.black]
    ours = {rect[:2] for rect in boxes if rect[2] - rect[0] == pytest.approx(card.marker_mm)}
    theirs = {}
    for marker, corners in zip(board(card).getIds(), board(card).getObjPoints(), strict=True):
        places = np.asarray(corners)[:, :2] + np.asarray(card.board_origin_mm)
        theirs[int(np.ravel(marker)[0])] = places.min(axis=0)
    assert tuple(theirs) == card.marker_ids
    printed = [
        place
        for place in theirs.values()
        if card.is_printed(
            *((place - np.asarray(card.board_origin_mm)) // card.square_mm).astype(int).tolist()
        )
    ]
    assert len(printed) == len(ours)
    for place in printed:
        assert min(np.hypot(*(place - np.asarray(own))) for own in ours) < 1e-4


def test_each_card_has_its_own_markers() -> None:
    assert FRAME.marker_ids == tuple(range(77))
    assert POCKET.marker_ids == tuple(range(100, 122))


def test_the_printed_corners_have_their_four_squares() -> None:
    assert (len(FRAME.corner_ids), len(POCKET.corner_ids)) == (58, 32)
    x0, y0, x1, y1 = FRAME.window_mm or (0, 0, 0, 0)
    for x, y in FRAME.corners_mm(FRAME.corner_ids):
        inside = x0 - FRAME.square_mm < x < x1 + FRAME.square_mm and y > y0 - FRAME.square_mm
        assert not (inside and y < y1)


def test_what_stands_beside_the_pattern_keeps_clear_of_it_and_of_the_edge(card: Card) -> None:
    squares = np.array([box.rect for box in pattern(card) if box.black])
    beside = [s for s in on_body(card) if isinstance(s, Box | Polygon)][len(list(pattern(card))) :]
    assert len(beside) >= 8
    for shape in beside:
        points = np.array(
            [shape.rect[:2], shape.rect[2:]] if isinstance(shape, Box) else shape.points_mm
        )
        (left, top), (right, bottom) = points.min(axis=0), points.max(axis=0)
        away = np.maximum.reduce(
            [
                squares[:, 0] - right,
                left - squares[:, 2],
                squares[:, 1] - bottom,
                top - squares[:, 3],
            ]
        )
        assert away.min() > CLEAR_MM
        assert min(left, top) > 0.3
        assert (right, bottom) < card.body_mm


def test_the_check_bars_have_the_nominal_lengths() -> None:
    assert FRAME.check_bar_mm == (100.0, 100.0)
    assert POCKET.check_bar_mm == (50.0, 40.0)


@pytest.mark.published(
    source="ISO/IEC 7810, as given by an encyclopedia", where="ID-1: 85.60 x 53.98 mm"
)
def test_the_pocket_card_is_as_large_as_a_bank_card() -> None:
    assert POCKET.body_mm == (85.60, 53.98)


def test_an_unknown_card_is_told_with_the_nearest_known() -> None:
    assert card_by_id("rimspan-pocket-1") is POCKET
    with pytest.raises(UnknownCardError, match="'rimspan-frame-1'"):
        card_by_id("rimspan-frame-2")


@pytest.mark.parametrize("ids", [[-1], [32], [0, 99]])
def test_a_corner_that_the_board_lacks_is_refused(ids: list[int]) -> None:
    with pytest.raises(ValueError, match="from 0 to 31"):
        POCKET.corners_mm(ids)
    assert POCKET.corners_mm([]).shape == (0, 2)
