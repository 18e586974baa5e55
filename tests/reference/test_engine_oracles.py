"""The propagation against three packages that do the same: GTC, uncertainties, metrolopy.

Each model is written once, over whatever has numbers and a square root, and given to each
package's own kind of number; nothing of ours takes part on their side.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from types import SimpleNamespace
from typing import Any

import GTC
import metrolopy
import numpy as np
import pytest
import uncertainties
from metrolopy.distributions import Distribution
from uncertainties import umath

from calibration.draws import Draws
from calibration.first_order import FirstOrder, first_order
from calibration.inputs import RECTANGULAR, Input, root_of, student
from calibration.monte_carlo import propagate

COUNT = 100_000
SIDES, COVARIANCE, SIDES_DOF = (7.0, 5.0), np.array([[0.04, 0.02], [0.02, 0.09]]), 7.0
ANGLE, SCALE, SCALE_DOF = (1.0, 0.05), (1.0, 0.01 / np.sqrt(3.0)), 30.0

ARRAYS = SimpleNamespace(sqrt=np.sqrt, cos=np.cos)


def third_side(m: Any, a: Any, b: Any, angle: Any, scale: Any) -> Any:
    """Return a triangle's third side from two sides and the angle between them."""
    return scale * m.sqrt(a * a + b * b - 2.0 * a * b * m.cos(angle))


def area(m: Any, a: Any, b: Any, angle: Any, scale: Any) -> Any:
    """Return its area."""
    return 0.5 * scale * scale * a * b * m.cos(angle - np.pi / 2.0)


MODELS = pytest.mark.parametrize("model", [third_side, area])

INPUTS = (
    Input("sides", "sides", np.array(SIDES), root_of(COVARIANCE), student(SIDES_DOF)),
    Input.scalar("angle", *ANGLE),
    Input.scalar("scale", *SCALE, RECTANGULAR, dof=SCALE_DOF),
)


def over_arrays(model: Callable[..., Any]) -> Callable[[Mapping[str, np.ndarray]], np.ndarray]:
    def ours(values: Mapping[str, np.ndarray]) -> np.ndarray:
        out = model(ARRAYS, *values["sides"], values["angle"][0], values["scale"][0])
        return np.asarray(out)

    return ours


def ours_first(model: Callable[..., Any]) -> FirstOrder:
    (out,) = first_order(over_arrays(model), INPUTS)
    return out


@MODELS
@pytest.mark.published(source="GTC 1.5", where="ureal, multiple_ureal, dof, reporting.sensitivity")
def test_first_order_and_degrees_of_freedom_are_gtc_s(model: Callable[..., Any]) -> None:
    u = np.sqrt(np.diag(COVARIANCE))
    a, b = GTC.multiple_ureal(SIDES, u, SIDES_DOF)
    GTC.set_correlation(COVARIANCE[0, 1] / (u[0] * u[1]), a, b)
    angle, scale = GTC.ureal(*ANGLE), GTC.ureal(*SCALE, SCALE_DOF)
    theirs, out = model(GTC, a, b, angle, scale), ours_first(model)
    assert out.value == pytest.approx(GTC.value(theirs), rel=1e-12)
    assert out.u == pytest.approx(GTC.uncertainty(theirs), rel=1e-6)
    assert out.dof == pytest.approx(GTC.dof(theirs), rel=1e-5)
    slope = np.array([GTC.reporting.sensitivity(theirs, x) for x in (a, b)])
    parts = {
        "sides": slope @ COVARIANCE @ slope,
        "angle": GTC.component(theirs, angle) ** 2,
        "scale": GTC.component(theirs, scale) ** 2,
    }
    assert out.variances == pytest.approx(parts, rel=2e-6)


@MODELS
@pytest.mark.published(source="uncertainties 3.2", where="correlated_values, error_components")
def test_first_order_is_that_of_uncertainties(model: Callable[..., Any]) -> None:
    a, b = uncertainties.correlated_values(SIDES, COVARIANCE)
    angle, scale = uncertainties.ufloat(*ANGLE), uncertainties.ufloat(*SCALE)
    theirs, out = model(umath, a, b, angle, scale), ours_first(model)
    assert out.value == pytest.approx(theirs.nominal_value, rel=1e-12)
    assert out.u == pytest.approx(theirs.std_dev, rel=1e-6)
    parts = theirs.error_components()
    assert out.variances["angle"] == pytest.approx(parts[angle] ** 2, rel=2e-6)
    assert out.variances["scale"] == pytest.approx(parts[scale] ** 2, rel=2e-6)


@MODELS
@pytest.mark.published(
    source="metrolopy 1.1", where="MultiTDist, NormalDist, UniformDist, simulate"
)
def test_draws_are_metrolopy_s(model: Callable[..., Any]) -> None:
    Distribution.set_seed(3)
    legacy = np.random.get_state()
    np.random.seed(3)  # its joint t draws from numpy's global generator
    a, b = metrolopy.gummy.create(metrolopy.MultiTDist(SIDES, COVARIANCE, SIDES_DOF))
    angle = metrolopy.gummy(metrolopy.NormalDist(*ANGLE))
    scale = metrolopy.gummy(
        metrolopy.UniformDist(center=SCALE[0], half_width=SCALE[1] * np.sqrt(3.0))
    )
    result = model(metrolopy, a, b, angle, scale)
    metrolopy.gummy.simulate([result], n=COUNT)
    np.random.set_state(legacy)
    theirs = np.asarray(result.simdata)
    (ours,) = propagate(over_arrays(model), INPUTS, Draws(1, COUNT))
    assert_same_distribution(ours, theirs)


def assert_same_distribution(a: np.ndarray, b: np.ndarray) -> None:
    """Assert equal mean, sd and quantiles within four standard errors of their difference."""

    def figures(values: np.ndarray) -> np.ndarray:
        ends = np.quantile(values, [0.005, 0.025, 0.5, 0.975, 0.995])
        return np.array([values.mean(), values.std(ddof=1), *ends])

    def error(values: np.ndarray) -> np.ndarray:
        parts = [figures(part) for part in np.array_split(values, 25)]
        return np.asarray(np.std(parts, axis=0, ddof=1) / 5.0)

    gap = np.abs(figures(a) - figures(b))
    assert (gap <= 4 * np.hypot(error(a), error(b))).all(), (figures(a), figures(b))


@pytest.mark.published(source="GTC 1.5", where="multiple_ureal against ureal, dof")
def test_one_evaluation_behind_two_inputs_counts_once() -> None:
    """Two readings whose u is one pooled estimate with 8 degrees of freedom keep 8, not 16."""

    def total(values: Mapping[str, np.ndarray]) -> np.ndarray:
        return np.asarray(values["a"][0] + values["b"][0])

    def dof(pool: str) -> float:
        pair = [Input.scalar(name, 1.0, 0.2, dof=8.0, pool=pool) for name in "ab"]
        return first_order(total, pair)[0].dof

    one, other = GTC.multiple_ureal([1.0, 1.0], [0.2, 0.2], 8)
    assert dof("hand") == pytest.approx(GTC.dof(one + other)) == pytest.approx(8.0)
    apart = GTC.ureal(1.0, 0.2, 8) + GTC.ureal(1.0, 0.2, 8)
    assert dof("") == pytest.approx(GTC.dof(apart)) == pytest.approx(16.0)
