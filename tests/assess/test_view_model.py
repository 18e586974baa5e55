"""One model of a view: folded and unfolded, across placements and visits."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

import numpy as np
import pytest

from assess.marks import Marks
from assess.placing import axes_in, measurement_in
from assess.read_marks import parse_marks
from assess.reading import PhotoReading
from assess.view_inputs import ViewMeasurement
from calibration.draws import Draws
from calibration.first_order import first_order
from calibration.monte_carlo import propagate
from calibration.quantity import Quantity
from tests.assess.conftest import square_on

M = 60_000
ENDS: dict[str, Any] = {"label": "1", "entry": [800.0, 580.0], "exit": [804.0, 615.0]}
OTHER: dict[str, Any] = {"label": "2", "entry": [850.0, 582.0], "exit": [852.0, 618.0]}


def uncertain() -> PhotoReading:
    """Return a photo whose lens and pose are uncertain, jointly."""
    reading = square_on()
    assert reading.fit is not None
    slope = np.random.default_rng(4).normal(size=(8, 8))
    size = np.array([0.01, 0.02, 0.003, 0.003, 0.002, 0.3, 0.3, 2.0])
    covariance = (size[:, None] * size) * (slope @ slope.T) / 8
    return replace(reading, fit=replace(reading.fit, covariance=covariance))


def marks(*placements: dict[str, Any]) -> Marks:
    return parse_marks(
        {
            "format": "rimspan-marks/1",
            "side": "left",
            "photos": [{"file": "a.jpg", "sigma_px": 1.0, "placements": list(placements)}],
        }
    )


def measurement(*placements: dict[str, Any]) -> ViewMeasurement:
    document = marks(*placements)
    labels = [placement["label"] for placement in placements]
    return measurement_in(document.photos[0], labels, document, uncertain())


def test_folded_inputs_have_the_list_s_distribution() -> None:
    view = measurement(ENDS | {"outline": ["exit"], "below": [806.0, 640.0]}, OTHER)
    one = propagate(view.folded, view.folded_inputs, Draws(1, M))
    other = propagate(view.unfolded, view.inputs, Draws(2, M))
    for row in (0, 1, 2, 6, 8):  # both channels and angles, the room below the first
        a, b = (Quantity.from_draws(rows[row], "mm") for rows in (one, other))
        # Five standard errors of a difference of two means, two deviations.
        assert a.value == pytest.approx(b.value, abs=5 * a.u * np.sqrt(2 / M))
        assert a.u == pytest.approx(b.u, rel=5 * np.sqrt(1 / M) * 1.5)
    together = [np.corrcoef(rows[0], rows[6])[0, 1] for rows in (one, other)]
    assert together[0] == pytest.approx(together[1], abs=0.02)
    assert together[0] > 0.1  # one offset, one print, one pose


def test_the_first_marks_draws_stay_when_a_placement_is_added() -> None:
    alone, both = (measurement(*p).folded_inputs[0] for p in ([ENDS], [ENDS, OTHER]))
    few = Draws(1, 100)
    np.testing.assert_allclose(alone.draw(few), both.draw(few)[:7], atol=1e-9)


def test_two_visits_share_the_print_and_nothing_else() -> None:
    document, reading = marks(ENDS), uncertain()

    def channel(visit: str) -> np.ndarray:
        draws = Draws(1, M, visit)
        return axes_in(document.photos[0], ["1"], document, reading, draws)["1"].channel_mm

    first, again, later = channel("first"), channel("first"), channel("later")
    np.testing.assert_array_equal(first, again)
    share = first_order(measurement(ENDS).unfolded, measurement(ENDS).inputs)[0]
    print_share = share.variances["print scale"] / share.u**2
    assert np.corrcoef(first, later)[0, 1] == pytest.approx(print_share, abs=5 / np.sqrt(M))


def test_a_tilted_plane_makes_the_mean_longer_than_first_order_says() -> None:
    """Of tilts of 5.8 degrees the one about the span's normal counts: E[1/cos] - 1 = u²/2."""
    document = marks(ENDS)
    view = measurement_in(document.photos[0], ["1"], document, square_on())
    draws = propagate(view.folded, view.folded_inputs, Draws(1, 200_000))[0]
    plain = first_order(view.unfolded, view.inputs)[0]
    tilt = np.deg2rad(5.8)
    standard_error = plain.u / np.sqrt(200_000)
    jitter = 2 * 0.2**2 / (2 * plain.value)  # two marks of 0.2 mm across the span
    expected = plain.value * tilt**2 / 2 + jitter
    assert draws.mean() - plain.value == pytest.approx(expected, abs=4 * standard_error)
    assert expected > 8 * standard_error
