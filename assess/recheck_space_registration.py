"""Points of a later visit laid on the baseline's in space, without stretching.

Begun in closed form (`rigid_points`), then by generalised least squares with both visits' joint
covariances, every input by its name: an input that both visits share, as the print of one card,
mostly goes out.

References
----------
Kabsch, Acta Cryst. A32, 922 (1976); Rao, Linear Statistical Inference (generalised least
squares); both from memory.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass

import cv2
import numpy as np
from scipy.linalg import cho_factor, cho_solve
from scipy.stats import chi2

from assess.recheck_registration import LEAST_PROBABLE, rigid_points
from calibration.frames import Array
from calibration.space_points import SpacePoints

STEPS, SETTLED = 30, 1e-9
U_LEAST_MM = 1e-4
"""Nothing is known better than this: keeps the weights finite."""

Key = Callable[[str, str], str]
"""Visit (``baseline`` or ``now``) and an input's name -> its name over both visits."""


@dataclass(frozen=True, eq=False)
class SpaceRegistered:
    """How the later visit's frame lies in the baseline's: ``turn @ (q - pivot) + shift``.

    ``pivot`` and ``shift`` (3,) mm are the shared points' middle in either frame; ``loadings``
    by name, (6, m), what each input brings to the error of the turn (rad, left of ``turn``) and
    of ``shift``; ``left`` (N, 3) mm what stays between the points.
    """

    names: tuple[str, ...]
    turn: Array
    pivot: Array
    shift: Array
    loadings: Mapping[str, Array]
    left: Array
    chi_squared: float

    @property
    def covariance(self) -> Array:
        """Return the covariance of turn (rad) and shift (mm), (6, 6)."""
        return sum((part @ part.T for part in self.loadings.values()), np.zeros((6, 6)))

    @property
    def probability(self) -> float:
        """Return how probably points that fit would lie at least so far off."""
        return float(chi2.sf(self.chi_squared, 3 * len(self.names) - 6))

    @property
    def matches(self) -> bool:
        """Return whether what is left is what the inputs' uncertainty allows."""
        return self.probability >= LEAST_PROBABLE

    def carried(self, places: Array, moved: Array | None = None) -> Array:
        """Return places of the later frame, (K, 3) mm, in the baseline's.

        ``moved`` (6,) is a step of turn and shift.
        """
        turn, shift = self.turn, self.shift
        if moved is not None:
            turn, shift = _turning(moved[:3]) @ turn, shift + moved[3:]
        return np.asarray((places - self.pivot) @ turn.T + shift)


def _turning(rvec: Array) -> Array:
    return np.asarray(cv2.Rodrigues(np.asarray(rvec, dtype=np.float64))[0])


def rows_of(points: SpacePoints, names: Sequence[str]) -> Array:
    """Return where those points' coordinates stand among the rows, (3N,)."""
    return np.concatenate([np.arange(3 * k, 3 * k + 3) for k in map(points.names.index, names)])


def register_in_space(
    first: SpacePoints, later: SpacePoints, names: Sequence[str], key: Key
) -> SpaceRegistered:
    """Return how the later visit's points of those names lie on the baseline's.

    Parameters
    ----------
    first, later : the baseline's and the later visit's points
    names : at least three that both have
    key : an input's name over both visits
    """
    p = np.array([first.place(name) for name in names])
    q = np.array([later.place(name) for name in names])
    spread = [_own_mm2(each, names) for each in (first, later)]
    turn, _ = rigid_points(q, p, 1.0 / (spread[0] + spread[1]))
    pivot, shift = q.mean(axis=0), p.mean(axis=0)
    for _ in range(STEPS):
        moves = _gap_moves(first, later, names, turn, key)
        gap = ((q - pivot) @ turn.T + shift - p).ravel()
        slope = _slope((q - pivot) @ turn.T)
        factor = cho_factor(_total(moves.values(), gap.size), lower=True)
        whitened = cho_solve(factor, slope)
        gain = np.linalg.solve(slope.T @ whitened, whitened.T)
        step = -gain @ gap
        turn, shift = _turning(step[:3]) @ turn, shift + step[3:]
        if float(np.abs(step).max()) < SETTLED:
            break
    left = (q - pivot) @ turn.T + shift - p
    chi = float(left.ravel() @ cho_solve(factor, left.ravel()))
    loadings = {name: -gain @ move for name, move in moves.items()}
    return SpaceRegistered(tuple(names), turn, pivot, shift, loadings, left, chi)


def _own_mm2(points: SpacePoints, names: Sequence[str]) -> Array:
    """Return each point's mean variance over the axes, (N,) mm²."""
    own = np.diag(points.covariance)[rows_of(points, names)].reshape(-1, 3)
    return np.asarray(own.mean(axis=1) + U_LEAST_MM**2)


def _gap_moves(
    first: SpacePoints, later: SpacePoints, names: Sequence[str], turn: Array, key: Key
) -> dict[str, Array]:
    """Return what each input moves of the gaps, (3N, m) by its name."""
    return joined(
        {name: -move for name, move in by_name(first, names, "baseline", key).items()},
        {name: turned(move, turn) for name, move in by_name(later, names, "now", key).items()},
    )


def by_name(points: SpacePoints, names: Sequence[str], visit: str, key: Key) -> dict[str, Array]:
    """Return what each input moves of some points, (3N, m), by its name over both visits."""
    rows = rows_of(points, names)
    return {key(visit, one.name): one.matrix[rows] for one in points.loadings}


def turned(moves: Array, turn: Array) -> Array:
    """Return moves of points, (3N, m), turned by (3, 3)."""
    out = np.einsum("ij,njm->nim", turn, moves.reshape(-1, 3, moves.shape[1]))
    return np.asarray(out.reshape(moves.shape))


def joined(one: Mapping[str, Array], other: Mapping[str, Array]) -> dict[str, Array]:
    """Return both inputs' moves; one that both have moves by the sum."""
    out = dict(one)
    for name, part in other.items():
        out[name] = out[name] + part if name in out else part
    return out


def _total(moves: Iterable[Array], size: int) -> Array:
    spread = U_LEAST_MM**2 * np.eye(size)
    for part in moves:
        spread = spread + part @ part.T
    return np.asarray(spread)


def _slope(arms: Array) -> Array:
    """Return how places at these arms about the pivot, (N, 3), answer to turn and shift."""
    out = np.zeros((len(arms), 3, 6))
    for axis in range(3):
        out[:, :, axis] = np.cross(np.eye(3)[axis], arms)
    out[:, :, 3:] = np.eye(3)
    return out.reshape(-1, 6)
