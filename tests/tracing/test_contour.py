"""Contours drawn by formula: a band of skin with a known edge and a known crease."""

from __future__ import annotations

import cv2
import numpy as np
import pytest

from calibration.frames import Array, Image
from tracing.contour import Contour, NoContour, trace
from tracing.search import Kind

MM_PER_PX = 0.12
CENTRE, RADIUS_PX = np.array([210.0, 260.0]), 150.0
INNER_PX = 100.0
SKIN = np.array([0.62, 0.44, 0.35])


def rim(behind: str, *, seed: int = 1, blank: bool = False, turned: float = 0.0) -> Image:
    """Return an arched band of skin before a background, with a dark hollow inside it.

    Its outermost 2 mm lose as much of their light, ``turned``, as skin does that turns away.
    """
    rng = np.random.default_rng(seed)
    y, x = np.mgrid[:330, :420].astype(np.float64)
    r = np.hypot(x - CENTRE[0], y - CENTRE[1])
    light = np.tile(SKIN, (*r.shape, 1)) * (1.0 - 0.0006 * (r - 120.0))[..., None]
    # The fold's edge stands before the hollow; skin spreads the light over about 0.3 mm.
    depth = np.exp(-np.maximum(INNER_PX - r, 0) / 40.0) / (1.0 + np.exp((r - INNER_PX) / 1.2))
    light *= (1.0 - 0.75 * depth)[..., None]
    light *= (1.0 - turned * np.clip(1.0 + (r - RADIUS_PX) * MM_PER_PX / 2.0, 0, 1))[..., None]
    if blank:
        light = np.tile(SKIN, (*r.shape, 1))
    elif behind == "hair":
        strands = cv2.GaussianBlur(rng.standard_normal(r.shape), (0, 0), 6, sigmaY=1.2)
        strands = np.clip(0.10 + 0.09 * strands / strands.std(), 0.02, 0.4)
        light = np.where((r > RADIUS_PX)[..., None], strands[..., None] * [1.0, 0.8, 0.6], light)
    elif behind == "half":
        light = np.where(((r > RADIUS_PX) & (x < CENTRE[0]))[..., None], [0.12, 0.15, 0.2], light)
    elif behind == "cloth":
        light = np.where((r > RADIUS_PX)[..., None], [0.12, 0.15, 0.2], light)
    light = cv2.GaussianBlur(light, (0, 0), 1.0)
    light = np.clip(light + 0.008 * rng.standard_normal(light.shape), 0.0, 1.0)
    coded = np.where(light <= 0.0031308, 12.92 * light, 1.055 * light ** (1 / 2.4) - 0.055)
    return np.asarray((coded * 255).round(), dtype=np.uint8)


def taps(radius_px: float, *, count: int = 4, sd_mm: float = 0.4, seed: int = 2) -> Array:
    angle = np.linspace(np.pi + 0.25, 2 * np.pi - 0.25, count)
    ring = CENTRE + radius_px * np.column_stack([np.cos(angle), np.sin(angle)])
    rng = np.random.default_rng(seed)
    return np.asarray(ring + sd_mm / MM_PER_PX * rng.standard_normal(ring.shape))


def away_mm(found: Contour, radius_px: float) -> Array:
    """Return signed distances outward of the true ring, mm."""
    return np.asarray((np.hypot(*(found.line - CENTRE).T) - radius_px) * MM_PER_PX)


def traced(picture: Image, radius_px: float, kind: Kind, **how: float) -> Contour:
    found = trace(picture, taps(radius_px, **how), kind, MM_PER_PX)  # type: ignore[arg-type]
    assert isinstance(found, Contour)
    assert found.line.shape == (len(found.u_px), 2)
    return found


@pytest.mark.parametrize("behind", ["hair", "cloth"])
@pytest.mark.parametrize("count", [3, 4])
def test_the_outer_contour_is_the_edge_not_the_taps(behind: str, count: int) -> None:
    found = traced(rim(behind), RADIUS_PX, "outer", count=count)
    assert found.gaps == ()
    error = away_mm(found, RADIUS_PX)
    assert float(np.sqrt(np.mean(error**2))) < 0.08
    assert float(np.median(found.u_px) * MM_PER_PX) < 0.15


@pytest.mark.parametrize("behind", ["hair", "cloth"])
def test_skin_that_turns_away_ends_at_its_edge_not_in_its_shade(behind: str) -> None:
    found = traced(rim(behind, turned=0.6), RADIUS_PX, "outer", count=3)
    assert found.gaps == ()
    assert float(np.sqrt(np.mean(away_mm(found, RADIUS_PX) ** 2))) < 0.08


@pytest.mark.parametrize("behind", ["hair", "cloth"])
def test_errors_are_of_the_size_of_the_stated_uncertainty(behind: str) -> None:
    """GUM (JCGM 100) 2.3.1: a standard uncertainty is a standard deviation."""
    shares = []
    for seed in range(4):
        found = traced(rim(behind, seed=seed), RADIUS_PX, "outer", count=3, seed=10 + seed)
        assert found.gaps == ()
        shares.append(away_mm(found, RADIUS_PX) / (found.u_px * MM_PER_PX))
    assert 0.5 < float(np.sqrt(np.mean(np.concatenate(shares) ** 2))) < 1.5


def test_where_half_the_edge_is_seen_the_rest_is_a_gap_that_joins_it() -> None:
    """Skin behind skin on the right: there the line goes on from the edge to the taps."""
    found = traced(rim("half"), RADIUS_PX, "outer", sd_mm=0.2)
    ((first, last),) = found.gaps
    assert last == len(found.line) - 1
    assert found.line[first, 0] == pytest.approx(CENTRE[0], abs=2.5 / MM_PER_PX)
    error = np.abs(away_mm(found, RADIUS_PX))
    assert float(error[: first - 15].max()) < 0.15
    assert float(error[first:].max()) < 0.6
    steps = np.hypot(*np.diff(found.line, axis=0).T) * MM_PER_PX
    assert float(steps.max()) < 3 * float(np.median(steps))
    u_mm = found.u_px * MM_PER_PX
    assert float(u_mm[first + 30 :].min()) > 0.25 > float(np.median(u_mm[:first]))


def test_a_crease_has_skin_on_both_sides() -> None:
    """Taps along the outer edge mean no crease, dark though the rim's border may be."""
    found = traced(rim("cloth", turned=0.6), RADIUS_PX, "inner", sd_mm=0.1)
    assert found.gaps == ((0, len(found.line) - 1),)


def test_the_inner_crease_is_where_the_hollow_begins() -> None:
    """The crease is the foot of the hollow's wall, not the middle of its slope."""
    error = away_mm(traced(rim("cloth"), INNER_PX, "inner"), INNER_PX)
    assert -0.45 < float(error.mean()) < 0.0
    assert float(error.std()) < 0.08


def test_the_line_runs_as_the_taps_do() -> None:
    picture = rim("cloth")
    there = taps(RADIUS_PX)
    forth, back = (trace(picture, t, "outer", MM_PER_PX) for t in (there, there[::-1]))
    assert isinstance(forth, Contour)
    assert isinstance(back, Contour)
    assert np.hypot(*(forth.line[0] - there[0])) < np.hypot(*(forth.line[-1] - there[0]))
    np.testing.assert_allclose(forth.line[0], back.line[-1], atol=1.0)


@pytest.mark.parametrize("kind", ["outer", "inner"])
def test_where_there_is_no_edge_the_whole_line_is_a_gap_along_the_taps(kind: Kind) -> None:
    found = traced(rim("none", blank=True), RADIUS_PX, kind, sd_mm=0.0)
    assert found.gaps == ((0, len(found.line) - 1),)
    assert float(np.abs(away_mm(found, RADIUS_PX)).max()) / MM_PER_PX < 0.5
    there = taps(RADIUS_PX, sd_mm=0.0)
    away = np.hypot(*(found.line[:, None] - there[None]).transpose(2, 0, 1)).min(axis=0)
    assert float(away.max()) < 1.5
    assert float(found.u_px.min()) * MM_PER_PX > 0.4


def test_skin_behind_skin_is_no_edge() -> None:
    """Shade alone does not tell where one skin ends before another."""
    y, x = np.mgrid[:330, :420].astype(np.float64)
    r = np.hypot(x - CENTRE[0], y - CENTRE[1])
    shade = 0.80 + 0.20 / (1.0 + np.exp((r - RADIUS_PX) / 3.0))
    light = np.clip(shade[..., None] * SKIN, 0, 1)
    coded = np.asarray((255 * (1.055 * light ** (1 / 2.4) - 0.055)).round(), dtype=np.uint8)
    found = traced(coded, RADIUS_PX, "outer")
    assert found.gaps == ((0, len(found.line) - 1),)


@pytest.mark.parametrize(
    ("points", "said"),
    [
        ([[10, 10], [50, 10]], "2 different taps"),
        ([[10, 10], [10, 10], [10, 10]], "1 different taps"),
        ([[10, 10], [50, 10], [900, 10]], "outside the photo"),
    ],
)
def test_taps_that_tell_too_little_are_refused(points: list[list[float]], said: str) -> None:
    found = trace(rim("cloth"), np.array(points, dtype=float), "outer", MM_PER_PX)
    assert isinstance(found, NoContour)
    assert said in found.sentence


def test_taps_over_more_than_an_ear_are_refused() -> None:
    found = trace(rim("cloth"), np.array([[5.0, 5], [200, 9], [400, 5]]), "outer", 1.0)
    assert isinstance(found, NoContour)
    assert "250 mm" in found.sentence
