"""A small sample of the benchmark of several views."""

import importlib.util

import numpy as np
import pytest

if importlib.util.find_spec("embreex") is None:
    pytest.skip("needs the extra 'samples' (embreex)", allow_module_level=True)

from benchmarks.scenes import seeds
from benchmarks.view_faults import (
    FIVE,
    MoveScore,
    flipped,
    other_ear,
    run_moves,
    strays,
    swapped,
)
from benchmarks.view_scenes import FANNED, cards_of, marked
from benchmarks.view_shot_tables import PART, part_of, shots_table, with_part
from benchmarks.view_shots import SEED, keep, kept_shots, run_shots, shown_scene
from benchmarks.view_tables import views_table
from benchmarks.view_whole import read_whole, whole_outcome
from benchmarks.views import Length, Run, Setting, scene_with_both_ends, score
from calibration.views import ViewsRefused, dots_in_space

EARS_SEEN = ("slim-deep", "plain", "open", "backward-lean", "boxy", "thin")
SNAPPED = Setting("five", fanned=True, u_px=0.3, card="fixed")
HAND = Setting("five", fanned=True, u_px=1.0, card="fixed")


@pytest.fixture(scope="module")
def twenty():
    """Return about twenty scenes on six ears with their cards adjusted."""
    found = []
    for i, rng in enumerate(seeds(31, 20)):
        scene, _ = scene_with_both_ends(EARS_SEEN[i % len(EARS_SEEN)], rng, aims=FANNED)
        if scene is not None:
            found.append((scene, cards_of(scene, FIVE, rng), rng))
    assert len(found) > 16
    return found


def test_twenty_scenes_keep_their_word(twenty) -> None:
    scores = [
        score(scene, marked(scene, cards, setting.u_px, rng, dots=setting.dots), setting, 0.0, 1)
        for scene, cards, rng in twenty
        for setting in (SNAPPED, HAND)
    ]
    for setting, limit_mm in ((SNAPPED, 0.10), (HAND, 0.24)):
        own = [s.channel for s in scores if s.setting == setting and s.channel is not None]
        errors = np.array([length.error_mm for length in own])
        assert len(own) > 15
        assert np.sqrt(np.mean(errors**2)) < limit_mm
        # 20 draws at 95 %: three standard deviations are 15 %.
        assert np.mean([length.inside for length in own]) > 0.80
    relief = [s.relief.error_mm for s in scores if s.setting == HAND and s.relief is not None]
    assert np.sqrt(np.mean(np.square(relief))) < 0.30
    run = Run(scores, len(scores), len(twenty))
    table = views_table(run, run, [], [])
    assert "## Five photos, fanned 15-25°" in table
    assert "## Five photos as the guide asks" in table


@pytest.mark.parametrize("spoil", [swapped, other_ear, flipped])
def test_what_is_the_matter_with_a_photo_is_said(twenty, spoil) -> None:
    told = 0
    for scene, cards, rng in twenty[:3]:
        wrong, which = spoil(scene, marked(scene, cards, 0.3, rng, dots="ties"), rng)
        found = dots_in_space(wrong, 0.5)
        if isinstance(found, ViewsRefused):
            told += found.why in {"swapped", "odd", "misfit"}
        else:
            odd = {name for said in found.said for name in said.photos}
            told += bool(odd & which) or found.card_moved or bool(found.refused)
    assert told == 3


def test_a_moved_card_is_solved_or_said_where_ties_tell() -> None:
    scores = [s for s in run_moves(1, 5, (1.0,)) if s.dots == "ties" and s.u_px == 0.3]
    assert len(scores) == 6
    good = [s.caught or (s.channel is not None and s.channel.inside) for s in scores]
    assert sum(good) >= 5
    assert all(s.caught for s in scores if s.told_mm == 0.0)


def test_pushes_of_one_scene_count_as_one_draw() -> None:
    def score(scene: int, axis: str, inside: bool) -> MoveScore:
        return MoveScore(scene, 1.0, axis, "ties", 0.3, 0.5, Length(0.0, 0.1, inside), False)

    together = [score(scene, axis, scene > 0) for scene in range(4) for axis in "xyz"]
    # One of four scenes outside with all its pushes: sd of one draw in four, over their root.
    assert strays(together) == pytest.approx(100 * np.sqrt(0.25 * 0.75 / 4))
    apart = [
        score(scene, axis, (scene, axis) != (scene, "xyz"[scene]))
        for scene in range(3)
        for axis in "xyz"
    ]
    assert strays(apart) == pytest.approx(0.0)


@pytest.fixture(scope="module")
def slim():
    """Return one of the benchmark's sets whose ends all snap: its random numbers, and what came."""
    (shots,) = run_shots(2, whole=False, done=[0])
    return list(seeds(SEED, 2))[1], shots


def test_dots_on_pixels_give_the_channel_where_they_snap(slim, tmp_path) -> None:
    """One set with the dots of both ends found in pixels; the rest is in benchmarks/views.md."""
    _, shots = slim
    assert shots.card == "fixed"
    assert [shots.taps[end][2] for end in ("entry", "exit")] == [0, 0]  # none by hand
    channel, relief = shots.lengths["five"]
    assert channel is not None
    assert relief is not None
    assert abs(channel.error_mm) < 0.15
    assert abs(relief.error_mm) < 0.30
    assert channel.half_mm < 0.35  # with an end by hand 0.5
    keep(shots, tmp_path / "kept.jsonl")
    assert kept_shots(tmp_path / "kept.jsonl") == [shots]
    table = shots_table([shots], (1, 0))
    assert "| five | fixed | 1 |" in table
    report = with_part("# All\n\n## One\n\na\n", table)
    assert with_part(report, table) == report
    assert part_of(report, PART) == table


def test_a_whole_rendered_photo_is_read_as_any(slim) -> None:
    rng, _ = slim
    found, drawn = shown_scene("slim-deep", rng, 1)
    assert found is not None
    assert drawn == 1
    scene, pen = found
    shot = read_whole(scene, "above-1", scene.standing, pen, "placement", rng)
    assert shot.reading.fit is not None
    assert {each.dot for each in shot.tapped} == {
        name for name in scene.seen["above-1"] if not name.startswith("tie")
    }
    assert whole_outcome(scene, [shot], 0.0) is None  # one photo is none in space
