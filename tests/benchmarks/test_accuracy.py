"""A small sample of the benchmark, and the band's model against its own derivation."""

import importlib.util

import numpy as np
import pytest
from scipy import stats

if importlib.util.find_spec("embreex") is None:
    pytest.skip("needs the extra 'samples' (embreex)", allow_module_level=True)

from assess.band_model import BAND_MODEL, powers
from benchmarks.accuracy import run
from benchmarks.band_model import derived_curves, fit_model, kept_curves, model_for
from benchmarks.ears import EARS
from benchmarks.tables import coverage, plain_rms, rms


def test_the_bands_model_is_the_one_that_the_kept_ears_give() -> None:
    assert fit_model(kept_curves()) == BAND_MODEL


def test_the_kept_curves_are_the_ears_own() -> None:
    for fresh, kept in zip(derived_curves(EARS[:1]), kept_curves()[:1], strict=True):
        assert (fresh.ear, fresh.views) == (kept.ear, kept.views)
        np.testing.assert_allclose(fresh.coefficients, kept.coefficients, atol=1e-3)
        np.testing.assert_allclose(fresh.within_mm2, kept.within_mm2, atol=1e-3)


def test_an_ear_left_out_lies_where_the_others_have_it() -> None:
    """Of 14 ears each predicted from the other 13, the count inside 95 % is binomial.

    Outside these bounds once in 500 times, were the model right.
    """
    curves = kept_curves()
    both = ("entry", "exit")
    for elevation_deg in (-20.0, -10.0, 0.0, 10.0, 20.0):
        by = np.tile(powers(np.array(elevation_deg)), 2)
        inside = 0
        for curve in curves:
            model = model_for(curve.ear)
            half = stats.t.ppf(0.975, model.dof) * np.sqrt(
                model.variance_mm2(both, elevation_deg) * (model.dof - 2) / model.dof
            )
            inside += abs(by @ (curve.coefficients - np.asarray(model.mean))) <= half
        low, high = stats.binom.ppf([0.001, 0.999], len(curves), 0.95)
        assert low <= inside <= high, elevation_deg


def test_a_hundred_scenes_beat_the_plain_scale_and_keep_their_word() -> None:
    scores = run(168, seed=7)
    ends = [s for s in scores if s.kind == "ends"]
    edges = [s for s in scores if s.kind == "edges"]
    exact = [s for s in ends if s.noise_px == 0]
    assert rms([s for s in exact if not s.rim_tilt]) < 0.5 * plain_rms(
        [s for s in exact if not s.rim_tilt]
    )
    assert rms([s for s in exact if s.rim_tilt]) < 0.75 * plain_rms(
        [s for s in exact if s.rim_tilt]
    )
    # 168 draws at 95 %: three standard deviations are 5 %.
    assert coverage(ends) > 0.90
    assert coverage(edges) > 0.86
