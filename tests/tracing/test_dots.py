"""Pen dots at places known beforehand, and what is none."""

from __future__ import annotations

import numpy as np
import pytest

from calibration.frames import Array
from tests.tracing.conftest import INKS, Patch, skin
from tracing.dots import Dot, NoDot, snap

MM_PER_PX = 0.1
VIOLET = INKS["violet"]


@pytest.mark.parametrize("diameter_mm", [0.6, 1.0, 1.5])
@pytest.mark.parametrize("part", [(0.0, 0.0), (0.31, 0.72)])
def test_a_dot_is_found_to_a_fraction_of_a_pixel(
    ink: Array, diameter_mm: float, part: tuple[float, float]
) -> None:
    at = (60.0 + part[0], 57.0 + part[1])
    half = diameter_mm / 2 / MM_PER_PX
    found = snap(skin([Patch(at, (half, half), ink)]), (at[0] + 6, at[1] - 5), MM_PER_PX)
    assert isinstance(found, Dot)
    np.testing.assert_allclose(found.point_px, at, atol=0.15)
    assert found.diameter_mm == pytest.approx(diameter_mm, rel=0.35)


def test_the_stated_uncertainty_is_that_of_the_errors(ink: Array) -> None:
    rng = np.random.default_rng(5)
    ratios = []
    for seed in range(12):
        at = 60.0 + rng.uniform(-1, 1, 2)
        patch = Patch((at[0], at[1]), (4.5, 4.5), ink)
        found = snap(skin([patch], seed=seed, noise=0.02), at + rng.normal(0, 4, 2), MM_PER_PX)
        assert isinstance(found, Dot)
        ratios += [*((found.point_px - at) / found.u_px)]
    # The uncertainty also holds rounded and mottled skin, which this plain skin has not.
    assert 0.05 < float(np.sqrt(np.mean(np.square(ratios)))) < 1.3


def test_a_dot_seen_aslant_is_found() -> None:
    patch = Patch((60.2, 60.4), (6.0, 3.5), VIOLET, turn_rad=0.6)
    found = snap(skin([patch]), (55, 63), MM_PER_PX)
    assert isinstance(found, Dot)
    np.testing.assert_allclose(found.point_px, patch.at, atol=0.3)


def test_a_small_dot_far_away_is_found() -> None:
    patch = Patch((60.3, 59.8), (1.6, 1.6), INKS["black"])
    found = snap(skin([patch]), (61, 61), 0.25)
    assert isinstance(found, Dot)
    np.testing.assert_allclose(found.point_px, patch.at, atol=0.2)


def test_the_nearer_of_two_dots_is_taken() -> None:
    one, other = Patch((50.0, 60.0), (5.0, 5.0), VIOLET), Patch((70.0, 60.0), (5.0, 5.0), VIOLET)
    picture = skin([one, other])
    for near, dot in (((54.0, 61.0), one), ((66.0, 58.0), other)):
        found = snap(picture, near, MM_PER_PX)
        assert isinstance(found, Dot)
        np.testing.assert_allclose(found.point_px, dot.at, atol=0.3)


def test_two_dots_run_together_are_never_one_between_them() -> None:
    for gap in (9.0, 10.0, 11.0, 12.0):
        pair = [
            Patch((60 - gap / 2, 60), (5, 5), VIOLET),
            Patch((60 + gap / 2, 60), (5, 5), VIOLET),
        ]
        found = snap(skin(pair), (57, 60), MM_PER_PX)
        if isinstance(found, Dot):
            assert min(abs(found.point_px[0] - p.at[0]) for p in pair) < 1.0


@pytest.mark.parametrize(
    "patches",
    [
        [],
        [Patch((60, 60), (5, 5), 1 - 0.2 * (1 - VIOLET), soft_px=3.0)],
        [Patch((60, 60), (6, 6), np.array([0.88, 0.78, 0.66]), soft_px=3.0)],
        [Patch((60, 60), (17, 4.5), VIOLET)],
        [Patch((60, 60), (200, 0.9), INKS["black"], turn_rad=0.7)],
        [Patch((60, 100), (200, 40), np.array([0.4, 0.38, 0.36]), soft_px=12.0)],
        [Patch((60, 60), (22, 22), VIOLET)],
    ],
    ids=["skin", "wiped ghost", "freckle", "smear", "hair", "shadow", "blot"],
)
def test_what_is_no_dot_moves_no_tap(patches: list[Patch]) -> None:
    picture = skin(patches)
    rng = np.random.default_rng(3)
    for seed in range(4):
        near = np.array([60.0, 60.0]) + rng.normal(0, 5, 2)
        found = snap(picture, near, MM_PER_PX)
        assert isinstance(found, NoDot), f"tap {seed}"
        assert found.sentence.endswith(".")


@pytest.mark.parametrize("length_mm", [1.8, 2.4, 3.0])
@pytest.mark.parametrize("width_mm", [0.6, 1.0, 1.5])
def test_a_smear_moves_no_tap_wherever_it_is_tapped(length_mm: float, width_mm: float) -> None:
    half, length = width_mm / 2 / MM_PER_PX, length_mm / MM_PER_PX
    for turn in (0.0, 0.7):
        stroke = Patch((60, 60), (half, half), VIOLET, turn_rad=turn, length_px=length)
        picture = skin([stroke])
        for share in (0.0, 0.5, 1.0):
            way = share * length / 2 * np.array([np.cos(turn), np.sin(turn)])
            assert isinstance(snap(picture, np.array([60.0, 60.0]) + way, MM_PER_PX), NoDot)


@pytest.mark.parametrize(("gap", "tap"), [(7.0, (60, 59)), (8.0, (58, 61)), (8.0, (60, 59))])
def test_what_is_refused_as_two_ends_the_search(gap: float, tap: tuple[float, float]) -> None:
    pair = [Patch((52 + side * gap / 2, 60), (5, 5), VIOLET) for side in (-1, 1)]
    far = Patch((78, 60), (5, 5), VIOLET)
    found = snap(skin([*pair, far]), tap, MM_PER_PX)
    assert isinstance(found, NoDot)
    assert "two" in found.sentence or "smear" in found.sentence
    alone = snap(skin([far]), tap, MM_PER_PX)
    assert isinstance(alone, Dot)
    np.testing.assert_allclose(alone.point_px, far.at, atol=0.15)


@pytest.mark.parametrize("gap_px", [10.5, 11.5])
def test_two_dots_that_touch_are_refused(gap_px: float, ink: Array) -> None:
    pair = [Patch((60 + side * gap_px / 2, 60), (5, 5), ink) for side in (-1, 1)]
    assert isinstance(snap(skin(pair), (53, 61), MM_PER_PX), NoDot)
    apart = [Patch((60 + side * 9.0, 60), (5, 5), ink) for side in (-1, 1)]
    found = snap(skin(apart), (51, 61), MM_PER_PX)
    assert isinstance(found, Dot)
    np.testing.assert_allclose(found.point_px, apart[0].at, atol=0.15)


def test_the_lens_where_two_dots_overlap_is_no_dot() -> None:
    for gap in (10.0, 11.0, 12.0):
        pair = [Patch((60 + side * gap / 2, 60), (7, 7), VIOLET) for side in (-1, 1)]
        found = snap(skin(pair), (60.5, 59), MM_PER_PX)
        if isinstance(found, Dot):
            assert min(np.hypot(*(found.point_px - p.at)) for p in pair) < 1.0


@pytest.mark.parametrize("length_px", [12.0, 16.0])
def test_no_far_dot_is_taken_past_a_nearer_dark_place(length_px: float, ink: Array) -> None:
    stroke = Patch((56, 60), (3.5, 3.5), ink, turn_rad=1.4, length_px=length_px)
    far = Patch((75, 60), (5, 5), ink)
    assert isinstance(snap(skin([stroke, far]), (57, 58), MM_PER_PX), NoDot)
    alone = snap(skin([far]), (57, 58), MM_PER_PX)
    assert isinstance(alone, Dot)
    np.testing.assert_allclose(alone.point_px, far.at, atol=0.15)


@pytest.mark.parametrize("turn_rad", [0.0, 0.8, 2.5])
def test_a_dot_close_to_where_bright_cloth_begins_is_found(ink: Array, turn_rad: float) -> None:
    """Four pixels to the millimetre, and hardly more than a radius of skin on one side."""
    normal = np.array([np.cos(turn_rad), np.sin(turn_rad)])
    dot = Patch((40.2, 40.4), (1.4, 2.2), ink, turn_rad=turn_rad)
    way = np.array(dot.at) + (3.2 + 100.0) * normal
    cloth = Patch((way[0], way[1]), (100.0, 100.0), np.array([1.7, 2.2, 2.6]))
    picture = skin([dot, cloth], size=(80, 80))
    found = snap(picture, np.array(dot.at) + np.array([1.5, -2.0]), 0.25)
    assert isinstance(found, Dot)
    assert np.hypot(*(found.point_px - dot.at)) < 0.5


def test_a_dot_further_than_three_millimetres_is_left_alone() -> None:
    picture = skin([Patch((60, 60), (5, 5), VIOLET)])
    assert isinstance(snap(picture, (60, 95), MM_PER_PX), NoDot)
    assert isinstance(snap(picture, (60, 88), MM_PER_PX), Dot)


def test_a_tap_on_a_dark_sliver_is_not_taken_to_a_dot_beside_it(ink: Array) -> None:
    """What is left to see of a dot in a fold: a tenth as wide as long."""
    sliver = Patch((60, 60), (4.5, 0.9), ink)
    dot = Patch((60, 73), (5, 5), ink)
    found = snap(skin([sliver, dot]), (60.5, 59.5), MM_PER_PX)
    if isinstance(found, Dot):
        assert np.hypot(*(found.point_px - sliver.at)) < 2.0
    alone = snap(skin([dot]), (60.5, 59.5), MM_PER_PX)
    assert isinstance(alone, Dot)
    np.testing.assert_allclose(alone.point_px, dot.at, atol=0.15)


@pytest.mark.parametrize("gap_px", [12.0, 14.0])
def test_a_hair_across_the_tap_is_not_taken_for_the_ink_of_a_blue_dot_beside_it(
    gap_px: float,
) -> None:
    """A brown lock is no ink: a dot of another hue beside it is meant.  Of its own hue none is."""
    lock = np.array([0.46, 0.40, 0.34])
    stroke = Patch((60, 60), (5, 5), lock, turn_rad=np.pi / 2, length_px=12)
    found = snap(skin([stroke, Patch((60 + gap_px, 60), (4.5, 4.5), INKS["blue"])]), (63, 60), 0.1)
    assert isinstance(found, Dot)
    np.testing.assert_allclose(found.point_px, (60 + gap_px, 60), atol=0.15)
    same = skin([stroke, Patch((60 + gap_px, 60), (4.5, 4.5), lock)])
    assert isinstance(snap(same, (63, 60), 0.1), NoDot)


@pytest.mark.parametrize("name", ["violet", "blue"])
def test_a_dark_hair_near_the_tap_is_not_taken_for_the_sliver_of_a_dot_with_hue(name: str) -> None:
    """A sliver that may have been meant instead has the same pen's hue."""
    dot = Patch((72, 60), (5, 5), INKS[name])
    hair, sliver = (
        Patch((60, 60), (1.2, 14.0), leaves) for leaves in (np.full(3, 0.2), INKS[name])
    )
    found = snap(skin([hair, dot]), (60.5, 60), 0.1)
    assert isinstance(found, Dot)
    np.testing.assert_allclose(found.point_px, dot.at, atol=0.15)
    assert isinstance(snap(skin([sliver, dot]), (60.5, 60), 0.1), NoDot)


@pytest.mark.parametrize("hidden_px", [2.0, 3.5])
def test_a_dot_that_brighter_skin_may_hide_in_part_is_less_certain(
    ink: Array, hidden_px: float
) -> None:
    """A round dot of radius 5 px, of which a brighter fold in front hides one side."""
    dot = Patch((60, 60), (5, 5), ink)
    fold = Patch((60, 55 + hidden_px - 100), (100, 100), np.full(3, 1.4), hides=True)
    found = snap(skin([dot, fold]), (61, 62), MM_PER_PX)
    assert isinstance(found, Dot)
    away = float(np.hypot(*(found.point_px - dot.at)))
    assert away < 2.5 * np.sqrt(2.0) * found.u_px
    whole = snap(skin([Patch((60, 60), (5, 5 - hidden_px / 2), ink)]), (61, 62), MM_PER_PX)
    assert isinstance(whole, Dot)
    assert whole.u_px < found.u_px


FOLD = [
    Patch((60, 57), (400, w), np.full(3, 0.82), turn_rad=0.5, soft_px=1.4 * w)
    for w in (4, 6, 8, 10)
]
"""A fold's shadow: within 1.5 mm more than half of the light is gone."""


@pytest.mark.parametrize("half_axes", [(5.5, 1.6), (6.5, 2.4)])
def test_a_dot_seen_aslant_in_a_folds_shadow_is_found(
    ink: Array, half_axes: tuple[float, float]
) -> None:
    dot = Patch((60.3, 60.2), half_axes, ink, turn_rad=0.5)
    for tap in ((64, 57), (57, 66)):
        found = snap(skin([*FOLD, dot]), tap, MM_PER_PX)
        assert isinstance(found, Dot)
        np.testing.assert_allclose(found.point_px, dot.at, atol=0.3)


def test_a_folds_shadow_is_no_dot_nor_a_smear_in_it(ink: Array) -> None:
    smear = Patch((60, 60), (4.0, 3.0), ink, turn_rad=0.5, length_px=18)
    for picture in (skin(FOLD), skin([*FOLD, smear])):
        for tap in ((60, 60), (64, 57), (52, 58)):
            assert isinstance(snap(picture, tap, MM_PER_PX), NoDot)


def test_a_point_outside_the_photo_is_refused_in_words() -> None:
    found = snap(skin([]), (130, 60), MM_PER_PX)
    assert isinstance(found, NoDot)
    assert "outside" in found.sentence


def test_a_dot_at_the_pictures_corner_does_not_fail() -> None:
    found = snap(skin([Patch((4, 4), (5, 5), VIOLET)]), (3, 3), MM_PER_PX)
    assert isinstance(found, Dot | NoDot)
