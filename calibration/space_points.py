"""Points in space as a joint fit gives them: places, and how they answer to each input.

Every input keeps its name: draws of the same name are the same wherever it enters, so a mark
that one photo also measures alone correlates with itself, and lengths that share a photo's
corners or the card's movement are combined rightly.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from functools import cached_property

import numpy as np

from calibration.adjust import Adjusted
from calibration.draws import Draws
from calibration.frames import Array
from calibration.joint_problem import PRINT_KIND

BATCH = 48
"""Components that are drawn at once."""


@dataclass(frozen=True, slots=True)
class Loading:
    """How the points answer to one input: (3K, m) mm by its m standard normal components.

    ``name`` is unique and draws by it; ``kind`` is the line of the budget that it belongs to.
    The print of a card is the same at every visit.
    """

    name: str
    kind: str
    matrix: Array

    def components(self, draws: Draws) -> Array:
        """Return draws of its standardised components, (m, M)."""
        rng = draws.generator(self.name, shared=self.kind == PRINT_KIND)
        return rng.standard_normal((self.matrix.shape[1], draws.count))


@dataclass(frozen=True)
class SpacePoints:
    """Points by name: places (K, 3) mm in a card's frame, with their loadings."""

    names: tuple[str, ...]
    at_mm: Array
    loadings: tuple[Loading, ...]

    @cached_property
    def covariance(self) -> Array:
        """Return the points' joint covariance, (3K, 3K) mm²."""
        size = self.at_mm.size
        parts = (loading.matrix @ loading.matrix.T for loading in self.loadings)
        return sum(parts, start=np.zeros((size, size)))

    @cached_property
    def parts(self) -> Mapping[str, Array]:
        """Return each budget line's part of the covariance, (3K, 3K) mm²; they add up to it."""
        found: dict[str, Array] = {}
        for loading in self.loadings:
            part = loading.matrix @ loading.matrix.T
            found[loading.kind] = found[loading.kind] + part if loading.kind in found else part
        return found

    def place(self, name: str) -> Array:
        """Return one point, (3,) mm."""
        return np.asarray(self.at_mm[self.names.index(name)])

    def rows(self, name: str) -> slice:
        """Return where a point's coordinates stand in the covariance."""
        first = 3 * self.names.index(name)
        return slice(first, first + 3)

    def variance_of(self, slope: Array) -> dict[str, float]:
        """Return the parts of the variance of a quantity by budget line, in its unit squared.

        Parameters
        ----------
        slope : (3K,) array
            The quantity's derivative by the points.
        """
        return {kind: float(slope @ part @ slope) for kind, part in self.parts.items()}

    def draw(self, draws: Draws) -> Array:
        """Return draws of the points, (K, 3, M) mm: normal, linear in every input."""
        out = np.repeat(self.at_mm.reshape(-1, 1), draws.count, axis=1)
        for some in self._batches():
            matrix = np.hstack([loading.matrix for loading in some])
            out += matrix @ np.vstack([loading.components(draws) for loading in some])
        return out.reshape(len(self.names), 3, draws.count)

    def _batches(self) -> Iterator[list[Loading]]:
        """Yield the loadings in few parts of not too many components: one product for each."""
        part = list[Loading]()
        for loading in self.loadings:
            part.append(loading)
            if sum(one.matrix.shape[1] for one in part) >= BATCH:
                yield part
                part = []
        if part:
            yield part


def points_of(found: Adjusted, photo: int | None = None) -> SpacePoints:
    """Return the points of an adjustment with their loadings.

    Parameters
    ----------
    found : the adjustment
    photo : in the card's frame of that photo, else in the card's mean place
    """
    problem, names = found.problem, found.problem.points
    columns = [problem.point_columns(name) for name in names]
    at = found.x[np.array(columns, dtype=np.int64)].reshape(-1, 3)
    outward = np.zeros((at.size, problem.size))
    for k, own in enumerate(columns):
        outward[3 * k : 3 * k + 3, own] = np.eye(3)
    if photo is not None and problem.moving:
        outward = _in_card_slope(found, photo, at)
        at = problem.in_card(found.x, photo, at)
    return SpacePoints(names, at, tuple(_loadings(found, outward)))


def _in_card_slope(found: Adjusted, photo: int, at: Array) -> Array:
    """Return how points in a photo's card frame answer to all unknowns, (3K, P)."""
    problem, step = found.problem, 1e-6
    own = problem.move_columns(photo)
    slope = np.zeros((at.size, problem.size))
    for column in own:
        moved = found.x.copy()
        moved[column] += step
        back = found.x.copy()
        back[column] -= step
        ahead, behind = (problem.in_card(x, photo, at) for x in (moved, back))
        slope[:, column] = ((ahead - behind) / (2 * step)).ravel()
    zero = problem.in_card(found.x, photo, np.zeros((1, 3)))
    turned = problem.in_card(found.x, photo, np.eye(3)) - zero  # rows: images of the axes
    for k, name in enumerate(problem.points):
        slope[3 * k : 3 * k + 3, problem.point_columns(name)] = turned.T
    return slope


def _loadings(found: Adjusted, outward: Array) -> list[Loading]:
    """Return each input's loading: what the estimate does when the input is one sigma off."""
    ahead = outward @ found.covariance
    whole: dict[str, Array] = {}
    loadings = []
    for block in found.blocks:
        matrix = ahead[:, block.columns] @ block.slope.T
        if matrix.shape[1] <= 6:
            loadings.append(Loading(block.name, block.kind, matrix))
        else:
            part = matrix @ matrix.T
            whole[block.kind] = whole[block.kind] + part if block.kind in whole else part
    return [*loadings, *(Loading(kind, kind, _root(part)) for kind, part in whole.items())]


def _root(covariance: Array) -> Array:
    """Return a narrow matrix whose square is the covariance."""
    values, vectors = np.linalg.eigh(covariance)
    kept = values > 1e-12 * max(float(values.max(initial=0.0)), 1e-30)
    return np.asarray(vectors[:, kept] * np.sqrt(values[kept]))
