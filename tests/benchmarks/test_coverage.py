"""A sample of the coverage benchmark, and the cheap picture against what must be in it."""

from __future__ import annotations

import importlib.util
from dataclasses import replace

import numpy as np
import pytest
from scipy import stats

if importlib.util.find_spec("embreex") is None:
    pytest.skip("needs the extra 'samples' (embreex)", allow_module_level=True)

from benchmarks.accuracy import middle_of
from benchmarks.ears import Site, random_site
from benchmarks.flat_picture import Take, flat_picture
from benchmarks.pictured import corner_errors, run_pictured, ways_of
from benchmarks.scenes import Scene, draw_scene
from benchmarks.stated import WORSE, World, draw_case, run_stated
from benchmarks.tables import coverage, median_U
from calibration.find import CardSeen, find_card

SCENES = 100
PLAIN = Take(0.6, 0.005, (0.0, 0.0), 1.0, 0.3, 0.7, 92, (), 1)


@pytest.mark.parametrize("kind", ["ends", "edges"])
def test_intervals_hold_what_was_drawn_from_them(kind: str) -> None:
    """The count inside is binomial; outside these bounds with other seeds once in 500 times."""
    inside = round(SCENES * coverage(run_stated(SCENES, World(), kind, 11)))
    low, high = stats.binom.ppf([0.001, 0.999], SCENES, 0.95)
    assert low <= inside <= high


def test_in_a_worse_world_the_stated_u_stays_and_the_truth_is_held_less_often() -> None:
    told, worse = (run_stated(60, world, "ends", 12) for world in (World(), WORSE[-1]))
    assert median_U(worse) == pytest.approx(median_U(told), rel=0.15)
    assert coverage(worse) < coverage(told) - 0.1


def test_the_truth_strays_from_what_is_told_as_it_is_told_to() -> None:
    cases = [draw_case(np.random.default_rng(i), World()) for i in range(400)]
    strays = {
        "offset": [(-c.ends[:, 2].mean() - c.scene.told.offset_mm) / 5.0 for c in cases],
        "focal": [np.log(c.scene.camera[0, 0] / c.scene.told.focal_px) / 0.03 for c in cases],
        "k1": [c.scene.dist[0] / 0.05 for c in cases],
        "tilt": [np.rad2deg(np.arctan2(c.normal[0], -c.normal[2])) / 5.8 for c in cases],
        "print": [
            (c.scene.print_scale[0] * c.scene.card.check_bar_mm[0] - c.scene.told.check_bar_mm[0])
            / 0.05
            for c in cases
        ],
    }
    for name, stray in strays.items():
        assert stats.kstest(stray, "norm").pvalue > 1e-3, name
    for case in cases[:20]:
        assert (case.ends[0] - case.ends[1]) @ case.normal == pytest.approx(0.0, abs=1e-9)


@pytest.fixture(scope="module")
def seen() -> tuple[Site, Scene]:
    rng = np.random.default_rng(4)
    site = random_site("plain", rng)
    return site, draw_scene(rng, middle_of(site), rim_tilt=False).shrunk(0.32)


def test_corners_are_where_the_true_camera_has_them(seen: tuple[Site, Scene]) -> None:
    site, scene = seen
    found = find_card(flat_picture(site.ear, scene, PLAIN))
    assert isinstance(found, CardSeen)
    errors = corner_errors(scene, found)
    assert np.abs(errors.mean(axis=0)).max() < 0.02  # no shift by half a pixel
    assert np.sqrt(np.mean(errors**2)) < 0.06


@pytest.mark.parametrize("nearer", [True, False])
def test_the_ear_hides_the_card_only_where_it_is_nearer(
    nearer: bool, seen: tuple[Site, Scene]
) -> None:
    """The ear is put in the middle of the card: 40 mm before it, or as far behind."""
    site, scene = seen
    body = np.asarray(scene.card.body_mm)
    away = np.array([0.3, 0.12]) * body
    moved = replace(scene, anchor_card=np.array([*away, -40.0 if nearer else 40.0]))
    x, y = np.round(moved.pixels(moved.to_card(site.placement.crest[None]))[0]).astype(int)
    plain = flat_picture(site.ear, moved, PLAIN)[y - 4 : y + 5, x - 4 : x + 5, 0]
    darker = flat_picture(site.ear, moved, replace(PLAIN, skin=0.02))
    changed = np.abs(plain.astype(int) - darker[y - 4 : y + 5, x - 4 : x + 5, 0])
    assert (np.median(changed) > 30) == nearer


def test_discs_on_the_card_hide_corners(seen: tuple[Site, Scene]) -> None:
    site, scene = seen
    covered = replace(PLAIN, covers=((0.25, 0.1, 14.0), (0.8, 0.15, 14.0)))
    whole, part = (find_card(flat_picture(site.ear, scene, take)) for take in (PLAIN, covered))
    assert isinstance(whole, CardSeen)
    assert isinstance(part, CardSeen)
    assert len(part.corner_ids) < len(whole.corner_ids)


def test_a_hidden_end_is_marked_on_its_edge(seen: tuple[Site, Scene]) -> None:
    site, scene = seen
    ways = ways_of(site, scene)
    kind, places = ways["seen"]
    ends, edges = ways["ends"][1], ways["edges"][1]
    dots = {"ends": (1, 1), "entry's dot": (1, 0), "exit's dot": (0, 1), "edges": (0, 0)}[kind]
    for place, end, edge, dot in zip(places, ends, edges, dots, strict=True):
        np.testing.assert_array_equal(place, end if dot else edge)
    assert np.linalg.norm(ends - edges, axis=1).max() > 0.05


def test_two_pictures_are_read_and_scored_in_every_way() -> None:
    found = run_pictured(2, seed=3)
    assert sorted(s.kind for s in found.scores) == sorted(2 * ["ends", "edges", "seen"])
    assert np.sqrt(np.mean(found.corner_errors_px**2)) < 0.1
    assert all(abs(s.error_mm) < 3 for s in found.scores)
