"""What the plan is drawn in can be told apart by every eye, and never by colour alone.

Checked with an independent library, colorspacious 1.1.2: its model of colour-vision deficiency
(Machado, Oliveira and Fernandes 2009), its distance in CAM02-UCS, and the contrast of WCAG 2.
"""

from itertools import combinations
from pathlib import Path

import numpy as np
import pytest

import rimspan
from rimspan.drawing import BAND, CAUTION, INK, LIGHT
from rimspan.screens.planning import COLOURS, script

colorspacious = pytest.importorskip("colorspacious")

KINDS = ("protanomaly", "deuteranomaly", "tritanomaly")
APART = 20.0
"""In CAM02-UCS a just noticeable difference is about 1; thin lines need far more."""
SKINS = ((92, 62, 48), (141, 101, 82), (197, 154, 128), (236, 203, 184))
"""Skin from dark to light as rendered photos have it (invented)."""
PAPER = (255, 255, 255)


def seen(colour: tuple[int, ...], kind: str | None, severity: int = 100) -> np.ndarray:
    rgb = np.array(colour[:3]) / 255.0
    if kind is None:
        return rgb
    space = {"name": "sRGB1+CVD", "cvd_type": kind, "severity": severity}
    return np.clip(colorspacious.cspace_convert(rgb, space, "sRGB1"), 0.0, 1.0)


def apart(one: np.ndarray, other: np.ndarray) -> float:
    return float(colorspacious.deltaE(one, other, input_space="sRGB1"))


def contrast(one: np.ndarray, other: np.ndarray) -> float:
    def luminance(rgb: np.ndarray) -> float:
        linear = np.where(rgb <= 0.04045, rgb / 12.92, ((rgb + 0.055) / 1.055) ** 2.4)
        return float(linear @ [0.2126, 0.7152, 0.0722])

    bright, dark = sorted((luminance(one), luminance(other)), reverse=True)
    return (bright + 0.05) / (dark + 0.05)


@pytest.mark.parametrize("kind", [None, *KINDS])
def test_ink_light_band_and_caution_are_told_apart(kind: str | None) -> None:
    for one, other in combinations((INK, LIGHT, BAND, CAUTION), 2):
        assert apart(seen(one, kind), seen(other, kind)) >= APART, (kind, one, other)


@pytest.mark.parametrize("kind", [None, *KINDS])
def test_every_line_stands_out_from_its_casing_and_the_casing_or_ink_from_skin(
    kind: str | None,
) -> None:
    casing = seen(PAPER, kind)
    for line in (INK, BAND, CAUTION):
        assert contrast(seen(line, kind), casing) >= 3.0
    for skin in SKINS:
        ground = seen(skin, kind)
        assert max(contrast(seen(INK, kind), ground), contrast(casing, ground)) >= 3.0


def test_what_breaks_a_limit_is_said_by_a_sign_too() -> None:
    """In grey alone a broken post still has its "!" and a thicker edge."""
    assert "`${post.label} !`" in script()
    style = Path(rimspan.__file__).parent / "screens" / "planning" / "planning.css"
    css = style.read_text("utf-8")
    assert ".broken .badge rect { stroke: var(--caution); stroke-width: 3.5; }" in css
    # Inside the rim dashed, outside whole: shapes tell the parts of a post.
    assert ".inside { fill: none; stroke: var(--ink); stroke-width: 1.6; stroke-dasharray" in css
    assert set(COLOURS) == {"ink", "light", "band", "caution"}
