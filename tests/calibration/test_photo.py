"""Photos are read once upright, bounded, and kept without what tells on people."""

import io
import struct
import zlib

import numpy as np
import pytest
from PIL import Image, ImageOps

from calibration.card import POCKET
from calibration.draw_card import card_png
from calibration.find import CardSeen, find_card
from calibration.photo import PhotoError, read_photo, strip_photo
from tests.calibration.invented_exif import invented_exif

PLANTED = (b"SERIAL-12345", b"comment-of-somebody", b"THUMBNAIL-MARK", b"description-of-somebody")


def jpeg(orientation: int = 1, *, planted: bool = False) -> bytes:
    rng = np.random.default_rng(3)
    picture = Image.fromarray(rng.integers(0, 255, (40, 60, 3), dtype=np.uint8))
    out = io.BytesIO()
    comment = b"comment-of-somebody" if planted else b""
    picture.save(
        out, "JPEG", quality=90, exif=invented_exif(orientation, planted=planted), comment=comment
    )
    return out.getvalue() + (b"\xff\xd8THUMBNAIL-MARK\xff\xd9" if planted else b"")


def png(picture: Image.Image, **options: object) -> bytes:
    out = io.BytesIO()
    picture.save(out, "PNG", **options)
    return out.getvalue()


def test_facts_come_from_exif() -> None:
    facts = read_photo(jpeg()).facts
    assert (facts.width, facts.height) == (60, 40)
    assert (facts.make, facts.model) == ("Invented Optics", "Sample 12")
    assert (facts.focal_mm, facts.focal_35mm) == (6.5, 26.0)


@pytest.mark.published(source="CIPA DC-008 (Exif), tag Orientation", where="values 1, 3, 6, 8")
@pytest.mark.parametrize(("orientation", "turns"), [(1, 0), (3, 2), (6, 3), (8, 1)])
def test_the_orientation_is_applied_once(orientation: int, turns: int) -> None:
    plain = read_photo(jpeg(1)).pixels
    turned = read_photo(jpeg(orientation))
    np.testing.assert_array_equal(turned.pixels, np.rot90(plain, turns))
    assert turned.size == (turned.pixels.shape[1], turned.pixels.shape[0])


@pytest.mark.parametrize("orientation", range(1, 9))
def test_every_orientation_turns_as_another_reader_turns_it(orientation: int) -> None:
    data = jpeg(orientation)
    with Image.open(io.BytesIO(data)) as opened:
        theirs = np.asarray(ImageOps.exif_transpose(opened))
    np.testing.assert_array_equal(read_photo(data).pixels, theirs)
    np.testing.assert_array_equal(read_photo(strip_photo(data)).pixels, theirs)


def test_an_orientation_that_viewers_do_not_read_turns_nothing() -> None:
    """Browsers turn a photo by EXIF, not by XMP; marks are made on what they show."""
    words = b'http://ns.adobe.com/xap/1.0/\x00<x:xmpmeta tiff:Orientation="6"/>'
    data = jpeg()
    data = data[:2] + b"\xff\xe1" + struct.pack(">H", len(words) + 2) + words + data[2:]
    assert read_photo(data).size == read_photo(strip_photo(data)).size == (60, 40)


def test_what_is_kept_tells_nothing_of_people_and_keeps_every_pixel() -> None:
    data = jpeg(6, planted=True)
    assert all(mark in data for mark in PLANTED)
    kept = strip_photo(data)
    assert not any(mark in kept for mark in PLANTED)
    with Image.open(io.BytesIO(kept)) as opened:
        assert not opened.getexif().get_ifd(0x8825)
    before, after = read_photo(data), read_photo(kept)
    np.testing.assert_array_equal(before.pixels, after.pixels)
    assert before.facts == after.facts
    assert strip_photo(kept) == kept


def test_a_png_is_kept_without_its_words() -> None:
    from PIL.PngImagePlugin import PngInfo

    words = PngInfo()
    words.add_text("Author", "description-of-somebody")
    data = png(Image.new("RGB", (9, 7), (1, 2, 3)), pnginfo=words)
    kept = strip_photo(data)
    assert b"description-of-somebody" in data
    assert b"description-of-somebody" not in kept
    np.testing.assert_array_equal(read_photo(data).pixels, read_photo(kept).pixels)


@pytest.mark.parametrize("mode", ["L", "LA", "RGBA", "P", "CMYK", "I;16"])
def test_every_kind_of_picture_becomes_rgb(mode: str) -> None:
    if mode == "I;16":
        picture = Image.fromarray(np.full((6, 8), 128 * 257, dtype=np.uint16))
    else:
        plain = Image.new("RGB", (8, 6), (128, 128, 128))
        picture = plain.quantize(4) if mode == "P" else plain.convert(mode)
    out = io.BytesIO()
    picture.save(out, "JPEG" if mode == "CMYK" else "PNG")
    pixels = read_photo(out.getvalue()).pixels
    assert pixels.shape == (6, 8, 3)
    assert abs(int(pixels[3, 4, 1]) - 128) <= 3


def huge_png() -> bytes:
    """Return a PNG whose header claims 60,000 x 60,000 pixels."""
    header = struct.pack(">IIBBBBB", 60_000, 60_000, 8, 2, 0, 0, 0)
    chunk = b"IHDR" + header
    return (
        b"\x89PNG\r\n\x1a\n"
        + struct.pack(">I", 13)
        + chunk
        + struct.pack(">I", zlib.crc32(chunk))
        + b"\x00\x00\x00\x00IEND\xaeB`\x82"
    )


@pytest.mark.parametrize(
    ("data", "says"),
    [
        (b"", "empty"),
        (b"this is no picture", "no JPEG, PNG or HEIC"),
        (jpeg()[:900], "cut short"),
        (png(Image.new("RGB", (50, 50)))[:-20], "cut short"),
        (png(Image.effect_noise((90, 90), 60))[:2000], "cut short"),
        (huge_png(), "60000 x 60000"),
        (b"GIF89a" + bytes(40), "no JPEG, PNG or HEIC"),
        (b"\x00\x00\x00\x18ftypavif" + bytes(40), "AVIF"),
        (jpeg()[:3], "cut short"),
    ],
    ids=["empty", "text", "jpeg", "png end", "png", "bomb", "gif", "avif", "three bytes"],
)
def test_what_is_no_photo_is_refused_in_one_line(data: bytes, says: str) -> None:
    for verb in (read_photo, strip_photo):
        with pytest.raises(PhotoError, match=says) as caught:
            verb(data)
        assert "\n" not in str(caught.value)
        assert caught.value.do


def test_a_large_photo_within_the_limit_is_read_without_a_warning() -> None:
    """Pillow warns from 89 million pixels on; the limit here is 120."""
    assert read_photo(png(Image.new("1", (9_500, 9_500)))).size == (9_500, 9_500)


def test_a_photo_of_48_million_pixels_is_read_and_its_card_found() -> None:
    """A card of known print, small in a grey picture of the size that phones now save."""
    dpi, left, top = 300, 3500, 2500
    with Image.open(io.BytesIO(card_png(POCKET, dpi))) as card:
        picture = Image.new("L", (8064, 6048), 200)
        picture.paste(card.convert("L"), (left, top), card.convert("RGBA").getchannel("A"))
    out = io.BytesIO()
    picture.save(out, "JPEG", quality=92)
    photo = read_photo(out.getvalue())
    assert photo.size == (8064, 6048)
    seen = find_card(photo.pixels)
    assert isinstance(seen, CardSeen)
    assert seen.corner_ids.tolist() == list(POCKET.corner_ids)
    there = POCKET.corners_mm(POCKET.corner_ids) * dpi / 25.4 - 0.5 + [left, top]
    assert np.abs(seen.corners_px - there).max() < 0.2  # px: a dot of the print is 1


def test_a_bomb_of_text_is_left_packed() -> None:
    plain = png(Image.new("L", (5, 4)))
    words = b"zTXtk\x00\x00" + zlib.compress(bytes(80_000_000))
    chunk = struct.pack(">I", len(words) - 4) + words + struct.pack(">I", zlib.crc32(words))
    assert read_photo(plain[:33] + chunk + plain[33:]).size == (5, 4)


def test_damage_anywhere_is_refused_or_read_but_nothing_else() -> None:
    """Bytes changed at random: a photo, or a refusal; no other error and no warning."""
    rng = np.random.default_rng(11)
    refused = 0
    for data in (jpeg(6, planted=True), png(Image.effect_noise((40, 30), 60))):
        for _ in range(150):
            damaged = bytearray(data)
            for at in rng.integers(0, len(data) // 2, 3):
                damaged[at] = rng.integers(256)
            try:
                assert read_photo(bytes(damaged), limit_px=1_000_000).pixels.ndim == 3
            except PhotoError:
                refused += 1
    assert refused > 50


def test_a_limit_is_kept_before_anything_is_decoded() -> None:
    with pytest.raises(PhotoError, match="2400 x 2"):
        read_photo(png(Image.new("L", (2400, 2))), limit_px=4000)
