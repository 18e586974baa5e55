"""The joint adjustment of several photos: the least-squares solution and its covariance.

References
----------
JCGM 102:2011, 6.2 and annex D (the law of propagation for a model of many outputs): the inverse
of the normal matrix is the joint covariance, and each observation's part of it stands apart.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from functools import cached_property

import numpy as np

from calibration.frames import Array
from calibration.joint_problem import Block, Problem
from calibration.pose import PlaneFit

STEPS = 40
DONE = 1e-9
"""Enough is done when a step brings the squared residuals, in sigmas, no more than this."""


@dataclass(frozen=True)
class Adjusted:
    """The adjustment's outcome: unknowns ``x`` (P,), their covariance, the blocks at ``x``."""

    problem: Problem
    x: Array
    covariance: Array
    blocks: tuple[Block, ...]

    @cached_property
    def cost(self) -> float:
        """Return the sum of all squared residuals, in sigmas."""
        return cost_of(self.blocks)

    def point(self, name: str) -> Array:
        """Return a point, (3,) mm, ear's frame."""
        return np.asarray(self.x[self.problem.point_columns(name)])

    def camera(self, photo: int) -> PlaneFit:
        """Return a photo's camera before the ear, in the card's mean place."""
        return self.problem.camera_to_ear(self.x, photo)


def adjust(problem: Problem, start: Array, steps: int = STEPS) -> Adjusted | None:
    """Return the least-squares solution near ``start``; None where ``steps`` don't reach one.

    Levenberg's damping on the normal equations; Newton's decrement ends it.
    """
    x, damping = start, 1e-4
    blocks = tuple(problem.blocks(x))
    cost = cost_of(blocks)
    for _ in range(steps):
        normal, pull = _normal(problem, blocks)
        scale = np.sqrt(np.diag(normal))
        if not (np.isfinite(scale).all() and scale.all()):
            return None
        unit = normal / np.outer(scale, scale)
        while True:
            damped = unit + damping * np.eye(len(unit))
            step = -np.linalg.solve(damped, pull / scale) / scale
            moved = tuple(problem.blocks(x + step))
            new = cost_of(moved)
            if new <= cost + DONE:
                break
            if damping > 1e6:  # no way leads down: it is the least that these digits know
                step, moved, new = np.zeros_like(x), blocks, cost
                break
            damping *= 10.0
        gain = cost - new
        x, blocks, cost, damping = x + step, moved, new, max(damping / 10.0, 1e-12)
        if not np.isfinite(cost):
            return None
        if abs(gain) < DONE:
            covariance = _inverse(_normal(problem, blocks)[0])
            return None if covariance is None else Adjusted(problem, x, covariance, blocks)
    return None


def cost_of(blocks: Iterable[Block]) -> float:
    """Return the sum of all squared residuals, in sigmas."""
    return float(sum(block.residual @ block.residual for block in blocks))


def _normal(problem: Problem, blocks: tuple[Block, ...]) -> tuple[Array, Array]:
    normal, pull = np.zeros((problem.size, problem.size)), np.zeros(problem.size)
    for block in blocks:
        normal[np.ix_(block.columns, block.columns)] += block.slope.T @ block.slope
        pull[block.columns] += block.slope.T @ block.residual
    return normal, pull


def _inverse(normal: Array) -> Array | None:
    scale = np.sqrt(np.diag(normal))
    unit = normal / np.outer(scale, scale)
    try:
        root = np.linalg.inv(np.linalg.cholesky(unit))
    except np.linalg.LinAlgError:
        return None
    return np.asarray(root.T @ root / np.outer(scale, scale))
