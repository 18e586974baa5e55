"""The law of propagation against the worked examples of JCGM 100:2008.

The guide's own text was not at hand: figures are those that GTC's and suncal's reproductions
of its examples print, or recalled, as each marker says.
"""

from __future__ import annotations

from collections.abc import Mapping

import numpy as np
import pytest
from scipy import stats

from calibration.draws import Draws
from calibration.first_order import FirstOrder, first_order
from calibration.inputs import ARCSINE, RECTANGULAR, Input, root_of, student
from calibration.monte_carlo import propagate

Values = Mapping[str, np.ndarray]

NOMINAL_NM = 50_000_000.0


def end_gauge(values: Values) -> np.ndarray:
    """Return the gauge's length, nm: its equation to second order in small things (H.2)."""
    standard, d, random, systematic, alpha, theta, drift, d_alpha, d_theta = (
        values[name][0]
        for name in ("l_S", "d", "d1", "d2", "alpha_S", "theta", "Delta", "d_alpha", "d_theta")
    )
    warm = d_alpha * (theta + drift) + alpha * d_theta
    return np.asarray(standard + d + random + systematic - standard * warm)


END_GAUGE = (
    Input.scalar("l_S", NOMINAL_NM + 623.0, 75.0 / 3.0, student(18)),  # U = 75 nm, k = 3
    Input.scalar("d", 215.0, 13.0 / np.sqrt(5.0), student(24)),  # five readings, pooled s 13 nm
    Input.scalar("d1", 0.0, 10.0 / stats.t(5).ppf(0.975), student(5)),  # 10 nm at 95 %
    Input.scalar("d2", 0.0, 20.0 / 3.0, student(8)),  # 20 nm, k = 3
    Input.scalar("alpha_S", 11.5e-6, 2e-6 / np.sqrt(3.0), RECTANGULAR),
    Input.scalar("theta", -0.1, 0.2),
    Input.scalar("Delta", 0.0, 0.5 / np.sqrt(2.0), ARCSINE),
    Input.scalar("d_alpha", 0.0, 1e-6 / np.sqrt(3.0), RECTANGULAR, dof=50.0),
    Input.scalar("d_theta", 0.0, 0.05 / np.sqrt(3.0), RECTANGULAR, dof=2.0),
)


@pytest.fixture(scope="module")
def gauge() -> FirstOrder:
    (out,) = first_order(end_gauge, END_GAUGE)
    return out


H1 = {"source": "JCGM 100:2008, as GTC's documentation and suncal's tests reproduce it"}


@pytest.mark.published(**H1, where="H.1: l = 50 000 838 nm, uc = 32 nm")
def test_end_gauge_value_and_u(gauge: FirstOrder) -> None:
    assert gauge.value == pytest.approx(50_000_838, abs=0.5)
    assert gauge.u == pytest.approx(32, abs=0.5)


@pytest.mark.published(**H1, where="H.1: components 25, 9.7, 2.9 and 16.6 nm")
def test_end_gauge_components(gauge: FirstOrder) -> None:
    parts = gauge.variances
    assert np.sqrt(parts["l_S"]) == pytest.approx(25, abs=0.5)
    reading = parts["d"] + parts["d1"] + parts["d2"]
    assert np.sqrt(reading) == pytest.approx(9.7, abs=0.05)
    assert np.sqrt(parts["d_alpha"]) == pytest.approx(2.9, abs=0.05)
    assert np.sqrt(parts["d_theta"]) == pytest.approx(16.6, abs=0.05)
    # What is multiplied by an estimate of zero brings nothing at first order.
    for name in ("alpha_S", "theta", "Delta"):
        assert parts[name] == pytest.approx(0.0, abs=1e-9)


@pytest.mark.published(**H1, where="H.1: degrees of freedom of d 25.6, effective 16.7 cut to 16")
def test_end_gauge_degrees_of_freedom(gauge: FirstOrder) -> None:
    def reading(values: Values) -> np.ndarray:
        return np.asarray(sum(values[name][0] for name in ("d", "d1", "d2")))

    (d,) = first_order(reading, END_GAUGE[1:4])
    assert d.u == pytest.approx(9.7, abs=0.05)
    assert d.dof == pytest.approx(25.6, abs=0.05)
    assert gauge.dof == pytest.approx(16.7, abs=0.06)  # 16.75: the guide took rounded components
    assert np.floor(gauge.dof) == 16


@pytest.mark.memory(source="JCGM 100:2008, H.1.6 and table G.2: k = 2.92, U99 = 93 nm; from memory")
def test_end_gauge_expanded(gauge: FirstOrder) -> None:
    k = gauge.expanded(0.99) / gauge.u
    assert k == pytest.approx(2.92, abs=0.005)
    # The guide multiplies k by uc rounded to 32 nm; unrounded it is 92.5.
    assert k * round(gauge.u) == pytest.approx(93, abs=0.5)
    assert gauge.expanded(0.99) == pytest.approx(92.5, abs=0.05)


@pytest.mark.published(
    source="JCGM 100:2008, as GTC's documentation notes it",
    where="H.1.7: with the second-order terms uc = 34 nm",
)
def test_what_first_order_leaves_out_of_the_end_gauge() -> None:
    """The model is bilinear, so draws of normal inputs hold just those second-order terms."""
    plain = [Input.scalar(e.name, e.estimate[0], e.root[0, 0]) for e in END_GAUGE]
    (lengths,) = propagate(end_gauge, plain, Draws(1, 400_000))
    assert lengths.std() == pytest.approx(34, abs=0.5)
    (out,) = first_order(end_gauge, plain)
    assert out.u == pytest.approx(32, abs=0.5)


THERMOMETER = np.array(
    [
        [21.521, -0.171],
        [22.012, -0.169],
        [22.512, -0.166],
        [23.003, -0.159],
        [23.507, -0.164],
        [23.999, -0.165],
        [24.513, -0.156],
        [25.002, -0.157],
        [25.503, -0.159],
        [26.010, -0.161],
        [26.511, -0.160],
    ]
)


@pytest.mark.published(
    source="JCGM 100:2008, as suncal's tests reproduce it",
    where="H.3: y1, y2, their s and r; correction at 30 degrees -0.1494, u 0.0041",
)
def test_thermometer_line_and_what_it_predicts() -> None:
    """The line's fit is numpy's; what is checked is what we make of its joint covariance."""
    x, b = THERMOMETER[:, 0] - 20.0, THERMOMETER[:, 1]
    design = np.column_stack([np.ones_like(x), x])
    line, residual, *_ = np.linalg.lstsq(design, b, rcond=None)
    covariance = residual[0] / (len(b) - 2) * np.linalg.inv(design.T @ design)
    fit = Input("line", "line", line, root_of(covariance), student(len(b) - 2))

    def model(values: Values) -> np.ndarray:
        y1, y2 = values["line"]
        return np.stack([y1, y2, y1 + 10.0 * y2])

    y1, y2, at_30 = first_order(model, [fit])
    assert (y1.value, y2.value) == pytest.approx((-0.1712, 0.00218), abs=5e-5)
    assert y1.u == pytest.approx(0.0029, abs=5e-5)
    assert y2.u == pytest.approx(0.00067, abs=5e-6)
    assert at_30.value == pytest.approx(-0.1494, abs=5e-5)
    assert at_30.u == pytest.approx(0.0041, abs=5e-5)
    assert at_30.dof == pytest.approx(9.0)
    drawn = propagate(model, [fit], Draws(1, 200_000))
    assert np.corrcoef(drawn[0], drawn[1])[0, 1] == pytest.approx(-0.930, abs=0.002)
    # Drawn from the t that belongs to it, its interval is y +- t(9) s exactly.
    low, high = np.quantile(drawn[2], [0.025, 0.975])
    assert (high - low) / 2 == pytest.approx(at_30.expanded(), rel=0.01)


@pytest.mark.memory(
    source="JCGM 100:2008, G.4.1: u 0.25, 0.57, 0.82 % from 10, 5, 15 readings; "
    "uc 1.03 %, 19.0 degrees of freedom, t95 = 2.09, U95 = 2.2 %; from memory"
)
def test_a_product_of_three_means() -> None:
    def product(values: Values) -> np.ndarray:
        return np.asarray(values["a"][0] * values["b"][0] * values["c"][0])

    inputs = [
        Input.scalar(name, x, x * percent / 100.0, student(n - 1))
        for name, x, percent, n in (("a", 4.0, 0.25, 10), ("b", 2.0, 0.57, 5), ("c", 3.0, 0.82, 15))
    ]
    (out,) = first_order(product, inputs)
    assert 100 * out.u / out.value == pytest.approx(1.03, abs=0.005)
    assert out.dof == pytest.approx(19.0, abs=0.05)
    whole = FirstOrder(out.value, out.u, round(out.dof, 1), out.variances)
    assert whole.expanded() / whole.u == pytest.approx(2.09, abs=0.005)
    assert 100 * whole.expanded() / whole.value == pytest.approx(2.2, abs=0.05)


@pytest.mark.memory(source="JCGM 100:2008, table G.2, t for p = 95 % and 99 %; from memory")
@pytest.mark.parametrize(
    ("dof", "t95", "t99"),
    [
        (1, 12.71, 63.66),
        (2, 4.30, 9.92),
        (5, 2.57, 4.03),
        (8, 2.31, 3.36),
        (16, 2.12, 2.92),
        (20, 2.09, 2.85),
        (50, 2.01, 2.68),
        (np.inf, 1.960, 2.576),
    ],
)
def test_expanded_takes_k_from_the_table(dof: float, t95: float, t99: float) -> None:
    one = FirstOrder(0.0, 1.0, dof, {})
    assert one.expanded(0.95) == pytest.approx(t95, abs=0.005)
    assert one.expanded(0.99) == pytest.approx(t99, abs=0.005)
