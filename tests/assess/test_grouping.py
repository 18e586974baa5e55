"""Layouts against brute force, and what no proposal may do."""

from dataclasses import replace
from itertools import combinations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from assess.criteria import DEFAULT_CRITERIA, Limit
from assess.grouping import ENOUGH, NoLayout, Proposal, Rim, propose
from assess.how_many import how_many
from assess.plan import Plan, lay
from assess.spacing import Earlier, Laid, Needs, clearances
from assess.together import planned_together
from calibration.draws import Draws
from tests.assess.rims import ring, tapering, view

EVEN = Rim(ring(), view())
TAPERING = tapering()
PIERCED = Rim(
    ring(shift=(1.0, 0.4)),
    view(),
    earlier=(
        Earlier("forward hole", (47.0, 44.0), (47.0, 44.0), 3.0),
        Earlier("bar", (71.0, 44.5), (66.0, 51.0), 4.0, bar_mm=1.6, planned=True),
    ),
)
SHORT = Rim(ring(span=(1.3, 1.6)), view())
RIMS = {"even": EVEN, "tapering": TAPERING, "pierced": PIERCED, "short": SHORT}
EVERY = pytest.mark.parametrize("rim", RIMS.values(), ids=RIMS.keys())
DRAWS = Draws(1, 4000)


def brute_even(rim: Rim, count: int, step: float) -> float:
    """Return the best score of all even layouts whose start and step lie on a grid."""
    length = rim.curve.length_mm
    starts = np.arange(0.0, length, step)
    best = -np.inf
    for width in np.arange(step, length / (count - 1) + step, step):
        places = starts[:, None] + width * np.arange(count)
        best = max(best, float(rim.score(places[places[:, -1] <= length]).max(initial=-np.inf)))
    return best


def brute_free(rim: Rim, count: int, step: float) -> float:
    """Return the best score of all layouts whose places lie on a grid."""
    grid = np.arange(0.0, rim.curve.length_mm, step)
    places = np.array(list(combinations(grid, count)))
    return max(float(rim.score(part).max()) for part in np.array_split(places, 40))


@EVERY
@pytest.mark.parametrize("count", [2, 3, 4])
def test_an_even_layout_is_within_a_hundredth_of_the_best_on_a_grid(rim: Rim, count: int) -> None:
    best = brute_even(rim, count, 0.1)
    found = propose(rim, count, "arc")
    if best <= 0.0:
        assert isinstance(found, NoLayout)
        return
    assert isinstance(found, Proposal)
    score = float(rim.score(found.plan.arc_mm))
    assert score >= 0.99 * best
    # And the steps are even.
    steps = np.diff(found.plan.arc_mm)
    assert np.ptp(steps) == pytest.approx(0.0, abs=1e-9)


@EVERY
@pytest.mark.parametrize(("count", "step"), [(2, 0.25), (3, 0.5)])
def test_a_free_layout_is_within_a_hundredth_of_the_best_on_a_grid(
    rim: Rim, count: int, step: float
) -> None:
    best = brute_free(rim, count, step)
    found = propose(rim, count, "free")
    if best <= 0.0:
        assert isinstance(found, NoLayout)
        return
    assert isinstance(found, Proposal)
    assert float(rim.score(found.plan.arc_mm)) >= 0.99 * best


FINE_MM = 0.01


def brute_sight(rim: Rim, count: int, step: float) -> float:
    """Return the best score of layouts that step from point to point of a fine line as seen."""
    arc = np.arange(0.0, rim.curve.length_mm, FINE_MM)
    line, best = rim.curve.at(arc), -np.inf
    for start in np.arange(0, len(arc), round(step / FINE_MM)):
        for width in np.arange(step, rim.curve.length_mm / (count - 1) + step, step):
            at = [int(start)]
            while len(at) < count:
                ahead = np.hypot(*(line[at[-1] + 1 :] - line[at[-1]]).T) >= width
                if not ahead.any():
                    break
                at.append(at[-1] + 1 + int(np.argmax(ahead)))
            if len(at) == count:
                best = max(best, float(rim.score(arc[at])))
    return best


@EVERY
@pytest.mark.parametrize("count", [3, 5])
def test_even_by_sight_the_entries_are_as_far_apart_as_seen(rim: Rim, count: int) -> None:
    best, found = brute_sight(rim, count, 0.5), propose(rim, count, "sight")
    # The brute force's steps are even to the line's own fineness only.
    rounding = FINE_MM / rim.profile.u_spacing_mm / ENOUGH
    if isinstance(found, NoLayout):
        assert best <= rounding
        return
    assert float(rim.score(found.plan.arc_mm)) >= 0.99 * best - rounding
    places = rim.curve.at(found.plan.arc_mm)
    apart = np.hypot(*np.diff(places, axis=0).T)
    assert np.ptp(apart) < 0.01 * apart.mean()


def test_even_by_arc_and_by_sight_differ_where_the_rim_bends_unevenly() -> None:
    by_arc, by_sight = propose(EVEN, 5, "arc"), propose(EVEN, 5, "sight")
    assert isinstance(by_arc, Proposal)
    assert isinstance(by_sight, Proposal)
    chords = np.hypot(*np.diff(EVEN.curve.at(by_arc.plan.arc_mm), axis=0).T)
    assert np.ptp(chords) > 0.1
    assert np.ptp(np.diff(by_sight.plan.arc_mm)) > 0.1


def test_the_step_that_is_wished_for_is_the_step() -> None:
    found = propose(replace(EVEN, step_mm=11.0), 3, "arc")
    assert isinstance(found, Proposal)
    np.testing.assert_allclose(np.diff(found.plan.arc_mm), 11.0, atol=1e-9)
    # The group sits in the middle of what the rim has.
    (start, end), *_ = EVEN.profile.stretches(ENOUGH)
    assert found.plan.arc_mm.mean() == pytest.approx((start + end) / 2, abs=0.2)


def test_axes_stand_along_the_normals_or_all_upright() -> None:
    by_normal, upright = propose(EVEN, 3), propose(replace(EVEN, upright=True), 3)
    assert isinstance(by_normal, Proposal)
    assert by_normal.plan.lean_deg.tolist() == [0.0] * 3
    assert isinstance(upright, Proposal)
    laid = lay(upright.plan, EVEN.curve)
    assert isinstance(laid, Laid)
    way = laid.exit_mm - laid.entry_mm
    np.testing.assert_allclose(way[:, 0], 0.0, atol=0.02)
    assert (way[:, 1] > 4.5).all()


holes = st.lists(
    st.tuples(st.floats(40.0, 80.0), st.floats(36.0, 62.0), st.floats(0.0, 6.0)), max_size=3
)


@settings(max_examples=40, deadline=None)
@given(
    st.integers(1, 5),
    st.sampled_from(["arc", "sight", "free"]),
    st.floats(4.0, 14.0),
    st.floats(0.0, 3.0),
    st.floats(1.5, 6.0),
    holes,
    st.booleans(),
    st.booleans(),
)
def test_no_proposal_breaks_a_spacing_limit(
    count: int,
    spacing: str,
    apart_mm: float,
    gap_mm: float,
    end_mm: float,
    there: list[tuple[float, float, float]],
    upright: bool,
    tapers: bool,
) -> None:
    """Held against distances taken anew from where the plan lies on the rim."""
    earlier = tuple(Earlier(f"hole {i}", (x, y), (x, y), d) for i, (x, y, d) in enumerate(there))
    rim = Rim(
        TAPERING.curve if tapers else EVEN.curve,
        view(),
        Needs(Limit(apart_mm, None), gap_mm),
        earlier,
        ends_mm=(end_mm, end_mm),
        upright=upright,
    )
    found = propose(rim, count, spacing)  # type: ignore[arg-type]
    if isinstance(found, NoLayout):
        assert found.most <= 5
        return
    laid = lay(found.plan, rim.curve)
    assert isinstance(laid, Laid)
    middle = laid.middle_mm
    for i, j in combinations(range(count), 2):
        assert np.hypot(*(middle[i] - middle[j])) >= apart_mm - 0.02
        for ends in (laid.entry_mm, laid.exit_mm):
            assert np.hypot(*(ends[i] - ends[j])) >= end_mm + gap_mm - 0.02
    for x, y, wide in there:
        for ends in (laid.entry_mm, laid.exit_mm):
            near = np.hypot(*(ends - [x, y]).T).min()
            assert near >= max(apart_mm, (end_mm + wide) / 2 + gap_mm) - 0.02
    tightest = clearances(laid, rim.needs, earlier)
    assert all(each.margin_mm >= -0.02 for each in tightest)
    lengths = np.hypot(*(laid.exit_mm - laid.entry_mm).T)
    assert (lengths > 4.0).all()
    assert (lengths < 11.0).all()


@settings(max_examples=30, deadline=None)
@given(
    st.lists(st.floats(1.0, 53.0), min_size=2, max_size=5, unique=True),
    st.lists(st.floats(-20.0, 20.0), min_size=5, max_size=5),
    st.floats(0.05, 1.0),
)
def test_more_placements_never_raise_the_joint_probability(
    arcs: list[float], leans: list[float], u_line_mm: float
) -> None:
    known = replace(view(), u_line_mm=(u_line_mm, u_line_mm))
    whole = EVEN.plan(np.array(arcs))
    tilted = zip(whole.placements, leans, strict=False)
    placed = tuple(replace(p, lean_deg=p.lean_deg + by) for p, by in tilted)
    before = 1.0
    for count in range(1, len(placed) + 1):
        joint = planned_together(
            Plan(placed[:count]), TAPERING.curve, known, DEFAULT_CRITERIA, DRAWS
        )
        assert joint.probability is not None
        assert joint.probability <= before
        # Never more than any of its parts.
        assert joint.probability <= min(joint.each.values())
        before = joint.probability


def test_what_placements_share_makes_them_likelier_together_than_one_by_one() -> None:
    """Near a limit that all are near, they keep it or break it together."""
    tight = replace(DEFAULT_CRITERIA, limits=DEFAULT_CRITERIA.limits | {"channel": Limit(5.8, 10)})
    plan = EVEN.plan(np.array([10.0, 20.0, 30.0, 40.0]))
    sharp = replace(view(), u_line_mm=(0.02, 0.02))
    joint = planned_together(plan, EVEN.curve, sharp, tight, Draws(1, 20_000), tissue="firm")
    single = np.array(list(joint.each.values()))
    assert (single < 0.9).all()
    assert joint.probability is not None
    assert joint.probability > float(single.prod()) + 0.2


def test_how_many_the_rim_supports_and_what_rules_it() -> None:
    thick = how_many(EVEN, DEFAULT_CRITERIA, DRAWS, tissue="firm", cover_mm=np.full(4000, 2.5))
    assert (thick.count, thick.why, thick.settled) == (5, "five", True)
    assert thick.joint is not None
    assert thick.joint.supports(DEFAULT_CRITERIA)

    thin = how_many(SHORT, DEFAULT_CRITERIA, DRAWS)
    assert 1 <= thin.count < 5
    assert thin.why in {"room", "together"}
    assert not thin.settled

    far = replace(EVEN, needs=Needs(Limit(26.0, None), 1.0))
    ruled = how_many(far, DEFAULT_CRITERIA, DRAWS)
    assert ruled.why in {"room", "together"}
    assert ruled.count < 5


def test_an_earlier_piercing_is_named_where_it_takes_the_room() -> None:
    wide = replace(SHORT, needs=Needs(Limit(8.0, None), 1.0))
    x, y = SHORT.curve.at(np.array(SHORT.curve.length_mm / 2)).tolist()
    hole = Earlier("hole", (x, y), (x, y), 4.0)
    free = how_many(wide, DEFAULT_CRITERIA, DRAWS)
    found = how_many(replace(wide, earlier=(hole,)), DEFAULT_CRITERIA, DRAWS)
    assert found.count < free.count
    assert found.why == "earlier"
    assert found.without >= free.count


def test_a_thin_rim_carries_none_and_a_soft_one_is_never_settled() -> None:
    thin = Rim(ring((17.0, 22.0), (14.0, 19.0)), view())
    none = how_many(thin, DEFAULT_CRITERIA, DRAWS)
    assert (none.count, none.why, none.layout) == (0, "length", None)
    soft = how_many(EVEN, DEFAULT_CRITERIA, DRAWS, tissue="soft", cover_mm=np.full(4000, 2.5))
    assert not soft.settled
    assert soft.joint is not None
    assert not soft.joint.supports(DEFAULT_CRITERIA)


def test_too_little_tissue_beside_the_posts_is_the_reason_of_all() -> None:
    spread = np.random.default_rng(3).normal(1.5, 0.3, 4000)
    found = how_many(EVEN, DEFAULT_CRITERIA, DRAWS, tissue="firm", cover_mm=spread)
    assert (found.count, found.why) == (0, "together")
    assert found.one_more is not None
    assert found.one_more.least == ("A", "cover")


def test_more_than_five_are_not_planned() -> None:
    with pytest.raises(ValueError, match="1 to 5"):
        propose(EVEN, 6)
