"""The engine's benchmark compares like with like."""

from __future__ import annotations

import time

import numpy as np
import pytest

from assess.measure import measure
from assess.read_marks import parse_marks
from assess.view_inputs import ViewMeasurement
from assess.view_model import OUTPUTS
from benchmarks.engines import Timed, furthest, rounding_mm, three_placements, timed
from benchmarks.other_engines import by_gtc
from benchmarks.photo_cost import FACTOR, enlarged, photo_12mp, sample_marks
from calibration.first_order import first_order
from calibration.photo import read_photo


@pytest.fixture(scope="module")
def view() -> ViewMeasurement:
    return three_placements()


def test_the_timed_model_is_three_placements_with_visible_edges(view: ViewMeasurement) -> None:
    assert len(view.model.placements) == 3
    assert all(ends.outlined == (True, True) for ends in view.model.placements)


def test_first_order_is_at_least_three_times_as_quick_as_gtc(view: ViewMeasurement) -> None:
    """Both give value, u, degrees of freedom and every part; the margin is about tenfold."""

    def best(act) -> float:
        times = []
        for _ in range(7):
            start = time.process_time()
            act()
            times.append(time.process_time() - start)
        return min(times)

    assert best(lambda: by_gtc(view)) > 3 * best(lambda: first_order(view.unfolded, view.inputs))
    ours = first_order(view.unfolded, view.inputs)[:: len(OUTPUTS)]
    for one, other in zip(ours, by_gtc(view), strict=True):
        assert one.u == pytest.approx(other.u, rel=1e-7)


def test_single_floats_would_move_a_channel_by_less_than_a_micrometre(
    view: ViewMeasurement,
) -> None:
    assert 0.0 < rounding_mm(view) < 1e-3


def test_turns_are_interleaved_and_ratios_pair_them() -> None:
    order: list[str] = []

    def act(name: str):
        return lambda: np.array([order.append(name) or len(order)])

    found = timed({"a": act("a"), "b": act("b")}, {"a": 4, "b": 2})
    assert "".join(order) == "a" + "abab" + "aa"  # one to warm up, of the quick one
    assert [len(one.seconds) for one in found.values()] == [4, 2]
    quick, slow = Timed((1.0, 1.0, 9.0), np.ones(1)), Timed((3.0, 5.0), np.ones(1))
    assert slow.over(quick) == 4.0
    assert quick.median_s == 1.0


def test_the_gap_between_two_runs_is_told_in_standard_errors() -> None:
    rng = np.random.default_rng(6)
    one, other = (rng.normal(size=(2, 20_000)) for _ in range(2))
    assert furthest(one, other) < 4.5
    assert furthest(one, other + 0.2) > 10


def test_an_enlarged_photo_keeps_its_marks_in_place() -> None:
    assert FACTOR == 2
    assert enlarged({"a": [[0.0, 10.0]], "b": ["entry", "exit"], "c": 1.5}) == {
        "a": [[0.5, 20.5]],
        "b": ["entry", "exit"],
        "c": 1.5,
    }
    small, folder = sample_marks("three")
    channels = []
    for document, data in (
        (small, (folder / "square-on.jpg").read_bytes()),
        reversed(photo_12mp("three")),
    ):
        photo = read_photo(data)
        found = measure(parse_marks(document), {"square-on.jpg": photo}, draws=4000).result
        channels.append([one.channel.value for one in found.placements if one.channel])
    assert photo.size == (4000, 3000)
    assert len(channels[0]) == 3
    assert channels[1] == pytest.approx(channels[0], abs=0.03)
