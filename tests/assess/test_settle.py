"""Which step would settle it: by budgets in which one line weighs most, and a closed form."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from scipy.stats import norm

from assess.budget import Line
from assess.channel import Channel
from assess.criteria import DEFAULT_CRITERIA, DecisionRule
from assess.marks import CaliperMarks, Marks, PhotoMarks, PlacementMarks
from assess.placing import axes_in
from assess.settle import Outlook, settle
from assess.steps import BAND, COSTS_MIN, MARKS, MEASURED_BY, OFFSET, SCALE, TILT, Circumstances
from assess.verdict import Decision, decide
from assess.wording import STEP_WORDS
from calibration.draws import Draws

M = 50_000
SQUARE_ON = Circumstances(tilt_deg=3.0, print_read=True, u_offset_mm=1.0)


def normal(value: float, u: float, seed: int) -> np.ndarray:
    return value + u * np.random.default_rng(seed).standard_normal(M)


def parts(**lines: float) -> dict[str, float]:
    """Return a budget (mm²) of small lines, with the ones given in their place."""
    usual = {"marks": 0.001, "tilt": 0.001, "offset": 0.001, "scale": 0.0005, "band": 0.0}
    usual |= lines
    half = usual["marks"] / 2
    return {
        "mark of the entry": half,
        "mark of the exit": half,
        "card corners, pose and lens": 0.0001,
        "offset of the rim from the card": usual["offset"],
        "tilt of the rim against the card": usual["tilt"],
        "scale of the print": usual["scale"],
        "visible band for the channel": usual["band"],
    }


def lines(budget: dict[str, float]) -> tuple[Line, ...]:
    return tuple(
        Line(name, part, "normal", np.inf, "assumed", "invented") for name, part in budget.items()
    )


def near_limit(
    budget: dict[str, float], sigmas: float = 0.7, **evidence: np.ndarray | None
) -> tuple[Decision, Channel]:
    """Return an undecided verdict: a channel so many u inside its least, all else in order."""
    u = sum(budget.values()) ** 0.5
    draws = normal(4.5 + sigmas * u, u, 1)
    found = {
        "channel": draws,
        "relief": normal(6.0, 0.3, 2),
        "cover_front": normal(3.0, 0.3, 3),
        "cover_behind": normal(3.0, 0.3, 4),
        "room_below": normal(9.0, 0.3, 5),
    } | evidence
    decision = decide(found, "firm", DEFAULT_CRITERIA)
    assert decision.verdict == "undecided"
    return decision, Channel(draws, "one_view", lines(budget))


def steps(outlooks: list[Outlook]) -> list[str]:
    return [outlook.step.name for outlook in outlooks]


@pytest.mark.parametrize("sigmas", [-0.8, 0.0, 0.7, 1.3])
@pytest.mark.parametrize("marks", [0.05, 0.08, 0.1])
def test_where_the_marks_weigh_most_marking_again_is_best(marks: float, sigmas: float) -> None:
    """Each mark has 0.16 to 0.22 mm: near the assumed 0.2 mm."""
    decision, channel = near_limit(parts(marks=marks), sigmas)
    assert steps(settle(decision, channel, SQUARE_ON))[0] == "mark_again"


@pytest.mark.parametrize("sigmas", [-0.8, 0.0, 0.7, 1.3])
@pytest.mark.parametrize(("tilt", "band"), [(0.2, 0.0), (0.1, 0.2)])
def test_where_tilt_and_band_weigh_most_several_views_are_best(
    tilt: float, band: float, sigmas: float
) -> None:
    decision, channel = near_limit(parts(tilt=tilt, band=band), sigmas)
    assert steps(settle(decision, channel, SQUARE_ON))[0] == "views"


def test_a_photo_off_square_is_better_taken_again_than_five_of_them() -> None:
    """Nearly as good, and cheaper: three minutes for eight."""
    decision, channel = near_limit(parts(marks=0.04, tilt=0.2))
    off = Circumstances(tilt_deg=18.0, print_read=True, u_offset_mm=1.0)
    assert steps(settle(decision, channel, off))[0] == "square_on"


@pytest.mark.parametrize("sigmas", [-0.8, 0.7, 1.3])
def test_where_the_print_was_not_read_the_check_bars_are_best(sigmas: float) -> None:
    """Snapped marks, a flat rim: 0.6 % of 10 mm is all there is."""
    budget = parts(marks=1e-4, tilt=1e-4, offset=1e-4, scale=0.06**2)
    decision, channel = near_limit(budget, sigmas)
    unread = Circumstances(tilt_deg=3.0, print_read=False, u_offset_mm=1.0)
    assert steps(settle(decision, channel, unread))[0] == "check_bars"
    assert "check_bars" not in steps(settle(decision, channel, SQUARE_ON))


def test_an_offset_that_nobody_read_is_read_with_the_rod() -> None:
    decision, channel = near_limit(parts(offset=0.04))
    unread = Circumstances(tilt_deg=3.0, print_read=True, u_offset_mm=5.0)
    assert steps(settle(decision, channel, unread))[0] == "offset"


def test_marks_that_are_only_as_unsure_as_their_definition_gain_nothing() -> None:
    """0.1 mm each is where two good piercers differ: marking again can't show it."""
    decision, channel = near_limit(parts(marks=0.02, tilt=0.1))
    found = settle(decision, channel, SQUARE_ON)
    assert "mark_again" not in steps(found)


@pytest.mark.parametrize("sigmas", [-1.0, 0.0, 0.5, 1.2])
@pytest.mark.parametrize("u_caliper", [0.1, 0.3])
def test_the_chance_is_that_of_the_normal_closed_form(sigmas: float, u_caliper: float) -> None:
    """The mean after a reading is N(m, v w), w = v / (v + u²), and v (1 - w) stays.

    A yes takes it 1.645 of what stays above the limit, a no as far below.
    """
    budget = parts(marks=0.02, tilt=0.1)
    decision, channel = near_limit(budget, sigmas)
    read = Circumstances(3.0, True, 1.0, CaliperMarks(u_channel_mm=u_caliper))
    (found,) = [o for o in settle(decision, channel, read) if o.step.name == "calipers"]
    inside, v = channel.draws.mean() - 4.5, channel.draws.var()
    weight = v / (v + u_caliper**2)
    stays, moves = (v * (1 - weight)) ** 0.5, (v * weight) ** 0.5
    yes = norm.cdf((inside - 1.645 * stays) / moves)
    no = norm.cdf((-inside - 1.645 * stays) / moves)
    assert found.chance_of_definite == pytest.approx(yes + no, abs=0.015)


@pytest.mark.parametrize("sigmas", [-0.5, 0.5])
def test_more_precise_steps_promise_more_and_risk_no_more_than_the_rule_allows(
    sigmas: float,
) -> None:
    decision, channel = near_limit(parts(marks=0.02, tilt=0.1), sigmas)
    promised = []
    for u in (0.1, 0.2, 0.4, 0.8):
        how = Circumstances(3.0, True, 1.0, CaliperMarks(u_channel_mm=u))
        (found,) = [o for o in settle(decision, channel, how) if o.step.name == "calipers"]
        assert found.risk_wrong_yes is not None
        assert found.risk_wrong_no is not None
        assert found.risk_wrong_yes + found.risk_wrong_no <= 0.05 * found.chance_of_definite
        promised.append((found.chance_of_definite, found.expected_probability))
    assert promised == sorted(promised, reverse=True)
    assert min(p for _, p in promised) >= max(decision.probability, 1 - decision.probability) - 1e-6


@pytest.mark.parametrize("sigmas", [-0.8, 0.7, 1.5])
def test_guard_bands_make_every_step_less_likely_to_settle_it(sigmas: float) -> None:
    chances = []
    for factor in (0.0, 1.0, 2.0):
        plain, channel = near_limit(parts(marks=0.08), sigmas)
        guarded = replace(plain, rule=DecisionRule(guard_factor=factor))
        found = settle(guarded, channel, SQUARE_ON)
        chances.append(sum(o.chance_of_definite or 0.0 for o in found))
    assert chances[0] > chances[1] > chances[2]


def test_what_is_not_measured_comes_first_and_nobody_foresees_it() -> None:
    decision, channel = near_limit(parts(marks=0.08), relief=None, cover_front=None)
    found = settle(decision, channel, SQUARE_ON)
    assert steps(found)[:2] == ["relief", "fold_depth"]
    assert [o.chance_of_definite for o in found[:2]] == [None, None]
    assert all(o.rest_holds for o in found[2:])
    assert steps(found)[2] == "mark_again"


def test_both_covers_lack_one_reading() -> None:
    decision, channel = near_limit(parts(marks=0.08), cover_front=None, cover_behind=None)
    assert steps(settle(decision, channel, SQUARE_ON)).count("fold_depth") == 1


def test_the_relief_is_read_again_where_it_is_the_relief_that_decides() -> None:
    budget = parts(marks=0.08)
    draws = normal(7.0, 0.3, 1)
    evidence = {"channel": draws, "relief": normal(3.2, 0.3, 2), "room_below": normal(9, 0.3, 3)}
    decision = decide(evidence, "firm", DEFAULT_CRITERIA)
    found = settle(decision, Channel(draws, "one_view", lines(budget)), SQUARE_ON)
    assert steps(found) == ["relief_again"]


@pytest.mark.parametrize("tissue", ["firm", "soft"])
def test_nothing_is_to_settle_where_it_is_settled_or_soft(tissue: str) -> None:
    draws = normal(7.0, 0.3, 1)
    decision = decide({"channel": draws}, tissue, DEFAULT_CRITERIA)
    assert settle(decision, Channel(draws, "one_view", lines(parts())), SQUARE_ON) == []


def test_without_a_channel_the_step_is_to_measure_it() -> None:
    decision = decide({"channel": None, "relief": normal(6, 0.3, 1)}, "firm", DEFAULT_CRITERIA)
    assert steps(settle(decision, None, Circumstances())) == ["channel"]


def test_by_calipers_alone_there_is_no_photo_to_better() -> None:
    draws = normal(4.7, 0.3, 1)
    decision = decide({"channel": draws}, "firm", DEFAULT_CRITERIA)
    how = Circumstances(caliper=CaliperMarks(channel_mm=4.7, u_channel_mm=0.3))
    channel = Channel(draws, "caliper", lines({"calipers": 0.09}))
    assert steps(settle(decision, channel, how)) == ["calipers_again"]


def test_the_same_draws_promise_the_same_to_the_last_digit() -> None:
    decision, channel = near_limit(parts(marks=0.08))
    first, again = (settle(decision, channel, SQUARE_ON) for _ in range(2))
    figures = [
        [(o.chance_of_definite, o.expected_probability) for o in each] for each in (first, again)
    ]
    assert figures[0] == figures[1]


def test_every_step_has_a_cost_and_words() -> None:
    assert set(COSTS_MIN) == set(STEP_WORDS)
    assert set(MEASURED_BY.values()) <= set(COSTS_MIN)


def test_the_budget_s_lines_are_those_that_the_steps_take_away(reading) -> None:
    """A line renamed in the budget would silently make a step worthless."""
    placement = PlacementMarks(label="1", entry=(700, 500), exit=(705, 540), outline=("exit",))
    photo = PhotoMarks(file="a.jpg", sigma_px=1.0, placements=(placement,))
    document = Marks(format="rimspan-marks/1", side="left", photos=(photo,))
    found = axes_in(photo, ["1"], document, reading(), Draws(1, 100))["1"].lines
    for beginning in (MARKS, TILT, OFFSET, SCALE, BAND):
        assert any(line.name.startswith(beginning) for line in found), beginning
