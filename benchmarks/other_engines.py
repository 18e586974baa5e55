"""The channel's measurement model in the numbers of GTC, uncertainties and metrolopy.

Written from docs/method.md, in vectors, over whatever has arithmetic, a square root, a tangent
and an arc tangent of two.  It takes from the program the inputs alone: estimates, covariances,
and how lines of sight answer to marks, lens and pose.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from types import SimpleNamespace
from typing import Any

import GTC
import metrolopy
import numpy as np
import uncertainties
from metrolopy.distributions import Distribution
from scipy.linalg import block_diag
from uncertainties import umath

from assess.band_model import ear_band, place_band
from assess.scale import SCALE_AXES, SCALE_COMMON
from assess.view_inputs import ViewMeasurement
from assess.view_model import OFFSET, TILT, Ends
from calibration.frames import Array
from calibration.inputs import Input

METROLOPY = SimpleNamespace(sqrt=metrolopy.sqrt, tan=metrolopy.tan, atan2=metrolopy.arctan2)

EARS = (ear_band("left"), ear_band("right"))

Numbers = dict[str, list[Any]]
"""Each input's components by its name, as numbers of one package."""


def lines_of_sight(view: ViewMeasurement, numbers: Numbers) -> list[Any]:
    """Return the camera's centre and the hits, linear in lens, pose and marks.

    Parameters
    ----------
    view : whose ``inputs`` the numbers stand for
    numbers : by input
    """
    lens = numbers[view.lens.name]
    still = [0.0] * 3
    shifts = [*still, *(shift for mark in view.marks for shift in numbers[mark.name])]
    terms = zip(view.sight.estimate.tolist(), view.sight.by_lens.tolist(), shifts, strict=True)
    return [
        sum((by * p for by, p in zip(slopes, lens, strict=True)), start) + shift
        for start, slopes, shift in terms
    ]


def channels(view: ViewMeasurement, m: Any, numbers: Numbers, seen: Sequence[Any]) -> list[Any]:
    """Return each placement's channel.

    Parameters
    ----------
    view : the measurement
    m : namespace with ``sqrt``, ``tan`` and ``atan2``
    numbers : by input, lens and marks not needed
    seen : camera's centre and hits
    """
    centre, hits = list(seen[:3]), list(seen[3:])
    sights = [
        [x - centre[0], y - centre[1], -centre[2]]
        for x, y in zip(hits[::2], hits[1::2], strict=True)
    ]
    turn_x, turn_y = (m.tan(angle) for angle in numbers[TILT])
    normal = [-turn_y, turn_x, -1.0]
    places = _on_plane(sights, centre, normal, numbers[OFFSET][0], view.model.weights.tolist())
    common, (x, y) = numbers[SCALE_COMMON][0], numbers[SCALE_AXES]
    factors = [1.0 + common + x, 1.0 + common + y, 1.0 + common + 0.5 * (x + y)]
    true = [[f * c for f, c in zip(factors, place, strict=True)] for place in places]
    return [
        _channel(m, ends, true[ends.entry], true[ends.exit], centre, normal, numbers)
        for ends in view.model.placements
    ]


def _on_plane(
    sights: list[Any], centre: list[Any], normal: list[Any], height: Any, weights: Sequence[float]
) -> list[Any]:
    middle = [sum(w * sight[c] for w, sight in zip(weights, sights, strict=True)) for c in range(3)]
    level = (-height - centre[2]) / middle[2]
    reach = _dot(normal, [level * c for c in middle])
    return [
        [c + reach / _dot(normal, sight) * d for c, d in zip(centre, sight, strict=True)]
        for sight in sights
    ]


def _channel(
    m: Any,
    ends: Ends,
    top: list[Any],
    bottom: list[Any],
    centre: list[Any],
    normal: list[Any],
    numbers: Numbers,
) -> Any:
    axis = [a - b for a, b in zip(top, bottom, strict=True)]
    length = m.sqrt(_dot(axis, axis))
    if not any(ends.outlined):
        return length
    toward = [c - 0.5 * (a + b) for c, a, b in zip(centre, top, bottom, strict=True)]
    rise = _dot(toward, axis) / length
    out = _dot(toward, normal) / m.sqrt(_dot(normal, normal))
    elevation = m.atan2(rise, out) * (180.0 / np.pi)
    x, ear = elevation / 10.0, next(numbers[name] for name in EARS if name in numbers)
    curves = (ear[0] + ear[1] * x + ear[2] * x * x, ear[3] + ear[4] * x + ear[5] * x * x)
    errors = zip(curves, numbers[place_band(ends.label)], ends.outlined, strict=True)
    return length - sum(curve + own for curve, own, outlined in errors if outlined)


def _dot(a: list[Any], b: list[Any]) -> Any:
    return sum(p * q for p, q in zip(a, b, strict=True))


@dataclass(frozen=True)
class FirstOrderFound:
    """What a first-order package says of one channel."""

    value: float
    u: float
    dof: float
    variances: dict[str, float]


def by_gtc(view: ViewMeasurement) -> list[FirstOrderFound]:
    """Return the channels by GTC.

    Each input is an ensemble with its own degrees of freedom, a pool of them one ensemble.
    """
    pools: dict[str, list[Input]] = {}
    for entry in view.inputs:
        pools.setdefault(entry.pool or f"alone: {entry.name}", []).append(entry)
    numbers: Numbers = {}
    for pool in pools.values():
        parts = np.cumsum([len(entry.estimate) for entry in pool])
        ensemble = _gtc_ensemble(pool)
        for entry, end in zip(pool, parts, strict=True):
            numbers[entry.name] = ensemble[end - len(entry.estimate) : end]
    math = SimpleNamespace(sqrt=GTC.sqrt, tan=GTC.tan, atan2=GTC.atan2)
    found = []
    for y in channels(view, math, numbers, lines_of_sight(view, numbers)):
        variances = {}
        for entry in view.inputs:
            slope = np.array([_gtc_slope(y, x) for x in numbers[entry.name]])
            variances[entry.name] = float(slope @ entry.root @ entry.root.T @ slope)
        found.append(FirstOrderFound(GTC.value(y), GTC.uncertainty(y), GTC.dof(y), variances))
    return found


def _gtc_ensemble(pool: Sequence[Input]) -> list[Any]:
    estimate = np.concatenate([entry.estimate for entry in pool])
    covariance = block_diag(*(entry.root @ entry.root.T for entry in pool))
    u = np.sqrt(np.diag(covariance))
    if not u.all():
        return [float(x) for x in estimate]
    if len(u) == 1:
        return [GTC.ureal(float(estimate[0]), float(u[0]), pool[0].dof)]
    numbers = list(GTC.multiple_ureal(estimate.tolist(), u.tolist(), pool[0].dof))
    for i, j in zip(*np.tril_indices(len(u), -1), strict=True):
        if r := covariance[i, j] / (u[i] * u[j]):
            GTC.set_correlation(float(r), numbers[i], numbers[j])
    return numbers


def _gtc_slope(y: Any, x: Any) -> float:
    return 0.0 if isinstance(x, float) else float(GTC.reporting.sensitivity(y, x))


def by_uncertainties(view: ViewMeasurement) -> list[FirstOrderFound]:
    """Return the channels by uncertainties, which knows no degrees of freedom."""
    numbers = {entry.name: _uncertainties_numbers(entry) for entry in view.inputs}
    math = SimpleNamespace(sqrt=umath.sqrt, tan=umath.tan, atan2=umath.atan2)
    found = []
    for y in channels(view, math, numbers, lines_of_sight(view, numbers)):
        squares = {own: part**2 for own, part in y.error_components().items()}
        # A joint input stands on independent variables of its own behind the correlated ones.
        parts = {
            name: sum(squares.get(own, 0.0) for own in _variables(components))
            for name, components in numbers.items()
        }
        found.append(FirstOrderFound(y.nominal_value, y.std_dev, np.inf, parts))
    return found


def _uncertainties_numbers(entry: Input) -> list[Any]:
    if not entry.root.any():
        return [float(x) for x in entry.estimate]
    return list(uncertainties.correlated_values(entry.estimate, entry.root @ entry.root.T))


def _variables(components: Sequence[Any]) -> set[Any]:
    return {own for x in components if not isinstance(x, float) for own in x.derivatives}


def seed_metrolopy(seed: int) -> None:
    """Set both of metrolopy's sources of random numbers: its joint ones use numpy's global."""
    Distribution.set_seed(seed)
    np.random.seed(seed)


def metrolopy_channels(view: ViewMeasurement) -> list[Any]:
    """Return the channels as metrolopy's numbers, to be simulated."""
    numbers = {entry.name: _metrolopy_numbers(entry) for entry in view.inputs}
    return channels(view, METROLOPY, numbers, lines_of_sight(view, numbers))


def metrolopy_folded(view: ViewMeasurement) -> list[Any]:
    """Return the same with lens, pose and marks folded into one joint input."""
    numbers = {entry.name: _metrolopy_numbers(entry) for entry in view.folded_inputs}
    return channels(view, METROLOPY, numbers, numbers[view.joint.name])


def _metrolopy_numbers(entry: Input) -> list[Any]:
    if not entry.root.any():
        return [float(x) for x in entry.estimate]
    of_one = distribution(entry)
    if len(entry.estimate) == 1:
        return [metrolopy.gummy(of_one)]
    return list(metrolopy.gummy.create(of_one))


def distribution(entry: Input) -> Any:
    """Return an input as one of metrolopy's distributions, from its covariance."""
    covariance = entry.root @ entry.root.T
    if entry.shape.kind == "t":
        return metrolopy.MultiTDist(entry.estimate, covariance, entry.shape.dof)
    if len(entry.estimate) == 1:
        return metrolopy.NormalDist(entry.estimate[0], float(np.sqrt(covariance[0, 0])))
    return metrolopy.MultiNormalDist(entry.estimate, covariance)


def simulate(results: Sequence[Any], count: int) -> Array:
    """Return draws of metrolopy's numbers, (P, count)."""
    metrolopy.gummy.simulate(list(results), n=count)
    return np.array([result.simdata for result in results])


def metrolopy_applied(
    model: Callable[[dict[str, Array]], Array], inputs: Sequence[Input]
) -> Callable[[int], Array]:
    """Return metrolopy's Monte Carlo of an array function, the quickest way it has.

    Its distributions and its simulation of the inputs, all of them at once.
    """
    entries = [entry for entry in inputs if entry.root.any()]
    still = {e.name: e.estimate[:, None] for e in inputs if not e.root.any()}
    sizes = np.cumsum([len(entry.estimate) for entry in entries])[:-1]
    parts = [part for entry in entries for part in _components(distribution(entry))]

    def run(count: int) -> Array:
        Distribution.simulate(parts, count)
        stacked = np.split(np.stack([part.simdata for part in parts]), sizes)
        named = {entry.name: rows for entry, rows in zip(entries, stacked, strict=True)}
        return model({**still, **named})

    return run


def _components(of_one: Any) -> list[Any]:
    if isinstance(of_one, metrolopy.MultivariateDistribution):
        return [of_one[i] for i in range(len(of_one))]
    return [of_one]
