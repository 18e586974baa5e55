"""A photo's parts lie exactly on the photo."""

from __future__ import annotations

import io
from collections.abc import Callable
from concurrent.futures import ThreadPoolExecutor

import numpy as np
import pytest
from numpy.typing import NDArray
from PIL import Image

from rimspan.photo_tiles import (
    PREVIEW_PX,
    TILE_PX,
    DecodedPhotos,
    preview_jpeg,
    preview_size,
    tile_jpeg,
)

Pixels = NDArray[np.uint8]


def decoded(data: bytes | None) -> NDArray[np.float64]:
    assert data is not None
    return np.asarray(Image.open(io.BytesIO(data)).convert("RGB"), dtype=float)


def blobs(width: int, height: int, centres: list[tuple[float, float]], sigma: float) -> Pixels:
    """Dark round blobs at known places, (0, 0) the centre of the top-left pixel."""
    y, x = np.mgrid[0:height, 0:width].astype(float)
    dark = sum(
        np.exp(-((x - cx) ** 2 + (y - cy) ** 2) / (2 * sigma**2), dtype=np.float64)
        for cx, cy in centres
    )
    grey = (220 - 200 * np.asarray(dark)).clip(0, 255).round().astype(np.uint8)
    return np.repeat(grey[..., None], 3, axis=2)


def centre(picture: NDArray[np.float64], near: tuple[float, float], reach: int) -> np.ndarray:
    left, top = (round(v) - reach for v in near)
    part = 220 - picture[top : top + 2 * reach, left : left + 2 * reach].mean(axis=2)
    y, x = np.mgrid[top : top + part.shape[0], left : left + part.shape[1]]
    return np.array([(part * x).sum(), (part * y).sum()]) / part.sum()


@pytest.mark.parametrize(
    ("size", "expected"),
    [
        ((4000, 3000), (1600, 1200)),
        ((3024, 4032), (1200, 1600)),
        ((4031, 3023), (1600, 1200)),
        ((1600, 1200), (1600, 1200)),
        ((800, 600), (800, 600)),
        ((20000, 5), (1600, 1)),
    ],
)
def test_a_preview_has_the_photos_shape(size: tuple[int, int], expected: tuple[int, int]) -> None:
    assert preview_size(size) == expected
    assert max(preview_size(size)) <= PREVIEW_PX


@pytest.mark.parametrize("size", [(3200, 2400), (2531, 1907), (1907, 2531)])
def test_a_preview_shifts_nothing(size: tuple[int, int]) -> None:
    """A place's share of the photo's width and height is its share of the preview's."""
    width, height = size
    places = [(60.3, 70.8), (width - 61.2, 80.1), (70.7, height - 75.4), (width - 70, height - 65)]
    preview = decoded(preview_jpeg(blobs(width, height, places, 14.0)))
    small = np.array(preview_size(size))
    assert preview.shape[:2] == (small[1], small[0])
    scale = small / size
    for place in places:
        expected = (np.array(place) + 0.5) * scale - 0.5
        found = centre(preview, (expected[0], expected[1]), 30)
        assert np.abs(found - expected).max() < 0.03


def test_tiles_are_the_photos_own_pixels() -> None:
    noise = np.random.default_rng(5).integers(0, 255, (160, 250, 3), dtype=np.uint8)
    rough = np.asarray(Image.fromarray(noise).resize((2500, 1600), Image.Resampling.BICUBIC))
    put = np.zeros((1600, 2500))
    for column in range(3):
        for row in range(2):
            tile = decoded(tile_jpeg(rough, column, row))
            left, top = column * TILE_PX, row * TILE_PX
            part = rough[top : top + TILE_PX, left : left + TILE_PX].astype(float)
            assert tile.shape == part.shape
            put[top : top + TILE_PX, left : left + TILE_PX] += 1
            true = np.abs(tile - part).mean()
            moved = np.abs(tile[:, 1:] - part[:, :-1]).mean()
            assert true < 2.5
            assert true < moved / 3
    assert (put == 1).all()


@pytest.mark.parametrize(("column", "row"), [(3, 0), (0, 2), (-1, 0), (0, -1)])
def test_there_is_no_tile_beyond_the_photo(column: int, row: int) -> None:
    assert tile_jpeg(np.zeros((1600, 2500, 3), dtype=np.uint8), column, row) is None


class Decoder:
    """Photos of one grey, and note of which were decoded."""

    def __init__(self) -> None:
        self.decoded: list[str] = []

    def __call__(self, name: str) -> Callable[[], Pixels]:
        def decode() -> Pixels:
            self.decoded.append(name)
            return np.full((30, 40, 3), ord(name), dtype=np.uint8)

        return decode


def test_the_last_photos_stay_decoded() -> None:
    photos, decode = DecodedPhotos(held=2), Decoder()
    for name in ("a", "b", "a", "c", "a", "b"):
        assert (photos.pixels(name, decode(name)) == ord(name)).all()
    assert decode.decoded == ["a", "b", "c", "b"]


def test_previews_stay_longer_than_pixels() -> None:
    photos, decode = DecodedPhotos(held=1, previews=2), Decoder()
    for name in ("a", "b", "a", "b", "c", "a"):
        assert np.abs(decoded(photos.preview(name, decode(name))) - ord(name)).max() <= 1
    assert decode.decoded == ["a", "b", "c", "a"]


def test_a_photo_that_is_decoded_already_is_not_decoded_again() -> None:
    photos, decode = DecodedPhotos(), Decoder()
    photos.hold("a", np.full((30, 40, 3), ord("a"), dtype=np.uint8))
    assert np.abs(decoded(photos.preview("a", decode("a"))) - ord("a")).max() <= 1
    photos.pixels("a", decode("a"))
    assert decode.decoded == []


def test_two_who_ask_at_once_get_one_decoding() -> None:
    photos, decode = DecodedPhotos(), Decoder()
    with ThreadPoolExecutor(6) as pool:
        found = list(pool.map(lambda _: photos.pixels("a", decode("a")), range(12)))
    assert decode.decoded == ["a"]
    assert all(pixels is found[0] for pixels in found)


def test_a_photo_that_cannot_be_decoded_is_not_held() -> None:
    photos, decode = DecodedPhotos(), Decoder()

    def broken() -> Pixels:
        raise ValueError("broken")

    with pytest.raises(ValueError, match="broken"):
        photos.preview("a", broken)
    assert photos.pixels("a", decode("a")).shape == (30, 40, 3)
