"""Rims laid on each other: generalised least squares with every input by its name.

Unknown are how the rim of the later visit lies in the frame of the baseline, and inputs that
the rims themselves tell something of (a rim's offset and tilt against the card), each with what
is known of it beforehand.  Residuals are distances across the baseline's line, so that a rim
that slides along a straight line changes none of them: the normal matrix then says itself that
this way is open, and the covariance holds it.

What else moves the residuals (marks, lens and pose, an outline seen from another side) enters
with its covariance, and the estimate's answer to each of them keeps that input's name.

References
----------
Rao, Linear Statistical Inference (generalised least squares); Huber (1964) for the weights; both
from memory.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass

import numpy as np
from scipy.linalg import cho_factor, cho_solve
from scipy.stats import chi2

from calibration.frames import Array

ROBUST_SIGMAS = 2.5
"""A residual further off what the others foretell counts with a wider u."""
STEPS, SETTLED = 15, 1e-3
OPEN_MM = 30.0
"""A way that no residual tells of is open by this standard deviation (mm or, over 20 mm, rad)."""
MOST_SPURIOUS = 0.7
"""Of what the slopes tell, at most so much is put down to their own errors."""
LEAST_PROBABLE = 1e-3
"""Of the chi-squared under which rims are said not to match."""


@dataclass(frozen=True, slots=True)
class Rows:
    """Residuals at one value of the unknowns.

    ``gap`` (N,) mm; ``slope`` (N, P) by the unknowns; ``own`` (N,) the u of each residual's own
    mark, mm; ``named`` what each other input's standardised components move, (N, m) each.

    ``askew`` is there where the slopes err too, as the line's marks turn the ways across it: what
    a turn of each way by 1 rad does to its slopes, (N, P), and the turns by standardised
    components, (N, m) rad.
    """

    gap: Array
    slope: Array
    own: Array
    named: Mapping[str, Array]
    askew: tuple[Array, Array] | None = None


@dataclass(frozen=True, slots=True, eq=False)
class Registered:
    """The unknowns (P,), their covariance, and what each input brings to their error.

    ``loadings``: by name, (P, m) by the input's standardised components; the residuals' own
    marks are in ``"own"``, and what no residual tells of in ``"open"``.
    """

    unknowns: Array
    covariance: Array
    loadings: Mapping[str, Array]
    used: int
    chi_squared: float
    weights: Array

    @property
    def matches(self) -> bool:
        """Return whether what is left is what the inputs' uncertainty allows."""
        return bool(chi2.sf(self.chi_squared, max(self.used - 3, 1)) >= LEAST_PROBABLE)


def register(
    rows_at: Callable[[Array], Rows],
    start: Array,
    priors: Mapping[str, tuple[slice, float]],
    free: slice,
) -> Registered:
    """Return the unknowns that lay the later rim on the baseline's.

    Parameters
    ----------
    rows_at : the residuals at given unknowns; always of the same length
    start : (P,) array
    priors : by an input's name: which unknowns are its components, and their u, about 0
    free : which unknowns nothing is known of
    """
    known = np.zeros(len(start))
    known[free] = 1.0 / OPEN_MM**2
    for columns, u in priors.values():
        known[columns] = 1.0 / max(u, 1e-9) ** 2
    centre = start.copy()
    centre[[i for columns, _ in priors.values() for i in range(*columns.indices(len(start)))]] = 0.0
    at, weights = start.copy(), np.ones(len(rows_at(start).gap))
    for _ in range(STEPS):
        rows = rows_at(at)
        solved = _Solved.of(rows, known, weights)
        step = solved.gain @ -rows.gap - solved.covariance @ (known * (at - centre))
        at = at + step
        weights = solved.robust(rows.gap + rows.slope @ step, weights)
        if float(np.sqrt(step @ solved.normal @ step)) < SETTLED:
            break
    rows = rows_at(at)
    solved = _Solved.of(rows, known, weights)
    answer = solved.answer(rows.askew)
    gain = answer @ solved.whitened.T
    loadings = {name: -gain @ part for name, part in rows.named.items()}
    loadings["own"] = -gain * solved.own_u
    loadings["open"] = answer[:, free] / OPEN_MM
    for name, (columns, u) in priors.items():
        loadings[name] = answer[:, columns] / max(u, 1e-9)
    kept = weights > 0.3
    used = int(kept.sum())
    chi = float(rows.gap @ cho_solve(solved.factor, rows.gap))
    return Registered(at, answer @ solved.normal @ answer.T, loadings, used, chi, weights)


@dataclass(frozen=True, slots=True, eq=False)
class _Solved:
    """One linear solution: covariance and gain of the unknowns."""

    factor: tuple[Array, bool]
    inverse_diagonal: Array
    normal: Array
    covariance: Array
    whitened: Array
    own_u: Array

    @property
    def gain(self) -> Array:
        """Return the unknowns' answer to the gaps."""
        return self.covariance @ self.whitened.T

    def answer(self, askew: tuple[Array, Array] | None) -> Array:
        """Return the unknowns' answer to the normal equations' right side, (P, P).

        Slopes that err tell of ways that the true ones leave open: a rim that slides along another
        catches on the jitter of its marks.  What they tell so, on average, is taken off the normal
        matrix; at most `MOST_SPURIOUS` of it in any way.

        References
        ----------
        Fuller, Measurement Error Models (1987), the method-of-moments correction; from memory.
        """
        if askew is None:
            return self.covariance
        slid, turns = askew
        weights = cho_solve(self.factor, np.eye(len(slid)))
        spurious = slid.T @ (weights * (turns @ turns.T)) @ slid
        root = np.linalg.cholesky(self.covariance)
        share, ways = np.linalg.eigh(root.T @ spurious @ root)
        left = 1.0 - np.clip(share, 0.0, MOST_SPURIOUS)
        return np.asarray(root @ (ways / left) @ ways.T @ root.T)

    @classmethod
    def of(cls, rows: Rows, known: Array, weights: Array) -> _Solved:
        own_u = rows.own / np.sqrt(weights)
        spread = np.diag(own_u**2)
        for part in rows.named.values():
            spread = spread + part @ part.T
        factor = cho_factor(spread, lower=True)
        whitened = cho_solve(factor, rows.slope)
        normal = rows.slope.T @ whitened + np.diag(known)
        covariance = np.linalg.inv(normal)
        inverse = cho_solve(factor, np.eye(len(spread)))
        return cls(factor, np.diag(inverse), normal, covariance, whitened, own_u)

    def robust(self, left: Array, weights: Array) -> Array:
        """Return weights by how far each residual is from what all others foretell."""
        off = np.abs(cho_solve(self.factor, left)) / np.sqrt(self.inverse_diagonal)
        # ``off`` is over the widened spread: unwiden it, so that weights settle.
        raw = off / np.sqrt(weights)
        return np.asarray(np.minimum(1.0, (ROBUST_SIGMAS / np.maximum(raw, 1e-9)) ** 2))


def rigid_points(source: Array, target: Array, weights: Array | None = None) -> tuple[Array, Array]:
    """Return turn (d, d) and shift (d,) that lay points on points, without stretching.

    The closed form by singular values, for points that are known one by one.

    Parameters
    ----------
    source, target : (N, d) arrays, N at least d
    weights : (N,) array, positive

    Returns
    -------
    turn, shift : ``target = source @ turn.T + shift``

    References
    ----------
    Kabsch, Acta Cryst. A32, 922 (1976); from memory.
    """
    w = np.ones(len(source)) if weights is None else weights
    w = w / w.sum()
    middle, aim = w @ source, w @ target
    moment = (target - aim).T @ ((source - middle) * w[:, None])
    left, _, right = np.linalg.svd(moment)
    sign = np.ones(len(middle))
    sign[-1] = np.sign(np.linalg.det(left @ right))
    turn = (left * sign) @ right
    return np.asarray(turn), np.asarray(aim - turn @ middle)
