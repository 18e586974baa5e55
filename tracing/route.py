"""What is believed of a line's way along a strip, row by row, given each row's evidence.

The line's slope against the strip wanders a little from row to row; all ways together, each
weighed by its evidence and by how little it bends, give each place's share of the belief.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from calibration.frames import Array

LEAST = -40.0
"""Logarithm of what evidence less than a row's best still counts."""
ONE_COLUMN = 0.8
"""Variance of the slope's change, columns a row, up to which one column either way is enough."""


@dataclass(frozen=True, slots=True, eq=False)
class Wander:
    """How a line goes on against the strip.

    ``per_mm`` is the variance by which its slope changes in 1 mm, ``first`` the first slope's
    standard deviation, ``steepest`` its steepest slope.
    """

    per_mm: float
    first: float
    steepest: float


@dataclass(frozen=True, slots=True, eq=False)
class Belief:
    """What is believed of each row.

    ``place_mm`` (S,) is the likeliest place across, ``sd_mm`` (S,) the belief's standard
    deviation about it, ``share`` (S, O) each place's share.
    """

    place_mm: Array
    sd_mm: Array
    share: Array


def believed(
    gain: Array, across_mm: Array, row_mm: float, wander: Wander, near_mm: float
) -> Belief:
    """Return what is believed of a line through a strip.

    Parameters
    ----------
    gain : (S, O) array
        Logarithm of how likely what is seen is, were the line there.
    across_mm : (O,) array
        The places, evenly apart.
    row_mm : float
        Distance of the rows.
    wander : Wander
    near_mm : float
        How far from the likeliest place others are averaged with it.

    References
    ----------
    Rabiner, A tutorial on hidden Markov models and selected applications in speech recognition,
    Proc. IEEE 77(2):257-286, 1989: forward and backward passes (from memory).
    """
    share = _shares(gain, float(across_mm[1] - across_mm[0]) / row_mm, row_mm, wander)
    top = across_mm[share.argmax(axis=1)]
    by = share * (np.abs(across_mm[None] - top[:, None]) <= near_mm)
    place = by @ across_mm / by.sum(axis=1)
    apart = (across_mm[None] - place[:, None]) ** 2
    return Belief(place, np.sqrt((share * apart).sum(axis=1)), share)


def _shares(gain: Array, slope: float, row_mm: float, wander: Wander) -> Array:
    """Return each place's share, (S, O); ``slope`` is that of one column a row."""
    rows, columns = gain.shape
    most = max(2, round(wander.steepest / slope))
    steps = np.arange(-most, most + 1)
    turn = _turns(wander.per_mm * row_mm / slope**2)
    ahead = np.arange(columns)[None] + steps[:, None]
    back = 2 * np.arange(columns)[None] - ahead
    leads = [(np.clip(to, 0, columns - 1), (to >= 0) & (to < columns)) for to in (back, ahead)]
    each = np.arange(len(steps))[:, None]
    seen = np.exp(np.maximum(gain - gain.max(axis=1, keepdims=True), LEAST))
    forth = np.empty((rows, len(steps), columns))
    forth[0] = np.exp(-0.5 * (steps * slope / wander.first) ** 2)[:, None] * seen[0]
    (at, inside), (to, ends) = leads
    for row in range(1, rows):
        came = _turned(forth[row - 1], turn)[each, at] * inside * seen[row]
        forth[row] = came / came.sum()
    later = np.ones((len(steps), columns))
    share = np.empty((rows, columns))
    share[-1] = forth[-1].sum(axis=0)
    for row in range(rows - 2, -1, -1):
        later = _turned((later * seen[row + 1])[each, to] * ends, turn)
        later /= later.max()
        share[row] = (forth[row] * later).sum(axis=0)
    return np.asarray(share / share.sum(axis=1, keepdims=True))


def _turns(variance: float) -> Array:
    """Return the weights of changes of slope by -M..M columns a row, (2 M + 1,)."""
    if variance <= ONE_COLUMN:
        return np.array([variance / 2, 1 - variance, variance / 2])
    most = int(np.ceil(3 * np.sqrt(variance)))
    weight = np.exp(-(np.arange(-most, most + 1) ** 2) / (2 * variance))
    return np.asarray(weight / weight.sum())


def _turned(by_slope: Array, weight: Array) -> Array:
    """Return what (K, O) becomes as the slope changes, weights being of -M..M."""
    most = len(weight) // 2
    out = np.asarray(weight[most] * by_slope)
    for k in range(1, most + 1):
        out[k:] += weight[most + k] * by_slope[:-k]
        out[:-k] += weight[most - k] * by_slope[k:]
    return np.asarray(out)
