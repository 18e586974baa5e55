"""U over u where part of an error is a product of two unknowns: its tails are heavier.

How far a post leans out of the rim's plane, and how deep an outline lies, show by the change of
view; of that the cards tell a part, and how the rim is tilted against them adds to it at random.
At a given change of view the error is normal; over all of them it is a mixture of normals, whose
95 % lies further out than 1.96 (2.45) sigma of the whole.
"""

from __future__ import annotations

import numpy as np
from scipy.optimize import brentq
from scipy.stats import norm

from calibration.frames import Array

NODES = 16
PROBABILITY = 0.95


def view_shares(change: Array, u_view: float) -> tuple[Array, Array]:
    """Return possible changes of view: their weights, and their squares beside the mean square.

    Parameters
    ----------
    change : (2,) array
        As the cards tell it, rad.
    u_view : u of each part by how the rim is tilted against either card, rad

    Returns
    -------
    weights, shares : (n,) each; sum 1, and mean 1 by the weights
    """
    at, weight = np.polynomial.hermite_e.hermegauss(NODES)
    x, y = np.meshgrid(change[0] + u_view * at, change[1] + u_view * at)
    weights = np.outer(weight, weight) / weight.sum() ** 2
    mean = float(change @ change + 2 * u_view**2)
    shares = (x**2 + y**2) / mean if mean > 0.0 else np.ones_like(x)
    return weights.ravel(), np.asarray(shares.ravel())


def k_of(rest: Array, seen: Array, shares: tuple[Array, Array]) -> float:
    """Return U over sigma at 95 % of a number, or of a place in a plane by its ellipse.

    Of a place, what is drawn out differently at each change of view counts by its mean over the
    ellipse's axes.

    Parameters
    ----------
    rest, seen : (1, 1) or (2, 2) arrays
        Covariances: of what is normal, and of what goes by the change of view.
    shares : of `view_shares`
    """
    size = len(rest)
    by_view = float(np.trace(np.linalg.solve(rest + seen, seen))) / size
    weights, share = shares
    spread = np.sqrt(np.maximum(1.0 - by_view + by_view * share, 1e-12))

    def beyond(k: float) -> float:
        tail = 2 * norm.sf(k / spread) if size == 1 else np.exp(-0.5 * (k / spread) ** 2)
        return float(weights @ tail) - (1.0 - PROBABILITY)

    return float(brentq(beyond, 1.0, 8.0))
