"""The width of edges is the blur that was put in, whatever the contrast and the noise."""

from __future__ import annotations

import cv2
import numpy as np
import pytest

from calibration.frames import Image
from calibration.quality import clipped_share, edge_width_px, sharpness

SIZE = (300, 400)
MIDDLE, RADIUS = (200.0, 150.0), 120.0


def edges(blur_px: float, contrast: float = 100.0, noise: float = 0.0) -> Image:
    """Return slanted straight edges, drawn nine times as fine, then blurred."""
    fine = 9
    y, x = np.mgrid[0 : SIZE[0] * fine, 0 : SIZE[1] * fine] / fine
    stripes = (np.floor((x + 0.3 * y) / 60) % 2).astype(np.float32)
    grey = cv2.resize(stripes, SIZE[::-1], interpolation=cv2.INTER_AREA)
    grey = cv2.GaussianBlur(grey, (0, 0), blur_px) if blur_px else grey
    seen = 128 + contrast * (grey.astype(np.float64) - 0.5)
    seen += np.random.default_rng(3).normal(0, noise, SIZE)
    return np.clip(np.round(seen), 0, 255).astype(np.uint8)


@pytest.mark.parametrize("blur", [0.7, 1.0, 2.0, 3.0])
@pytest.mark.parametrize(("contrast", "noise"), [(100, 0), (100, 3), (40, 1.5)])
def test_the_width_is_the_blurs(blur: float, contrast: float, noise: float) -> None:
    width = edge_width_px(edges(blur, contrast, noise), MIDDLE, RADIUS)
    # A pixel's own area adds 1/12 px squared; the sharper quarter of the tiles is taken.
    assert width == pytest.approx(np.sqrt(blur**2 + 1 / 12), rel=0.15)


def test_a_colour_picture_is_judged_like_its_grey() -> None:
    grey = edges(2.0)
    colour = np.repeat(grey[..., None], 3, axis=2)
    assert edge_width_px(colour, MIDDLE, RADIUS) == pytest.approx(
        edge_width_px(grey, MIDDLE, RADIUS)
    )


@pytest.mark.parametrize("noise", [0.0, 2.0, 6.0])
def test_smooth_skin_is_not_called_blurred_nor_sharp(noise: float) -> None:
    rng = np.random.default_rng(5)
    shading = np.linspace(90, 170, SIZE[1])[None] + rng.normal(0, noise, SIZE)
    picture = np.clip(shading, 0, 255).astype(np.uint8)
    assert edge_width_px(picture, MIDDLE, RADIUS) is None
    assert sharpness(picture, MIDDLE, RADIUS) is None


def test_noise_does_not_make_a_blurred_picture_sharp() -> None:
    width = edge_width_px(edges(5.0, 100.0, 6.0), MIDDLE, RADIUS)
    assert width is not None
    assert width > 2.7  # where a photo is called blurred; a wide blur reads short in noise


def test_a_sharp_rim_beside_a_soft_shadow_is_sharp() -> None:
    picture = edges(0.8)
    soft = edges(8.0)
    picture[:, :200] = soft[:, :200]
    width = edge_width_px(picture, MIDDLE, RADIUS)
    assert width is not None
    assert width < 1.3


@pytest.mark.parametrize(("blur", "stated"), [(0.7, 0.9), (2.0, 0.5), (4.0, 0.2)])
def test_sharpness_is_as_documented(blur: float, stated: float) -> None:
    assert sharpness(edges(blur), MIDDLE, RADIUS) == pytest.approx(stated, abs=0.06)


def test_a_place_outside_the_picture_says_nothing_and_counts_as_lost() -> None:
    assert sharpness(edges(1.0), (-900.0, -900.0), 50.0) is None
    assert clipped_share(edges(1.0), (-900.0, -900.0), 50.0) == 1.0


def test_clipped_share_counts_burnt_out_and_black() -> None:
    picture = np.full((200, 200), 128, np.uint8)
    picture[:100] = 255
    picture[150:] = 0
    assert clipped_share(picture, (99.5, 99.5), 100) == pytest.approx(0.75, abs=0.01)
