"""A post held against its baseline in space, on invented places of known uncertainty."""

from __future__ import annotations

import numpy as np
import pytest
from scipy.spatial.transform import Rotation
from scipy.stats import chi2

from assess.recheck_change import Change, Leaned
from assess.recheck_marks import WornPost
from assess.recheck_space import axes_of, compare_in_space
from assess.recheck_space_points import VisitPoints, shared_points
from assess.recheck_words import change_sentences, one_view_sentence
from calibration.draws import Draws
from calibration.frames import Array
from calibration.space_points import Loading, SpacePoints

SIGMA_MM = 0.08
TIES = {
    "tie: mole": (12.0, 30.0, -4.0),
    "tie: lobe": (-6.0, 45.0, 2.0),
    "tie: behind": (25.0, 10.0, 6.0),
    "tie: front": (-18.0, 18.0, 3.0),
}
POST = np.array([[0.0, -7.0, 0.0], [0.0, 7.0, 0.0]])
ENDS = ("A/entry_end", "A/exit_end")
DRAWS = Draws(1, 20_000, "baseline"), Draws(1, 20_000, "now")
STILL = (WornPost(u_slide_mm=0.0), WornPost(u_slide_mm=0.0))


def visit(
    post: Array = POST,
    ties: dict[str, tuple[float, float, float]] = TIES,
    *,
    ear: Rotation | None = None,
    off: Array | None = None,
) -> VisitPoints:
    """Return a visit's points, the whole ear lying otherwise before its card if asked."""
    names = (*ENDS, *ties)
    at = np.concatenate([post, np.array(list(ties.values())).reshape(-1, 3)])
    if ear is not None:
        at = ear.apply(at) + np.array([5.0, -3.0, 9.0])
    if off is not None:
        at = at + off
    own = tuple(
        Loading(f"mark: {name}", name, SIGMA_MM * np.eye(at.size)[:, 3 * i : 3 * i + 3])
        for i, name in enumerate(names)
    )
    return VisitPoints(SpacePoints(names, at, own), ("a.jpg", "b.jpg"))


def compared(first: VisitPoints | None, later: VisitPoints | None, **more: object) -> Change | str:
    told = {"posts": STILL, "face": 1.0, "draws": DRAWS} | more
    posts, face, draws = told["posts"], told["face"], told["draws"]
    return compare_in_space(
        "A", (first, later), posts, frozenset("A"), face, draws, same_print=True
    )  # type: ignore[arg-type]


def change(first: VisitPoints, later: VisitPoints, **more: object) -> Change:
    found = compared(first, later, **more)
    assert isinstance(found, Change), found
    return found


def test_an_ear_that_lies_otherwise_before_its_card_changes_nothing() -> None:
    found = change(visit(), visit(ear=Rotation.from_rotvec([0.2, -0.3, 0.15])))
    assert found.tilt.value == pytest.approx(0.0, abs=1e-5)
    assert not found.tilt.moved
    for shift in found.ends.values():
        assert shift.size == pytest.approx(0.0, abs=1e-6)
        assert 3 * SIGMA_MM < shift.expanded < 10 * SIGMA_MM
    said = change_sentences(found)
    assert said[0].startswith("In space, by 2 and 2 photos, laid on each other by mole, lobe")
    assert " ".join(said).count("no measurable change") == 3


@pytest.mark.parametrize("face", [1.0, -1.0])
def test_a_post_that_leans_to_the_face_and_outward_is_told_so(face: float) -> None:
    """y runs down and the viewer is at negative z: the upper end goes left, and to the viewer."""
    way = np.array([-np.sin(np.deg2rad(6.0)), 0.0, -np.sin(np.deg2rad(8.0))])
    axis = np.array([way[0], -np.sqrt(1 - way @ way), way[2]])
    found = change(visit(), visit(7.0 * np.array([axis, -axis])), face=face)
    assert isinstance(found.tilt, Leaned)
    whole = np.rad2deg(np.arcsin(np.linalg.norm(way)))
    assert found.tilt.value == pytest.approx(whole, abs=1e-6)
    parts = -whole * way[[0, 2]] / np.linalg.norm(way)
    np.testing.assert_allclose(found.tilt.way.vector, parts * [face, 1.0], atol=1e-6)
    np.testing.assert_allclose(
        found.ends["entry"].vector,
        [-7.0 * (1 + axis[1]), -7 * way[0] * face, -7 * way[2]],
        atol=1e-6,
    )
    said = change_sentences(found)[1]
    assert f"toward the {'face' if face > 0 else 'back'} and" in said
    assert "outward, away from the head" in said


def test_u_of_the_tilt_is_that_of_two_pairs_of_ends() -> None:
    """Beside ties that are known without error: sqrt(4) sigma over the post's length, each way."""
    found = change(visit(), visit())
    free = change(_sure(visit()), _sure(visit()))
    assert isinstance(free.tilt, Leaned)
    expected = np.rad2deg(2 * SIGMA_MM / 14.0)
    np.testing.assert_allclose(np.sqrt(np.diag(free.tilt.way.covariance)), expected, rtol=1e-3)
    assert found.tilt.u > free.tilt.u
    np.testing.assert_allclose(
        np.cov(found.draws[:2]),
        found.tilt.way.covariance,
        rtol=0.05,
        atol=0.02,  # type: ignore[attr-defined]
    )
    assert found.draws.shape == (8, 20_000)


def _sure(seen: VisitPoints) -> VisitPoints:
    kept = tuple(x for x in seen.points.loadings if "tie" not in x.name)
    return VisitPoints(SpacePoints(seen.points.names, seen.points.at_mm, kept), seen.photos)


@pytest.mark.memory(source="repeated trials; chi-squared with 2 and 3 degrees of freedom")
def test_the_stated_covariances_are_those_of_repeated_trials() -> None:
    """Places that err as told at both visits, the post unchanged: of tilt and both ends."""
    rng = np.random.default_rng(17)
    ear, size = Rotation.from_rotvec([0.2, -0.3, 0.15]), (2 + len(TIES), 3)
    few, off = (Draws(1, 2, "baseline"), Draws(1, 2, "now")), []
    for _ in range(300):
        noise = SIGMA_MM * rng.normal(size=(2, *size))
        found = change(visit(off=noise[0]), visit(ear=ear, off=noise[1]), draws=few)
        assert isinstance(found.tilt, Leaned)
        parts = (found.tilt.way, *found.ends.values())
        off.append([p.vector @ np.linalg.solve(p.covariance, p.vector) for p in parts])
    free = np.array([2, 3, 3])
    np.testing.assert_allclose(np.mean(off, axis=0), free, rtol=0.15)
    outside = np.mean(np.array(off) > chi2.ppf(0.95, free), axis=0)
    assert (outside < 0.09).all()
    assert (outside > 0.015).all()


def test_a_longer_post_and_one_that_slides() -> None:
    longer = POST + np.array([[0, 0, 0], [0, 2.0, 0]])
    told = (WornPost(8.0, 0.0), WornPost(10.0, 0.0))
    assert change(visit(), visit(longer), posts=told).ends["exit"].size < 1e-6
    untold = change(visit(), visit(longer)).ends["exit"]
    assert untold.vector[0] == pytest.approx(-2.0, abs=1e-6)
    sliding = change(visit(), visit(), posts=(WornPost(), WornPost())).ends["entry"]
    still = change(visit(), visit()).ends["entry"]
    added = sliding.covariance - still.covariance
    np.testing.assert_allclose(added, np.diag([2 * 0.3**2, 0.0, 0.0]), atol=1e-9)


@pytest.mark.memory(source="closed form, worked out here")
def test_a_post_that_leans_slides_and_is_longer_along_its_new_axis() -> None:
    lean = np.array([0.0, np.cos(np.deg2rad(15.0)), -np.sin(np.deg2rad(15.0))])
    leaned = np.array([POST[0], POST[0] + 14.0 * lean])
    longer = np.array([POST[0], POST[0] + 16.0 * lean])
    slid = change(visit(), visit(leaned), posts=(WornPost(), WornPost())).ends["entry"]
    still = change(visit(), visit(leaned)).ends["entry"]
    # The exit's end goes outward, to the viewer at negative z; the axis runs from it.
    then, now = np.array([1.0, 0.0, 0.0]), np.array([lean[1], 0.0, lean[2]])
    expected = 0.3**2 * (np.outer(then, then) + np.outer(now, now))
    np.testing.assert_allclose(slid.covariance - still.covariance, expected, atol=1e-9)
    told = (WornPost(8.0, 0.0), WornPost(10.0, 0.0))
    grown = change(visit(), visit(longer), posts=told).ends["exit"].vector
    np.testing.assert_allclose(grown, change(visit(), visit(leaned)).ends["exit"].vector, atol=1e-6)


def test_a_place_that_is_another_one_is_left_out_and_named() -> None:
    off = np.zeros((6, 3))
    off[3] = [4.0, 0.0, 0.0]
    found = change(visit(), visit(off=off))
    assert found.in_space is not None
    assert found.in_space.left_out == ("tie: lobe",)
    assert found.tilt.value == pytest.approx(0.0, abs=1e-5)
    assert "Left out, as it doesn't lie as the others do: lobe." in change_sentences(found)[0]


def test_why_it_isnt_compared_in_space() -> None:
    three = dict(list(TIES.items())[:3])
    off = np.zeros((5, 3))
    off[3] = [4.0, 0.0, 0.0]
    lined = {f"tie: {i}": (20.0, 10.0 * i, 0.1 * i) for i in range(4)}
    near = {**dict(list(TIES.items())[:2]), "tie: near": (3.0, 2.0, 0.0)}
    bare = SpacePoints(tuple(TIES), np.array(list(TIES.values())), ())
    assert compared(visit(), None) == "few_photos"
    assert compared(visit(), VisitPoints(bare, ("a.jpg",))) == "ends"
    assert compared(visit(ties=near), visit(ties=near)) == "few_points"
    assert compared(visit(ties=lined), visit(ties=lined)) == "in_line"
    assert compared(visit(ties=three), visit(ties=three, off=off)) == "no_match"
    for why in ("few_photos", "ends", "few_points", "in_line", "no_match"):
        assert one_view_sentence(why).startswith("By one photo of each visit: ")  # type: ignore[arg-type]


def test_places_that_go_with_a_post_are_no_lasting_ones() -> None:
    names = (*ENDS, "A/crest", "B/entry", "B/entry_end", "C/entry", "tie: mole")
    at = np.concatenate([POST, [[30.0 + 9 * i, 5.0, 0.0] for i in range(5)]])
    seen = VisitPoints(SpacePoints(names, at, ()), ("a.jpg",))
    kept = shared_points((seen, seen), "A", frozenset("AB"))
    assert kept == ("C/entry", "tie: mole")


def test_the_ways_are_those_of_the_plane() -> None:
    """As for one view: of a left ear the face lies to the left of up as seen."""
    frame = axes_of(np.array([0.0, -2.0, 0.0]), 1.0)
    np.testing.assert_allclose(frame, [[0, -1, 0], [-1, 0, 0], [0, 0, -1]], atol=1e-12)
