"""The channel's own model, by GTC, uncertainties and metrolopy from the same inputs.

``benchmarks.other_engines`` writes the model down anew, from docs/method.md, in those packages'
numbers; they propagate.
"""

from __future__ import annotations

from typing import Any

import numpy as np
import pytest
from scipy import stats

from assess.band_model import BAND_MODEL, BandModel, ear_band
from assess.budget import budget_lines, effective_dof
from assess.placing import measurement_in
from assess.read_marks import parse_marks
from assess.reading import PhotoReading
from assess.scale import print_scale
from assess.view_inputs import ViewMeasurement
from assess.view_model import OUTPUTS
from benchmarks.other_engines import (
    by_gtc,
    by_uncertainties,
    metrolopy_applied,
    metrolopy_channels,
    seed_metrolopy,
    simulate,
)
from calibration.card import FRAME
from calibration.draws import Draws
from calibration.first_order import FirstOrder, first_order
from calibration.lens import Camera, LensPrior
from calibration.monte_carlo import LEAST_BATCH, adaptive, propagate
from calibration.pose import PlaneFit, fit_plane

COUNT = 100_000
HEIGHT_MM = 6.0
ENTRIES_MM = ((58.0, 40.0), (66.0, 41.0), (74.0, 44.0))
BOTH, CHECKED = ["entry", "exit"], {"id": FRAME.id, "check_bar_mm": [100.5, 100.3]}
SIZE = (4000, 3000)


def photographed() -> PlaneFit:
    """Return the fit to a frame card at 260 mm, turned by 11 degrees; corners to 0.1 px."""
    truth = PlaneFit(
        Camera(3000.0, 3000.0, 1999.5, 1499.5, (0.03,)),
        np.array([0.16, -0.11, 0.04]),
        np.array([-62.0, -46.0, 260.0]),
        np.zeros((8, 8)),
        0.0,
        0,
    )
    corners = FRAME.corners_mm(FRAME.corner_ids)
    seen = truth.project(np.column_stack([corners, np.zeros(len(corners))]))
    seen += np.random.default_rng(5).normal(0.0, 0.1, seen.shape)
    guess = Camera(3040.0, 3040.0, 1999.5, 1499.5)
    fit = fit_plane(seen, corners, LensPrior(guess, 0.03, 0.05, "exif"))
    assert isinstance(fit, PlaneFit)
    return fit


def document(fit: PlaneFit, case: dict[str, Any]) -> dict[str, Any]:
    """Return a marks file whose placements are 7 mm long where they are seen."""
    placements = []
    for label, (x, y) in zip("ABC", ENTRIES_MM[: case["placements"]], strict=False):
        ways = {"entry": 0.0, "exit": 7.0, "below": 12.0}
        places = np.array([[x + 0.1 * way, y + way, -HEIGHT_MM] for way in ways.values()])
        points = dict(zip(ways, fit.project(places).tolist(), strict=True))
        placements.append({"label": label, **points, **case.get(label, {})})
    photo = {"file": "a.jpg", "placements": placements, **case.get("photo", {})}
    return {
        "format": "rimspan-marks/1",
        "side": "right",
        "card": case.get("card", {"id": FRAME.id}),
        "rim_plane": case.get("rim_plane", {"offset_mm": HEIGHT_MM}),
        "photos": [photo],
    }


CASES: dict[str, dict[str, Any]] = {
    "one placement, dots, everything told": {
        "placements": 1,
        "photo": {"sigma_px": 1.5},
        "card": CHECKED,
        "rim_plane": {"offset_mm": HEIGHT_MM, "u_offset_mm": 1.5, "u_tilt_deg": 4.0},
    },
    "one placement, edges by hand, print not checked": {
        "placements": 1,
        "A": {"outline": BOTH},
    },
    "three placements, an edge, a snapped dot, edges": {
        "placements": 3,
        "A": {"outline": ["exit"]},
        "B": {"snapped": ["entry"], "u_px": 0.2},
        "C": {"outline": BOTH},
    },
}
EVERY = pytest.mark.parametrize("case", CASES.values(), ids=CASES.keys())


def measured(case: dict[str, Any], band: BandModel = BAND_MODEL) -> ViewMeasurement:
    fit = photographed()
    marks = parse_marks(document(fit, case))
    scale = print_scale(FRAME, marks.card)
    middle = (2000.0, 1500.0)
    reading = PhotoReading(
        "a.jpg", SIZE, None, fit, scale, (), None, 11.0, 260.0, 0.8, target_px=middle
    )
    labels = [placement.label for placement in marks.photos[0].placements]
    return measurement_in(marks.photos[0], labels, marks, reading, band)


def ours_first(view: ViewMeasurement) -> tuple[FirstOrder, ...]:
    return first_order(view.unfolded, view.inputs)[:: len(OUTPUTS)]


def ours_drawn(view: ViewMeasurement) -> np.ndarray:
    return propagate(view.folded, view.folded_inputs, Draws(1, COUNT))[:: len(OUTPUTS)]


@EVERY
@pytest.mark.published(source="GTC 1.5", where="value, uncertainty, dof, reporting.sensitivity")
def test_the_channel_and_its_whole_budget_are_gtc_s(case: dict[str, Any]) -> None:
    view = measured(case)
    for ours, theirs in zip(ours_first(view), by_gtc(view), strict=True):
        assert ours.value == pytest.approx(theirs.value, rel=1e-12)
        assert ours.u == pytest.approx(theirs.u, rel=1e-7)
        assert ours.dof == pytest.approx(theirs.dof, rel=1e-6)
        assert ours.variances == pytest.approx(theirs.variances, rel=1e-6, abs=1e-12)
        assert len(ours.variances) == len(view.inputs)


@EVERY
@pytest.mark.published(source="GTC 1.5", where="dof, with one ensemble for all marks by hand")
def test_the_budget_s_lines_keep_gtc_s_degrees_of_freedom(case: dict[str, Any]) -> None:
    view = measured(case)
    found = zip(view.model.placements, ours_first(view), by_gtc(view), strict=True)
    for ends, ours, theirs in found:
        lines = budget_lines(ours, view.inputs, ends.label)
        assert effective_dof(lines) == pytest.approx(theirs.dof, rel=1e-3)
        assert sum(line.variance for line in lines) == pytest.approx(theirs.u**2, rel=1e-7)


@EVERY
@pytest.mark.published(source="uncertainties 3.2", where="correlated_values, error_components")
def test_the_channel_and_its_whole_budget_are_those_of_uncertainties(case: dict[str, Any]) -> None:
    view = measured(case)
    for ours, theirs in zip(ours_first(view), by_uncertainties(view), strict=True):
        assert ours.value == pytest.approx(theirs.value, rel=1e-12)
        assert ours.u == pytest.approx(theirs.u, rel=1e-7)
        assert ours.variances == pytest.approx(theirs.variances, rel=1e-6, abs=1e-12)


def figures(values: np.ndarray) -> np.ndarray:
    ends = np.quantile(values, [0.005, 0.025, 0.16, 0.5, 0.84, 0.975, 0.995])
    return np.array([values.mean(), values.std(ddof=1), *ends])


def error(values: np.ndarray) -> np.ndarray:
    """Return the standard errors of those, from 25 parts of the draws."""
    parts = [figures(part) for part in np.array_split(values, 25)]
    return np.asarray(np.std(parts, axis=0, ddof=1) / 5.0)


def assert_same(ours: np.ndarray, theirs: np.ndarray) -> None:
    for a, b in zip(ours, theirs, strict=True):
        gap = np.abs(figures(a) - figures(b))
        assert (gap <= 4 * np.hypot(error(a), error(b))).all(), (figures(a), figures(b))


@pytest.mark.parametrize("name", list(CASES)[:2])
@pytest.mark.published(source="metrolopy 1.1", where="gummy.simulate of every single input")
def test_the_draws_are_metrolopy_s(name: str) -> None:
    """Its numbers, its distributions, its simulation: mean, sd and quantiles."""
    view = measured(CASES[name])
    seed_metrolopy(11)
    assert_same(ours_drawn(view), simulate(metrolopy_channels(view), COUNT // 2))


@pytest.mark.published(source="metrolopy 1.1", where="MultiNormalDist, MultiTDist, simulate")
def test_three_placements_drawn_by_metrolopy_correlate_as_ours() -> None:
    view = measured(CASES["three placements, an edge, a snapped dot, edges"])
    seed_metrolopy(12)
    theirs = metrolopy_applied(view.unfolded, view.inputs)(COUNT)[:: len(OUTPUTS)]
    ours = ours_drawn(view)
    assert_same(ours, theirs)
    # Shared offset, tilt, print and pose; 4 standard errors of a difference of two r.
    np.testing.assert_allclose(np.corrcoef(ours), np.corrcoef(theirs), atol=4 * np.sqrt(2 / COUNT))
    assert np.corrcoef(ours)[0, 1] > 0.1


@EVERY
@pytest.mark.memory(source="JCGM 101:2008, 7.9.4, the adaptive procedure; from memory")
def test_as_many_draws_as_the_program_takes_are_enough(case: dict[str, Any]) -> None:
    view = measured(case)
    found = adaptive(
        lambda values: view.folded(values)[0], view.folded_inputs, Draws(9, LEAST_BATCH), digits=2
    )
    assert found.settled
    q = found.quantity
    fixed = figures(ours_drawn(view)[0])[[0, 1, 3, 7]]
    slack = found.tolerance + 3 * error(ours_drawn(view)[0])[[0, 1, 3, 7]]
    assert (np.abs(fixed - [q.value, q.u, q.low, q.high]) <= slack).all()


LEVEL = ((0.0105, 0.0096), (0.0096, 0.1045))
FEW_EARS = BandModel(
    mean=(0.082, -0.054, 0.0, 0.413, 0.208, 0.0),
    scale=tuple(
        tuple(LEVEL[i // 3][j // 3] if i % 3 == j % 3 == 0 else 0.0 for j in range(6))
        for i in range(6)
    ),
    dof=12,
    ears=14,
)
"""A band known from few ears, whose errors differ by a level alone; the program's own comes from
so many that its t is all but normal."""
EDGES = CASES["one placement, edges by hand, print not checked"]
DOTS = {"placements": 1}
MANY = Draws(3, 400_000)


def both(
    case: dict[str, Any], band: BandModel = BAND_MODEL
) -> tuple[FirstOrder, np.ndarray, ViewMeasurement]:
    view = measured(case, band)
    (plain,) = ours_first(view)
    return plain, propagate(view.folded, view.folded_inputs, MANY)[0], view


@pytest.mark.published(source="closed forms", where="E[1/cos t] - 1 = u(t)²/2")
def test_first_order_misses_that_a_tilted_rim_is_longer() -> None:
    """By 0.04 mm of 7 mm, and so the draws' mean is what is shown.

    A rim turned about the card's axes by an unknown angle, u 5.8 degrees, is as long as its
    picture over the cosine; first order has the cosine of the estimate, 0 degrees.  The marks'
    u across the span adds a little.
    """
    plain, drawn, view = both(DOTS)
    tilt, across = np.deg2rad(5.8), 2 * 0.2**2
    expected = plain.value * tilt**2 / 2 + across / (2 * plain.value)
    standard_error = drawn.std() / np.sqrt(MANY.count)
    assert expected == pytest.approx(0.042, abs=0.0005)
    # Perspective and the view's own 11 degrees change it by a few parts in a hundred.
    assert drawn.mean() - plain.value == pytest.approx(
        expected, abs=4 * standard_error + 0.05 * expected
    )
    # No other package's first order sees it either.
    assert by_gtc(view)[0].value == pytest.approx(plain.value)


@pytest.mark.published(source="closed forms", where="variance and kurtosis of a t with 12 nu")
def test_first_order_misses_the_heavy_tails_of_a_band_from_few_ears() -> None:
    """u 0.52 mm, not 0.48, and tails: of the band's t, first order takes the scale as u."""
    plain, drawn, _ = both(EDGES, FEW_EARS)
    band, nu = plain.variances[ear_band("right")], FEW_EARS.dof
    tilt = plain.value * np.deg2rad(5.8) ** 2 / np.sqrt(2)  # sd of the tilt's second-order term
    expected = np.sqrt(plain.u**2 + band * (nu / (nu - 2) - 1) + tilt**2)
    assert plain.u == pytest.approx(0.485, abs=0.0005)
    assert drawn.std() == pytest.approx(expected, rel=0.01)
    assert drawn.std() / plain.u > 1.05
    # Excess kurtosis of a sum: that of the t, 6 / (nu - 4), by its share of the variance squared.
    share = band * nu / (nu - 2) / drawn.var()
    assert stats.kurtosis(drawn) == pytest.approx(share**2 * 6 / (nu - 4), abs=0.05)


@pytest.mark.published(source="closed form", where="a normal's density at its middle times a shift")
def test_what_that_does_to_a_verdict() -> None:
    """First order's interval has the right width but lies too low: 2 % below it and 3 % above.

    A verdict asks how probable it is that the channel is over a limit; for a limit at the
    estimate first order says 50 %, the draws 53 %.  So the draws decide, and first order only
    explains (the budget's shares).
    """
    plain, drawn, _ = both(EDGES, FEW_EARS)
    half = plain.expanded()
    low, high = np.quantile(drawn, [0.025, 0.975])
    assert (high - low) / 2 == pytest.approx(half, rel=0.03)
    below, above = (drawn < plain.value - half).mean(), (drawn > plain.value + half).mean()
    assert below == pytest.approx(0.022, abs=0.002)
    assert above == pytest.approx(0.032, abs=0.002)
    shift = (drawn.mean() - plain.value) / drawn.std()
    over = (drawn > plain.value).mean()
    assert over == pytest.approx(0.5 + shift / np.sqrt(2 * np.pi), abs=0.005)
    assert over > 0.53 - 0.005
