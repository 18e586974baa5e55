"""What a planned placement's length is and how well it is known, against the measurement's own."""

from collections.abc import Callable
from dataclasses import replace
from typing import Any

import numpy as np
import pytest

from assess.band_model import BandModel
from assess.criteria import DEFAULT_CRITERIA, Limit
from assess.grouping import Rim
from assess.marks import CardMarks
from assess.placing import axes_in
from assess.plan import Plan, Planned, lay
from assess.read_marks import parse_marks
from assess.reading import PhotoReading
from assess.rim_curve import rim_curve
from assess.scale import print_scale
from assess.spacing import Laid
from assess.together import together
from assess.usable import PlanView
from assess.verdict import decide
from calibration.card import FRAME
from calibration.draws import Draws
from tests.assess.rims import ring, view

DRAWS = Draws(1, 40_000)
MM_PER_PX = 0.2
TOP_MM, BOTTOM_MM = 46.0, 53.0
PLACES_MM = {"A": 50.0, "B": 60.0, "C": 70.0}
PLANE = {"offset_mm": 0, "u_offset_mm": 4.0, "u_tilt_deg": 5.0}


def level_rim() -> tuple[Plan, Laid]:
    """Return three placements on a straight rim, 7 mm thick, about the card's (60, 50) mm."""
    x = np.linspace(35.0, 85.0, 20)
    curve = rim_curve(
        np.column_stack([x, np.full(20, TOP_MM)]), np.column_stack([x, np.full(20, BOTTOM_MM)])
    )
    plan = Plan(tuple(Planned(label, x - 35.0) for label, x in PLACES_MM.items()))
    laid = lay(plan, curve)
    assert isinstance(laid, Laid)
    return plan, laid


def measured(reading: PhotoReading) -> np.ndarray:
    """Return the draws of the same placements, measured by their visible edges, (3, M) mm."""

    def px(x: float, y: float) -> list[float]:
        return [799.5 + (x - 60.0) / MM_PER_PX, 599.5 + (y - 50.0) / MM_PER_PX]

    placements: list[dict[str, Any]] = [
        {
            "label": label,
            "entry": px(x, TOP_MM),
            "exit": px(x, BOTTOM_MM),
            "outline": ["entry", "exit"],
        }
        for label, x in PLACES_MM.items()
    ]
    document = parse_marks(
        {
            "format": "rimspan-marks/1",
            "side": "left",
            "rim_plane": PLANE,
            "photos": [{"file": "a.jpg", "sigma_px": 1.0, "placements": placements}],
        }
    )
    (photo,) = document.photos
    known = replace(reading, scale=print_scale(FRAME, CardMarks(id=FRAME.id)))
    axes = axes_in(photo, list(PLACES_MM), document, known, DRAWS)
    return np.array([axes[label].channel_mm for label in PLACES_MM])


def planned() -> np.ndarray:
    known = PlanView(
        "left", (60.0, 50.0, -300.0), (MM_PER_PX, MM_PER_PX), 0.0, 4.0, 5.0, 0.006, (0.0, 0.0)
    )
    return known.channels(level_rim()[1], DRAWS)


def test_a_planned_channel_is_known_as_well_as_one_measured_by_its_edges(
    reading: Callable[..., PhotoReading],
) -> None:
    ours, theirs = planned(), measured(reading())
    np.testing.assert_allclose(ours.mean(axis=1), theirs.mean(axis=1), atol=0.01)
    np.testing.assert_allclose(ours.std(axis=1), theirs.std(axis=1), rtol=0.02)


def test_planned_channels_go_together_as_measured_ones_do(
    reading: Callable[..., PhotoReading],
) -> None:
    ours, theirs = planned(), measured(reading())
    np.testing.assert_allclose(np.corrcoef(ours), np.corrcoef(theirs), atol=0.02)
    # One draw of what is shared serves both: planned and measured go together as well.
    across = np.corrcoef(ours[0], theirs[1])[0, 1]
    assert across == pytest.approx(np.corrcoef(theirs)[0, 1], abs=0.02)


def test_quick_and_drawn_uncertainty_agree() -> None:
    _, laid = level_rim()
    known = PlanView("left", (60.0, 50.0, -300.0), u_tilt_deg=0.0)
    value, u = known.channel_u_mm(laid)
    drawn = known.channels(laid, DRAWS)
    np.testing.assert_allclose(value, drawn.mean(axis=1), atol=0.01)
    # The band's t has 13 degrees of freedom: drawn it is wider by sqrt(13/11), first order isn't.
    assert (u < drawn.std(axis=1)).all()
    np.testing.assert_allclose(u, drawn.std(axis=1), rtol=0.06)


def test_the_usable_stretch_is_where_the_channel_keeps_its_limit() -> None:
    """A ring that thins out: by closed form its gap crosses the limit at one place."""
    curve = ring((20.0, 20.0), (14.0, 14.0), shift=(2.0, 0.0))
    none = BandModel((0.0,) * 6, ((0.0,) * 6,) * 6, 13, 14)
    rim = Rim(curve, replace(view(), band=none), channel=Limit(6.0, 30.0))
    (stretch,) = rim.profile.stretches(0.0)
    # From a place at angle w on the outer circle inward: to the circle about (2, 0) mm.
    angle = np.pi + rim.profile.arc_mm / 20.0
    along, across = 20.0 - 2.0 * np.cos(angle), 2.0 * np.sin(angle)
    told = along - np.sqrt(14.0**2 - across**2)
    np.testing.assert_allclose(rim.profile.channel_mm[8:-8], told[8:-8], atol=0.03)
    assert stretch[0] < 1.0  # thick enough where the contours begin
    assert stretch[1] == pytest.approx(rim.profile.arc_mm[told >= 6.0].max(), abs=0.6)
    # The stricter, the shorter.
    (sure,) = rim.profile.stretches(2.0)
    assert stretch[0] <= sure[0] < sure[1] <= stretch[1]
    assert sure[1] - sure[0] < stretch[1] - stretch[0]


def test_a_groups_joint_probability_is_the_share_of_draws_in_which_all_hold(
    reading: Callable[..., PhotoReading],
) -> None:
    lengths = measured(reading())
    limit = Limit(6.4, 10.0)
    tight = replace(DEFAULT_CRITERIA, limits=DEFAULT_CRITERIA.limits | {"channel": limit})
    decisions = {
        label: decide({"channel": channel}, "firm", tight)
        for label, channel in zip(PLACES_MM, lengths, strict=True)
    }
    found = together(decisions)
    assert found.probability == np.mean(((lengths >= 6.4) & (lengths <= 10.0)).all(axis=0))
    assert found.each == {label: d.probability for label, d in decisions.items()}
    product = float(np.prod(list(found.each.values())))
    assert found.probability is not None
    assert product + 0.02 < found.probability < min(found.each.values())
    assert not found.missing
    lacking = together(decisions | {"D": decide({"channel": None}, "soft", tight)})
    assert ("D", "channel") in lacking.missing
    assert lacking.probability == found.probability
    assert not lacking.supports(tight)
    assert found.least is not None
