"""HEIC photos are read upright once, measured as they are kept, kept without what tells on people.

The pictures are made here, turned as a phone turns them: by the file's own properties and, the
same once more, by EXIF.
"""

import io
import re
import struct

import numpy as np
import pillow_heif
import pytest
from PIL import Image, ImageCms, ImageOps

from calibration.containers import BrokenFileError
from calibration.heif import HeicPhoto, kind, open_heic
from calibration.photo import PhotoError, is_heic, read_photo, strip_photo
from tests.calibration.invented_exif import invented_exif

PLANTED = (b"SERIAL-12345", b"description-of-somebody", b"xmp-of-somebody")


def scene(width: int = 96, height: int = 72) -> Image.Image:
    """Return a smooth picture that no turn or mirror leaves as it is."""
    y, x = np.mgrid[0:height, 0:width] / max(width, height)
    waves = [0.5 + 0.4 * np.sin(7 * x + a) * np.cos(5 * y * y + 3 * x + a) for a in (0, 1, 2)]
    return Image.fromarray(np.round(255 * np.stack(waves, axis=-1)).astype(np.uint8))


def exif_of(orientation: int = 1, *, planted: bool = False) -> bytes:
    return invented_exif(orientation, planted=planted).tobytes()


def heic(picture: Image.Image, **options: object) -> bytes:
    out = io.BytesIO()
    pillow_heif.from_pillow(picture).save(out, **{"quality": -1, "chroma": 444} | options)
    return out.getvalue()


def as_png(picture: Image.Image, orientation: int) -> np.ndarray:
    """Return the pixels that a PNG of the same picture, turned the same way, is read as."""
    out = io.BytesIO()
    exif = Image.Exif()
    exif[0x0112] = orientation
    picture.save(out, "PNG", exif=exif)
    return read_photo(out.getvalue()).pixels


def apart(one: np.ndarray, other: np.ndarray) -> tuple[float, int]:
    """Return the RMS and the largest difference, grey levels."""
    gap = one.astype(np.int64) - other
    return float(np.sqrt(np.mean(gap**2))), int(np.abs(gap).max())


@pytest.mark.parametrize("orientation", range(1, 9))
def test_a_turned_photo_is_turned_once(orientation: int) -> None:
    picture = scene()
    data = heic(picture, exif=exif_of(orientation))
    turns = {o: o != 1 for o in range(1, 9)}
    assert any(tag in data for tag in (b"irot", b"imir")) == turns[orientation]
    assert exif_of(orientation) in data  # EXIF says the same turn again
    expected = as_png(picture, orientation)
    for held in (data, strip_photo(data)):
        read = read_photo(held)
        assert read.size == ((96, 72) if orientation < 5 else (72, 96))
        rms, most = apart(read.pixels, expected)
        assert rms < 1.5
        assert most <= 8


def test_the_turns_differ_more_than_the_tolerance() -> None:
    """What the test above could miss: a picture that looks the same when turned."""
    pictures = [np.asarray(as_png(scene(80, 80), o)) for o in range(1, 9)]
    gaps = [apart(a, b)[0] for i, a in enumerate(pictures) for b in pictures[:i]]
    assert min(gaps) > 10


def test_what_is_kept_is_what_is_measured() -> None:
    data = heic(scene(), exif=exif_of(6), quality=70, chroma=420)
    kept = strip_photo(data)
    before, after = read_photo(data), read_photo(kept)
    np.testing.assert_array_equal(before.pixels, after.pixels)
    assert before.facts == after.facts
    assert strip_photo(kept) == kept


def test_what_is_kept_can_be_shown_by_a_browser() -> None:
    """Browsers other than one show no HEIC; all show a JPEG, turned by EXIF if at all."""
    kept = strip_photo(heic(scene(), exif=exif_of(8)))
    assert not is_heic(kept)
    with Image.open(io.BytesIO(kept)) as opened:
        assert opened.format == "JPEG"
        assert ImageOps.exif_transpose(opened).size == read_photo(kept).size == (72, 96)


def test_facts_come_from_its_exif() -> None:
    facts = read_photo(heic(scene(), exif=exif_of(3))).facts
    assert (facts.make, facts.model) == ("Invented Optics", "Sample 12")
    assert (facts.focal_mm, facts.focal_35mm) == (6.5, 26.0)
    assert read_photo(heic(scene())).facts.model is None


def test_nothing_kept_tells_on_people() -> None:
    data = heic(
        scene(256, 192),
        exif=exif_of(6, planted=True),
        xmp=b"<x:xmpmeta>xmp-of-somebody</x:xmpmeta>",
        thumbnails=[64],
    )
    assert all(mark in data for mark in PLANTED)
    assert len(pillow_heif.open_heif(data).info["thumbnails"]) == 1
    kept = strip_photo(data)
    assert not any(mark in kept for mark in PLANTED)
    assert kept.count(b"\xff\xd8\xff") == 1  # one picture, no thumbnail
    with Image.open(io.BytesIO(kept)) as opened:
        exif = opened.getexif()
        assert not exif.get_ifd(0x8825)
        assert set(exif) == {0x010F, 0x0110, 0x8769}
        assert set(exif.get_ifd(0x8769)) == {0x920A, 0xA405}


def test_the_colour_profile_is_kept() -> None:
    profile = ImageCms.ImageCmsProfile(ImageCms.createProfile("sRGB")).tobytes()
    with Image.open(io.BytesIO(strip_photo(heic(scene(), icc_profile=profile)))) as opened:
        assert opened.info["icc_profile"] == profile


@pytest.mark.parametrize("mode", ["L", "RGBA"])
def test_every_kind_of_picture_becomes_rgb(mode: str) -> None:
    plain = Image.new("RGB", (64, 64), (128, 128, 128)).convert(mode)
    pixels = read_photo(heic(plain)).pixels
    assert pixels.shape == (64, 64, 3)
    assert np.abs(pixels.astype(int) - 128).max() <= 2


def test_what_is_clear_becomes_white() -> None:
    clear = Image.new("RGBA", (64, 64), (0, 0, 0, 0))
    assert read_photo(heic(clear)).pixels.min() >= 253


def test_ten_bits_a_channel_become_eight() -> None:
    wide = np.asarray(scene()).astype(np.uint16) * 257
    deep = pillow_heif.from_bytes("RGB;16", (96, 72), wide.tobytes())
    out = io.BytesIO()
    deep.save(out, quality=-1, chroma=444)
    assert pillow_heif.open_heif(out.getvalue(), convert_hdr_to_8bit=False).mode == "RGB;16"
    rms, _ = apart(read_photo(out.getvalue()).pixels, np.asarray(scene()))
    assert rms < 1.5


def test_a_photo_in_tiles_is_one_picture() -> None:
    """Phones save a large photo as a grid of tiles."""
    picture = scene(300, 200)
    data = heic(picture, tile_size=128)
    assert b"grid" in data
    assert apart(read_photo(data).pixels, np.asarray(picture))[0] < 1.5


def test_the_cards_corners_lie_where_they_lie_in_the_same_photo_as_png(flat_card: bytes) -> None:
    from calibration.find import CardSeen, find_card

    picture = Image.open(io.BytesIO(flat_card)).convert("RGB")
    lossless = heic(picture, exif=exif_of(6), matrix_coefficients=0)
    one, other = find_card(as_png(picture, 6)), find_card(read_photo(lossless).pixels)
    assert isinstance(one, CardSeen)
    assert isinstance(other, CardSeen)
    assert one.corner_ids.tolist() == other.corner_ids.tolist()
    gap = np.linalg.norm(one.corners_px - other.corners_px, axis=1)
    assert gap.max() < 0.02  # px; a corner's own uncertainty is 0.1


@pytest.fixture(scope="module")
def flat_card() -> bytes:
    """Return the pocket card's print, a PNG of about 850 x 540 px with a margin."""
    from calibration.card import POCKET
    from calibration.draw_card import card_png

    with Image.open(io.BytesIO(card_png(POCKET, 250))) as card:
        ground = Image.new("RGBA", (card.width + 80, card.height + 80), "white")
        ground.alpha_composite(card.convert("RGBA"), (40, 40))
    out = io.BytesIO()
    ground.convert("RGB").save(out, "PNG")
    return out.getvalue()


def test_the_limit_is_kept_by_the_header_before_decoding(monkeypatch: pytest.MonkeyPatch) -> None:
    def never(photo: HeicPhoto) -> bytes:
        raise AssertionError("decoded")

    monkeypatch.setattr(HeicPhoto, "as_jpeg", never)
    data = heic(scene(200, 100))
    with pytest.raises(PhotoError, match="claims 200 x 100 pixels"):
        read_photo(data, limit_px=19_999)
    with pytest.raises(AssertionError, match="decoded"):
        read_photo(data, limit_px=20_000)


@pytest.mark.parametrize("claimed", [(8, 8), (200, 100), (60_000, 60_000)])
def test_a_header_that_lies_about_the_size_is_refused(claimed: tuple[int, int]) -> None:
    data = bytearray(heic(scene()))
    at = data.index(b"ispe") + 8
    data[at : at + 8] = struct.pack(">II", *claimed)
    with pytest.raises(PhotoError):
        read_photo(bytes(data))


def test_a_side_too_long_for_what_is_kept_is_refused() -> None:
    data = bytearray(heic(scene()))
    at = data.index(b"ispe") + 8
    data[at : at + 8] = struct.pack(">II", 70_000, 8)
    with pytest.raises(PhotoError, match="No side of a photo may be over 65500 px"):
        read_photo(bytes(data))


@pytest.mark.parametrize("tile", [0, 64])
def test_every_cut_is_refused(tile: int) -> None:
    data = heic(scene(), exif=exif_of(), tile_size=tile)
    for length in [*range(16, len(data), 41), len(data) - 1]:
        for verb in (read_photo, strip_photo):
            with pytest.raises(PhotoError, match="cut short or damaged"):
                verb(data[:length])


def test_damage_anywhere_is_refused_or_read_but_nothing_else() -> None:
    """Bytes of the header changed at random: a photo, or a refusal; no other error, no warning."""
    rng = np.random.default_rng(5)
    data = heic(scene(), exif=exif_of(6))
    header = data.index(b"mdat")
    refused = 0
    for _ in range(200):
        damaged = bytearray(data)
        for at in rng.integers(0, header, 3):
            damaged[at] = rng.integers(256)
        try:
            assert read_photo(bytes(damaged), limit_px=1_000_000).pixels.ndim == 3
        except PhotoError:
            refused += 1
    assert refused > 50


def brand(major: bytes, *compatible: bytes) -> bytes:
    body = b"ftyp" + major + bytes(4) + b"".join(compatible)
    return struct.pack(">I", len(body) + 4) + body + bytes(40)


@pytest.mark.parametrize(
    ("data", "what"),
    [
        (brand(b"heic", b"mif1"), "heic"),
        (brand(b"mif1", b"heic"), "heic"),
        (brand(b"msf1"), "heic"),
        (brand(b"avif", b"mif1"), "avif"),
        (brand(b"mif1", b"avif", b"miaf"), "avif"),
        (brand(b"avis"), "avif"),
        (brand(b"qt  "), None),
        (b"\xff\xd8\xff", None),
        (b"", None),
    ],
)
def test_the_file_says_which_kind_it_is(data: bytes, what: str | None) -> None:
    assert kind(data) == what


def test_avif_and_films_are_refused_by_name() -> None:
    with pytest.raises(PhotoError, match=r"is an AVIF picture\. Only JPEG, PNG and HEIC"):
        read_photo(brand(b"avif", b"mif1"))
    with pytest.raises(PhotoError, match="no JPEG, PNG or HEIC picture"):
        read_photo(brand(b"qt  "))


def test_a_heic_without_a_picture_is_refused() -> None:
    with pytest.raises(BrokenFileError):
        open_heic(brand(b"heic", b"mif1"))
    with pytest.raises(PhotoError, match=re.escape("Copy it from the phone again.")):
        read_photo(brand(b"heic", b"mif1"))
