"""The registration in space against other libraries, a closed form and repeated trials."""

from __future__ import annotations

import numpy as np
import pytest
from scipy.spatial.transform import Rotation
from scipy.stats import chi2
from skimage.transform import EuclideanTransform

from assess.recheck_change import K_SPACE
from assess.recheck_factor import k_of, view_shares
from assess.recheck_space_registration import register_in_space
from calibration.frames import Array
from calibration.space_points import Loading, SpacePoints

NAMES = ("a", "b", "c", "d", "e")
SIGMA = 0.1


def key(visit: str, name: str) -> str:
    return name if name == "print" else f"{visit}: {name}"


def points(at: Array, *, sigma: float = SIGMA, shared: Array | None = None) -> SpacePoints:
    """Return points that err alike on all axes, each by itself, and by a shared input."""
    loadings = [Loading("own", "own", sigma * np.eye(at.size))]
    if shared is not None:
        loadings.append(Loading("print", "print", shared))
    return SpacePoints(NAMES[: len(at)], at, tuple(loadings))


def scattered(rng: np.random.Generator) -> tuple[Array, Array, Rotation]:
    """Return places at both visits, the second ones turned, shifted and a little off."""
    first = rng.normal(size=(5, 3)) * [12.0, 15.0, 5.0]
    turn = Rotation.from_rotvec([0.2, -0.15, 0.3])
    later = turn.inv().apply(first - [3.0, -2.0, 8.0]) + SIGMA * rng.normal(size=(5, 3))
    return first, later, turn


@pytest.mark.memory(source="scipy's Rotation.align_vectors (Kabsch 1976)")
def test_points_of_one_u_are_turned_as_scipy_does() -> None:
    first, later, _ = scattered(np.random.default_rng(11))
    found = register_in_space(points(first), points(later), NAMES, key)
    theirs, _ = Rotation.align_vectors(first - first.mean(0), later - later.mean(0))
    np.testing.assert_allclose(found.turn, theirs.as_matrix(), atol=1e-7)
    np.testing.assert_allclose(found.carried(later.mean(0)[None])[0], first.mean(0), atol=1e-7)


@pytest.mark.memory(source="scikit-image's EuclideanTransform.from_estimate (Umeyama 1991)")
def test_points_of_one_u_are_laid_on_as_scikit_image_does() -> None:
    first, later, _ = scattered(np.random.default_rng(12))
    found = register_in_space(points(first), points(later), NAMES, key)
    theirs = EuclideanTransform.from_estimate(later, first)
    np.testing.assert_allclose(found.carried(later), theirs(later), atol=1e-6)


@pytest.mark.memory(source="closed form, worked out here")
def test_the_u_of_turn_and_shift_is_the_closed_form() -> None:
    """Of points that err alike: turn, 2 sigma² over the moment of inertia; shift, 2 sigma² / N."""
    first = np.array([[20.0, 0, 0], [-20.0, 0, 0], [0, 12.0, 0], [0, -12.0, 0]])
    found = register_in_space(points(first), points(first), NAMES[:4], key)
    inertia = 2 * np.array([12.0**2, 20.0**2, 12.0**2 + 20.0**2])
    expected = 2 * SIGMA**2 / np.concatenate([inertia, np.full(3, 4.0)])
    np.testing.assert_allclose(np.diag(found.covariance), expected, rtol=1e-5)


@pytest.mark.memory(source="repeated trials; chi-squared with 3 N - 6 degrees of freedom")
def test_the_stated_covariance_is_that_of_repeated_trials() -> None:
    rng = np.random.default_rng(13)
    at = rng.normal(size=(5, 3)) * [12.0, 15.0, 5.0]
    turn = Rotation.from_rotvec([0.1, 0.2, -0.3])
    before = turn.inv().apply(at)
    u = np.repeat([0.05, 0.3, 0.1, 0.2, 0.05], 3)
    own = (Loading("own", "own", np.diag(u)),)
    off, chi = [], []
    for _ in range(600):
        first, later = (x + (u * rng.normal(size=15)).reshape(5, 3) for x in (at, before))
        found = register_in_space(
            SpacePoints(NAMES, first, own), SpacePoints(NAMES, later, own), NAMES, key
        )
        turned = Rotation.from_matrix(found.turn @ turn.inv().as_matrix()).as_rotvec()
        middle = found.carried(before.mean(0)[None])[0] - at.mean(0)
        off.append([*turned, *middle])
        chi.append(found.chi_squared)
    # ``shift`` is the shared points' measured middle, so the place of the true one is compared.
    spread = np.std(off, axis=0)[:3]
    np.testing.assert_allclose(spread, np.sqrt(np.diag(found.covariance)[:3]), rtol=0.12)
    assert np.mean(chi) == pytest.approx(3 * 5 - 6, abs=0.6)
    assert np.mean(np.array(chi) > chi2.ppf(0.95, 9)) == pytest.approx(0.05, abs=0.03)


@pytest.mark.memory(source="closed form, worked out here")
def test_what_both_visits_share_goes_out() -> None:
    """One print too large by a part in a hundred at both visits turns and shifts nothing."""
    at = np.random.default_rng(14).normal(size=(5, 3)) * 10.0
    shared = 0.01 * at.reshape(-1, 1)
    found = register_in_space(points(at, shared=shared), points(at, shared=shared), NAMES, key)
    assert np.abs(found.loadings["print"]).max() < 1e-9


@pytest.mark.memory(source="chi-squared: 95 % of three degrees of freedom, 7.815")
def test_the_factor_of_u_in_space() -> None:
    assert pytest.approx(7.815, abs=5e-4) == K_SPACE**2


@pytest.mark.memory(source="repeated trials of the product of two normal numbers")
def test_u_of_a_product_of_two_unknowns_is_that_of_trials() -> None:
    """A lean (or depth) times a change of view, beside a normal part as large."""
    rng = np.random.default_rng(15)
    change, u_view, count = np.array([0.03, -0.05]), 0.1, 400_000
    view = change + u_view * rng.normal(size=(count, 2))
    mean = change @ change + 2 * u_view**2
    size = np.sqrt(np.sum(view**2, axis=1) / mean)
    shares = view_shares(change, u_view)
    assert shares[0] @ shares[1] == pytest.approx(1.0)
    for part in (0.0, 0.5, 1.0):
        rest, seen = (1 - part) * np.eye(2), part * np.eye(2)
        normal = np.sqrt(1 - part) * rng.normal(size=(count, 2))
        off = normal + np.sqrt(part) * size[:, None] * rng.normal(size=(count, 2))
        one = np.quantile(np.abs(off[:, 0]), 0.95)
        assert k_of(rest[:1, :1], seen[:1, :1], shares) == pytest.approx(one, rel=0.01)
        both = np.quantile(np.linalg.norm(off, axis=1), 0.95)
        assert k_of(rest, seen, shares) == pytest.approx(both, rel=0.01)
