"""The printed cards are where they say, in every file they are written to."""

import io
import xml.etree.ElementTree as ET

import numpy as np
import pypdfium2
import pytest
from PIL import Image

from calibration.card import CARDS, FRAME, POCKET, Card, UnknownCardError, card_by_id
from calibration.draw_card import SHEETS_MM, TOP_MM, card_pdf, card_png, card_svg
from calibration.find import CardSeen, find_card

CORNER_MM = 0.03
BAR_MM = 0.05


@pytest.fixture(params=CARDS.values(), ids=CARDS)
def card(request: pytest.FixtureRequest) -> Card:
    return request.param


def body(card: Card, dpi: int) -> np.ndarray:
    """Return the PNG over white, grey."""
    picture = Image.open(io.BytesIO(card_png(card, dpi)))
    ground = Image.new("RGBA", picture.size, "white")
    return np.asarray(Image.alpha_composite(ground, picture).convert("L"))


def raster(card: Card, sheet: str, dpi: int) -> tuple[np.ndarray, np.ndarray]:
    """Return the PDF's page, grey, and where the card's origin lies on it, mm."""
    document = pypdfium2.PdfDocument(card_pdf(card, sheet))
    page = document[0]
    width, height = SHEETS_MM[sheet]
    assert page.get_size() == pytest.approx((width / 25.4 * 72, height / 25.4 * 72), abs=0.01)
    grey = np.asarray(page.render(scale=dpi / 72).to_pil().convert("L"))
    document.close()
    return grey, np.array([(width - card.body_mm[0]) / 2, TOP_MM])


def corner_gaps(grey: np.ndarray, card: Card, dpi: int, origin: np.ndarray) -> np.ndarray:
    """Return found minus printed places of all corners, mm."""
    seen = find_card(grey)
    assert isinstance(seen, CardSeen)
    assert seen.card is card
    assert tuple(seen.corner_ids.tolist()) == card.corner_ids
    return (seen.corners_px + 0.5) * 25.4 / dpi - origin - card.corners_mm(card.corner_ids)


@pytest.mark.parametrize("dpi", [300, 600])
def test_corners_of_the_png_are_in_place(card: Card, dpi: int) -> None:
    gaps = corner_gaps(body(card, dpi), card, dpi, np.zeros(2))
    assert np.abs(gaps).max() < CORNER_MM


@pytest.mark.parametrize("sheet", ["a4", "letter"])
def test_corners_of_the_pdf_are_in_place(card: Card, sheet: str) -> None:
    grey, origin = raster(card, sheet, 600)
    assert np.abs(corner_gaps(grey, card, 600, origin)).max() < CORNER_MM


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
    grey, origin = (body(card, dpi), np.zeros(2)) if kind == "png" else raster(card, "a4", dpi)
    across, down = card.check_bars_mm

    def px(value: float, axis: int) -> float:
        return (value + origin[axis]) * dpi / 25.4

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


def test_the_same_card_gives_the_same_bytes(card: Card) -> None:
    assert card_png(card, 300) == card_png(card, 300)
    assert card_pdf(card, "a4") == card_pdf(card, "a4")


def test_the_svg_has_the_sheets_size_and_every_square(card: Card) -> None:
    root = ET.fromstring(card_svg(card, "a4"))
    assert (root.get("width"), root.get("height")) == ("210mm", "297mm")
    sizes = [
        (float(r.get("width", 0)), float(r.get("height", 0)))
        for r in root.iter("{http://www.w3.org/2000/svg}rect")
    ]
    black = sum(
        card.is_printed(column, row) and (row + column) % 2 == 0
        for row in range(card.rows)
        for column in range(card.columns)
    )
    assert sizes.count((9.0, 9.0)) == black


@pytest.mark.parametrize("dpi", [0, 49, 2401])
def test_a_senseless_resolution_is_refused(dpi: int) -> None:
    with pytest.raises(ValueError, match="dpi"):
        card_png(POCKET, dpi)


@pytest.mark.published(
    source="ISO/IEC 7810, as given by an encyclopedia", where="ID-1: 85.60 x 53.98 mm"
)
def test_the_pocket_card_is_as_large_as_a_bank_card() -> None:
    assert POCKET.body_mm == (85.60, 53.98)


@pytest.mark.published(source="ISO 216, and 8.5 x 11 in by definition", where="A4, US Letter")
def test_the_frame_card_fits_both_sheets_at_true_size() -> None:
    assert SHEETS_MM == {"a4": (210.0, 297.0), "letter": (215.9, 279.4)}
    for width, height in SHEETS_MM.values():
        assert FRAME.body_mm[0] + 10 < width
        assert TOP_MM + FRAME.body_mm[1] + 10 < height
        assert FRAME.tab_mm is not None
        assert TOP_MM + FRAME.tab_mm[1] > 5


def test_the_cards_have_their_corners_and_markers_apart() -> None:
    assert (len(FRAME.corner_ids), len(POCKET.corner_ids)) == (58, 32)
    assert not set(FRAME.marker_ids) & set(POCKET.marker_ids)
    with pytest.raises(UnknownCardError, match="rimspan-frame-1"):
        card_by_id("rimspan-frame-2")
