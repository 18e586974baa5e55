"""Pen dots half round a rim's edge, drawn on a cylinder, and edges without one."""

from __future__ import annotations

import numpy as np
import pytest

from calibration.frames import Array, Image
from tests.tracing.conftest import INKS, SKIN, photographed
from tracing.dots import Dot, NoDot, snap

MM_PER_PX = 0.06
FINE = 5
SIZE = 170
EDGE_MM = 5.1
"""Where the edge is seen, from the picture's left."""
CLOTH, PALE = np.array([0.2, 0.45, 0.6]), np.array([0.75, 0.6, 0.5])
HAIR = np.array([0.055, 0.035, 0.025])


def rim(
    leaves: Array,
    radius_mm: float = 0.6,
    before_mm: float = 0.3,
    *,
    round_mm: float = 3.1,
    behind: Array = CLOTH,
    strands: bool = False,
    lock: bool = False,
    turn_rad: float = 0.0,
    noise: float = 0.006,
    seed: int = 1,
) -> tuple[Image, Array]:
    """Return a rim left of an edge with a dot before it, and where the dot's centre is seen.

    Skin is a cylinder: ``R (1 - cos(s / R))`` inside its edge is seen what lies ``s`` before it.
    The edge is turned by ``turn_rad`` about where it passes the dot.  A ``lock`` of hair lies
    along it, 2.5 x 0.6 mm, 1.6 mm inside.
    """
    across = ((np.mgrid[: SIZE * FINE, : SIZE * FINE] + 0.5) / FINE - 0.5) * MM_PER_PX - EDGE_MM
    c, s = np.cos(turn_rad), np.sin(turn_rad)
    x, y = c * across[1] + s * across[0] + EDGE_MM, c * across[0] - s * across[1] + EDGE_MM
    inside = np.clip((EDGE_MM - x) / round_mm, 0.0, 1.0)
    before = round_mm * np.arccos(1.0 - inside)
    inked = np.hypot(before - before_mm, y - EDGE_MM) < radius_mm
    light = 0.8 * SKIN * (1.0 - 0.5 * np.exp(-3.0 * inside))[..., None]
    light = light * np.where(inked[..., None], leaves, 1.0)
    if lock:
        under = (np.abs(x - EDGE_MM + 1.6) < 0.3) & (np.abs(y - EDGE_MM) < 1.25)
        light = light * np.where(under[..., None], 0.2, 1.0)
    if strands:
        behind = behind * _strands(x, y, seed)[..., None]
    light = np.where((x < EDGE_MM)[..., None], light, behind)
    seen = -round_mm * (1.0 - np.cos(before_mm / round_mm))
    picture = photographed(light, FINE, blur_px=0.8, noise=noise, seed=seed)
    return picture, (np.array([c, s]) * seen + EDGE_MM) / MM_PER_PX


def _strands(x: Array, y: Array, seed: int) -> Array:
    """Return how bright hair is, (H, W): strands up to twelve times as bright as gaps."""
    rng = np.random.default_rng(seed)
    bright = np.full(x.shape, 0.25)
    for _ in range(60):
        turn, at = rng.normal(0.5, 0.4), rng.uniform(0.0, 14.0)
        across = np.abs(np.cos(turn) * x + np.sin(turn) * y - at)
        bright = np.where(across < 0.06, rng.uniform(0.3, 3.0), bright)
    return bright


def test_an_edge_before_hair_without_a_dot_moves_no_tap() -> None:
    for seed in range(4):
        picture, centre = rim(np.ones(3), behind=HAIR, strands=True, seed=seed)
        tap = centre + np.random.default_rng(seed).normal(0, 7, 2)
        assert isinstance(snap(picture, tap, MM_PER_PX), NoDot)


@pytest.mark.parametrize("turn_rad", [0.0, 0.4])
@pytest.mark.parametrize("seed", range(4))
def test_a_dot_half_round_an_edge_before_hair_is_found(seed: int, turn_rad: float) -> None:
    for ink in (INKS["violet"], INKS["blue"]):
        picture, centre = rim(
            ink, 0.6, 0.4, behind=HAIR, strands=True, turn_rad=turn_rad, seed=seed
        )
        tap = centre + np.random.default_rng(seed).normal(0, 5, 2)
        found = snap(picture, tap, MM_PER_PX)
        assert isinstance(found, Dot)
        assert np.hypot(*(found.point_px - centre)) < 0.6


@pytest.mark.parametrize("behind", [CLOTH, PALE], ids=["cloth", "skin"])
@pytest.mark.parametrize(("radius_mm", "before_mm"), [(0.5, 0.3), (0.6, 0.5), (0.75, 0.2)])
def test_the_centre_of_a_dot_half_round_an_edge_is_found(
    ink: Array, behind: Array, radius_mm: float, before_mm: float
) -> None:
    picture, centre = rim(ink, radius_mm, before_mm, behind=behind)
    found = snap(picture, centre + np.array([6.0, -5.0]), MM_PER_PX)
    assert isinstance(found, Dot)
    assert np.hypot(*(found.point_px - centre)) < 0.35
    assert found.diameter_mm == pytest.approx(2 * radius_mm, rel=0.3)


@pytest.mark.parametrize("share", [0.3, 0.4])
def test_a_dot_before_darker_skin_does_not_pass_for_a_smear(ink: Array, share: float) -> None:
    """What lies beyond takes all colours alike, as black ink does, but beside the dot too."""
    for seed in range(4):
        picture, centre = rim(ink, 0.6, 0.3, behind=share * SKIN, seed=seed)
        tap = centre + np.random.default_rng(seed).normal(0, 5, 2)
        found = snap(picture, tap, MM_PER_PX)
        assert isinstance(found, Dot)
        assert np.hypot(*(found.point_px - centre)) < 0.35


@pytest.mark.parametrize("lock", [False, True], ids=["bare", "a lock of hair beside it"])
@pytest.mark.parametrize("seed", range(4))
def test_in_a_noisy_picture_neither_shade_nor_hair_stands_in_its_way(seed: int, lock: bool) -> None:
    for ink in (INKS["violet"], INKS["blue"]):
        picture, centre = rim(ink, 0.55, 0.3, lock=lock, noise=0.01, seed=seed)
        tap = centre + np.random.default_rng(seed).normal(0, 3, 2) - [4.0, 0.0]
        found = snap(picture, tap, MM_PER_PX)
        assert isinstance(found, Dot)
        assert np.hypot(*(found.point_px - centre)) < 0.6


def test_a_tap_far_along_the_edge_does_not_mean_it(ink: Array) -> None:
    """Taps of sd 0.5 mm on each axis lie farther off than 1.5 mm once in ninety (Rayleigh)."""
    picture, centre = rim(ink)
    for way_mm, is_near in ((1.3, True), (1.7, False)):
        found = snap(picture, centre + np.array([0.0, way_mm / MM_PER_PX]), MM_PER_PX)
        assert isinstance(found, Dot) == is_near


def test_its_stated_uncertainty_is_that_of_the_errors() -> None:
    rng = np.random.default_rng(8)
    ratios = []
    for seed in range(10):
        radius, before = rng.uniform(0.45, 0.75), rng.uniform(0.15, 0.5)
        picture, centre = rim(
            INKS["violet"], radius, before, round_mm=rng.uniform(2.2, 3.6), seed=seed
        )
        found = snap(picture, centre + rng.normal(0, 6, 2), MM_PER_PX)
        if isinstance(found, Dot):
            ratios += [*((found.point_px - centre) / found.u_px)]
    assert len(ratios) >= 16
    # It also holds slanting edges and mottled skin, which this rim has not.
    assert 0.05 < float(np.sqrt(np.mean(np.square(ratios)))) < 1.3


@pytest.mark.parametrize("behind", [CLOTH, PALE], ids=["cloth", "skin"])
@pytest.mark.parametrize("left", [0.0, 0.2], ids=["bare", "wiped"])
def test_an_edge_without_a_dot_moves_no_tap(left: float, behind: Array) -> None:
    picture, centre = rim(1.0 - left * (1.0 - INKS["violet"]), behind=behind)
    rng = np.random.default_rng(4)
    for _ in range(3):
        assert isinstance(snap(picture, centre + rng.normal(0, 7, 2), MM_PER_PX), NoDot)
