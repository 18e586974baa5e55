"""A small sample of the benchmark, and the band's model against its own derivation."""

import importlib.util

import numpy as np
import pytest

if importlib.util.find_spec("embreex") is None:
    pytest.skip("needs the extra 'samples' (embreex)", allow_module_level=True)

from assess.band_model import BAND_MODEL
from benchmarks.accuracy import run
from benchmarks.band_model import all_errors, fit_model
from benchmarks.tables import coverage, plain_rms, rms


def test_the_bands_model_is_the_one_that_the_parameter_ears_give() -> None:
    derived = fit_model(all_errors())
    assert (derived.ears, derived.dof) == (BAND_MODEL.ears, BAND_MODEL.dof)
    np.testing.assert_allclose(derived.mean_mm, BAND_MODEL.mean_mm, atol=0.02)
    np.testing.assert_allclose(derived.slope_mm_per_deg, BAND_MODEL.slope_mm_per_deg, atol=0.001)
    np.testing.assert_allclose(derived.scale_mm2, BAND_MODEL.scale_mm2, atol=0.005)


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
