"""The printed cards are where they say, in every file they are written to."""

import io
from functools import cache
from pathlib import Path

import cv2
import numpy as np
import pypdfium2
import pytest
import typst
from PIL import Image

from calibration.card import CARDS, FRAME, POCKET, Card
from calibration.draw_card import SHEETS_MM, TOP_MM, card_pdf, card_png, card_svg
from calibration.find import CardSeen, find_card

CORNER_MM = 0.03
BAR_MM = 0.05
MARGIN_MM = 12.0


@pytest.fixture(params=CARDS.values(), ids=CARDS)
def card(request: pytest.FixtureRequest) -> Card:
    return request.param


@cache
def body(card: Card, dpi: int) -> np.ndarray:
    """Return the PNG over white, grey."""
    picture = Image.open(io.BytesIO(card_png(card, dpi)))
    ground = Image.new("RGBA", picture.size, "white")
    return np.asarray(Image.alpha_composite(ground, picture).convert("L"))


def origin(card: Card, sheet: str) -> np.ndarray:
    """Return where the card's origin lies on its sheet, mm."""
    return np.array([(SHEETS_MM[sheet][0] - card.body_mm[0]) / 2, TOP_MM])


@cache
def raster(card: Card, sheet: str, dpi: int) -> np.ndarray:
    """Return the PDF's page, grey."""
    document = pypdfium2.PdfDocument(card_pdf(card, sheet))
    page = document[0]
    width, height = SHEETS_MM[sheet]
    assert page.get_size() == pytest.approx((width / 25.4 * 72, height / 25.4 * 72), abs=0.01)
    grey = np.asarray(page.render(scale=dpi / 72).to_pil().convert("L"))
    document.close()
    return grey


def raster_svg(card: Card, sheet: str, dpi: int, into: Path) -> np.ndarray:
    """Return the SVG as another program draws it at the size that it states, grey."""
    width, height = SHEETS_MM[sheet]
    (into / "card.svg").write_bytes(card_svg(card, sheet))
    page = f'#set page(width: {width}mm, height: {height}mm, margin: 0mm)\n#image("card.svg")'
    (into / "page.typ").write_text(page, encoding="utf-8")
    drawn = typst.compile(str(into / "page.typ"), format="png", ppi=dpi)
    return np.asarray(Image.open(io.BytesIO(drawn)).convert("L"))


def pixel_mm(grey: np.ndarray, sheet: str) -> np.ndarray:
    """Return a pixel's width and height: the page fills whole pixels, so not quite the dpi's."""
    return np.asarray(SHEETS_MM[sheet]) / grey.shape[1::-1]


def gaps_mm(grey: np.ndarray, card: Card, place: np.ndarray, px_mm: np.ndarray) -> np.ndarray:
    """Return found minus printed places of all corners, mm, by OpenCV's own detector."""
    board = cv2.aruco.CharucoBoard(
        (card.columns, card.rows),
        card.square_mm,
        card.marker_mm,
        cv2.aruco.getPredefinedDictionary(getattr(cv2.aruco, card.dictionary)),
        np.asarray(card.marker_ids, dtype=np.int32),
    )
    found, ids, _, markers = cv2.aruco.CharucoDetector(board).detectBoard(grey)
    printed = [
        card.marker_ids[(row * card.columns + column) // 2]
        for row in range(card.rows)
        for column in range(card.columns)
        if (row + column) % 2 and card.is_printed(column, row)
    ]
    assert sorted(np.ravel(markers).tolist()) == printed
    # OpenCV also makes up corners at the window's edge, where two of the squares are cut away.
    own = np.isin(np.ravel(ids), card.corner_ids)
    assert tuple(np.ravel(ids)[own].tolist()) == card.corner_ids
    half = round(0.8 / px_mm[0])  # markers stand 1 mm from the edges of their squares
    stop = (cv2.TERM_CRITERIA_EPS + cv2.TERM_CRITERIA_MAX_ITER, 60, 0.001)
    start = np.asarray(found, dtype=np.float32).reshape(-1, 1, 2)[own]
    corners = cv2.cornerSubPix(grey, start, (half, half), (-1, -1), stop).reshape(-1, 2)
    # OpenCV counts from pixel centres, the card from their corners.
    return (corners + 0.5) * px_mm - place - card.corners_mm(card.corner_ids)


@pytest.mark.parametrize("dpi", [300, 600])
def test_corners_of_the_png_are_in_place(card: Card, dpi: int) -> None:
    assert (
        np.abs(gaps_mm(body(card, dpi), card, np.zeros(2), np.full(2, 25.4 / dpi))).max()
        < CORNER_MM
    )


@pytest.mark.parametrize("sheet", ["a4", "letter"])
def test_corners_of_the_pdf_are_in_place(card: Card, sheet: str) -> None:
    grey = raster(card, sheet, 600)
    gaps = gaps_mm(grey, card, origin(card, sheet), pixel_mm(grey, sheet))
    assert np.abs(gaps).max() < CORNER_MM


def test_corners_of_the_svg_are_in_place(card: Card, tmp_path: Path) -> None:
    grey = raster_svg(card, "a4", 600, tmp_path)
    gaps = gaps_mm(grey, card, origin(card, "a4"), pixel_mm(grey, "a4"))
    assert np.abs(gaps).max() < CORNER_MM


def test_the_finder_sees_every_printed_corner_of_the_file(card: Card) -> None:
    seen = find_card(body(card, 300))
    assert isinstance(seen, CardSeen)
    assert seen.card is card
    assert tuple(seen.corner_ids.tolist()) == card.corner_ids
    gaps = (seen.corners_px + 0.5) * 25.4 / 300 - card.corners_mm(card.corner_ids)
    assert np.abs(gaps).max() < CORNER_MM


def test_all_three_files_show_the_same(card: Card, tmp_path: Path) -> None:
    """Wherever the PNG is plainly black or white, words too, the others are as well."""
    dpi, reach = 600, 2
    png = body(card, dpi)
    box = np.ones((2 * reach + 1, 2 * reach + 1), np.uint8)
    black, white = cv2.dilate(png, box) < 10, cv2.erode(png, box) > 245
    edge = round(0.3 / 25.4 * dpi)  # the cut line is on the sheets alone
    inside = np.asarray(Image.open(io.BytesIO(card_png(card, dpi))))[..., 3]
    inside = cv2.erode(inside, np.ones((2 * edge + 1, 2 * edge + 1), np.uint8)) == 255
    inside[:edge] = inside[-edge:] = inside[:, :edge] = inside[:, -edge:] = False
    rows, columns = np.nonzero((black | white) & inside)
    at_mm = (np.column_stack([columns, rows]) + 0.5) * 25.4 / dpi + origin(card, "a4")
    for grey in (raster(card, "a4", dpi), raster_svg(card, "a4", dpi, tmp_path)):
        x, y = np.floor(at_mm / pixel_mm(grey, "a4")).astype(int).T
        np.testing.assert_array_equal(grey[y, x] < 128, black[rows, columns])


def test_white_cells_of_a_marker_have_no_seam_between_them() -> None:
    """A pixel wholly inside two neighbouring white cells is white at any resolution."""
    cell = POCKET.marker_mm / 7
    for dpi in (110, 300, 517):
        grey = body(POCKET, dpi)
        scale = dpi / 25.4
        bits = cv2.aruco.generateImageMarker(
            cv2.aruco.getPredefinedDictionary(cv2.aruco.DICT_5X5_250), POCKET.marker_ids[0], 7
        )
        left, top = np.asarray(POCKET.board_origin_mm) + np.array([POCKET.square_mm + 1, 1])
        seams = 0
        for i, j in np.argwhere((bits[:, :-1] > 0) & (bits[:, 1:] > 0)):
            row = int((top + (i + 0.5) * cell) * scale)
            column = int((left + (j + 1) * cell) * scale)
            assert (grey[row, column - 1 : column + 2] == 255).all()
            seams += 1
        assert seams > 0


def test_nothing_but_the_pattern_is_within_a_millimetre_of_it(card: Card) -> None:
    grey, scale = body(card, 600), 600 / 25.4
    dark = (grey < 128).astype(np.uint8)
    squares = np.zeros_like(dark)
    x0, y0 = card.board_origin_mm
    for row in range(card.rows):
        for column in range(card.columns):
            if card.is_printed(column, row):
                left, top = x0 + column * card.square_mm, y0 + row * card.square_mm
                ends = (left, left + card.square_mm, top, top + card.square_mm)
                a, b, c, d = (round(v * scale) for v in ends)
                squares[c - 1 : d + 1, a - 1 : b + 1] = 1
    reach = 2 * int(0.95 * scale) + 1
    near = cv2.dilate(squares, np.ones((reach, reach), np.uint8)) - squares
    assert dark[squares == 1].mean() > 0.3
    assert not dark[near == 1].any()


@pytest.mark.parametrize("sheet", ["a4", "letter"])
def test_the_sheet_keeps_its_margins(card: Card, sheet: str) -> None:
    grey, edge = raster(card, sheet, 100), round(MARGIN_MM / 25.4 * 100)
    inner = np.zeros(grey.shape, dtype=bool)
    inner[edge:-edge, edge:-edge] = True
    assert (grey[~inner] == 255).all()
    assert (grey[inner] < 128).any()


def test_the_sheet_says_how_to_print_check_and_hold(card: Card) -> None:
    document = pypdfium2.PdfDocument(card_pdf(card, "letter"))
    page = document[0].get_textpage()
    said = page.get_text_bounded()
    across, down = card.check_bar_mm
    bars = f"{across:g} mm across, {down:g} mm down"
    for words in (card.id, "100 %", "never touch skin", bars, "250 to 300 mm", "UP"):
        assert words in said
    assert ("HOLD BY HERE" in said) == (card.tab_mm is not None)
    page.close()
    document.close()


def dark_length(profile: np.ndarray, dpi: int) -> float:
    """Return the way from the first to the last dark place of a line of grey, mm."""
    dark = (255.0 - profile) / 255.0
    inked = np.flatnonzero(dark > 0.5)
    first, last = inked[0], inked[-1]
    # Each end's pixel is covered in part.
    start = first - (dark[first - 1] if first > 0 else 0.0) + (1 - dark[first])
    end = last + 1 + dark[last + 1] - (1 - dark[last])
    return float(end - start) * 25.4 / dpi


@pytest.mark.parametrize("kind", ["png", "pdf"])
def test_check_bars_have_their_nominal_length(card: Card, kind: str) -> None:
    dpi = 600
    if kind == "png":
        grey, place = body(card, dpi), np.zeros(2)
    else:
        grey, place = raster(card, "a4", dpi), origin(card, "a4")
    across, down = card.check_bars_mm

    def px(value: float, axis: int) -> float:
        return (value + place[axis]) * dpi / 25.4

    edge = 0.1  # just inside the bar's box, where its end strokes are
    row = grey[int(px(across[1] + edge, 1)), int(px(across[0], 0)) - 9 : int(px(across[2], 0)) + 9]
    column = grey[int(px(down[1], 1)) - 9 : int(px(down[3], 1)) + 9, int(px(down[0] + edge, 0))]
    assert dark_length(row.astype(float), dpi) == pytest.approx(card.check_bar_mm[0], abs=BAR_MM)
    assert dark_length(column.astype(float), dpi) == pytest.approx(card.check_bar_mm[1], abs=BAR_MM)


def test_the_png_is_the_body_alone_and_clear_where_it_is_cut() -> None:
    picture = Image.open(io.BytesIO(card_png(FRAME, 300)))
    alpha = np.asarray(picture)[..., 3]
    assert picture.size == (int(np.ceil(138 * 300 / 25.4)), int(np.ceil(111 * 300 / 25.4)))
    assert picture.info["dpi"] == pytest.approx((300, 300), abs=0.01)
    for x, y, clear in ((69, 80, True), (69, 110, True), (20, 80, False), (69, 20, False)):
        assert (alpha[int(y * 300 / 25.4), int(x * 300 / 25.4)] == 0) == clear


@pytest.mark.parametrize("dpi", [50, 127, 300, 600])
def test_the_pngs_resolution_is_in_it(dpi: int) -> None:
    picture = Image.open(io.BytesIO(card_png(POCKET, dpi)))
    assert picture.info["dpi"] == pytest.approx((dpi, dpi), abs=0.02)
    assert picture.size == tuple(int(np.ceil(v * dpi / 25.4)) for v in POCKET.body_mm)


def test_the_same_card_gives_the_same_bytes(card: Card) -> None:
    assert card_png(card, 300) == card_png(card, 300)
    assert card_pdf(card, "a4") == card_pdf(card, "a4")


@pytest.mark.parametrize("dpi", [0, 49, 2401])
def test_a_senseless_resolution_is_refused(dpi: int) -> None:
    with pytest.raises(ValueError, match="dpi"):
        card_png(POCKET, dpi)


@pytest.mark.published(source="ISO 216, and 8.5 x 11 in by definition", where="A4, US Letter")
def test_the_frame_card_fits_both_sheets_at_true_size() -> None:
    assert SHEETS_MM == {"a4": (210.0, 297.0), "letter": (215.9, 279.4)}
    for width, height in SHEETS_MM.values():
        assert FRAME.body_mm[0] + 10 < width
        assert TOP_MM + FRAME.body_mm[1] + 10 < height
        assert FRAME.tab_mm is not None
        assert TOP_MM + FRAME.tab_mm[1] > 5
