"""A photo's contours as a rim to plan on."""

from collections.abc import Callable
from dataclasses import replace

import numpy as np
import pytest

from assess.grouping import Proposal, Rim, propose
from assess.marks import PhotoMarks, RimPlane
from assess.plan_photo import rim_in_photo
from assess.reading import PhotoReading
from calibration.pose import PlaneFit

PLANE = RimPlane(offset_mm=6.0, u_offset_mm=1.5, u_tilt_deg=2.0)


def photo(fit: PlaneFit, **other: object) -> PhotoMarks:
    """Return marks on a ring between circles of 20 and 14 mm about (60, 65), 6 mm up."""
    angle = np.linspace(1.05 * np.pi, 1.95 * np.pi, 25)
    lines = {}
    for name, radius in (("outer_rim", 20.0), ("inner_rim", 14.0)):
        x, y = 60.0 + radius * np.cos(angle), 65.0 + radius * np.sin(angle)
        seen = fit.project(np.column_stack([x, y, np.full(25, -6.0)]))
        lines[name] = tuple((float(px), float(py)) for px, py in seen)
    return PhotoMarks.model_validate({"file": "a.jpg", "sigma_px": 0.5, **lines, **other})


def tilted(reading: PhotoReading) -> PhotoReading:
    """Return the same reading from a camera that is turned by 17 degrees."""
    assert reading.fit is not None
    return replace(reading, fit=replace(reading.fit, rvec=np.array([0.3, 0.0, 0.0])))


@pytest.mark.parametrize("turned", [False, True])
def test_its_rim_is_in_millimetres_of_the_rims_plane(
    reading: Callable[..., PhotoReading], turned: bool
) -> None:
    read = tilted(reading()) if turned else reading()
    assert read.fit is not None
    found = rim_in_photo(photo(read.fit), read, PLANE, "left")
    assert found is not None
    rim, view = found
    np.testing.assert_allclose(np.hypot(*(rim.outer_mm - [60.0, 65.0]).T), 20.0, atol=0.02)
    assert rim.length_mm == pytest.approx(0.9 * np.pi * 20.0, abs=0.05)
    top = rim.top_mm()
    assert top == pytest.approx(0.45 * np.pi * 20.0, abs=0.1)
    np.testing.assert_allclose(view.camera_mm, read.fit.centre_mm)
    assert view.u_offset_mm == 1.5
    # What is seen is the photo's: a tilted view foreshortens, an upright one doesn't.
    seen = np.hypot(*np.diff(rim.seen, axis=0).T)
    assert (np.ptp(seen) / seen.mean() > 0.04) == turned


def test_even_to_the_eye_means_even_in_the_photo(reading: Callable[..., PhotoReading]) -> None:
    read = tilted(reading())
    assert read.fit is not None
    found = rim_in_photo(photo(read.fit), read, PLANE, "left")
    assert found is not None
    rim = Rim(*found, step_mm=None)
    proposal = propose(rim, 4, "sight")
    assert isinstance(proposal, Proposal)
    entries = found[0].at(proposal.plan.arc_mm)
    px = read.fit.project(np.column_stack([entries, np.full(4, -6.0)]))
    steps = np.hypot(*np.diff(px, axis=0).T)
    assert np.ptp(steps) < 0.01 * steps.mean()
    in_mm = np.hypot(*np.diff(entries, axis=0).T)
    assert np.ptp(in_mm) > 0.02 * in_mm.mean()


def test_the_head_says_where_up_is(reading: Callable[..., PhotoReading]) -> None:
    read = reading()
    assert read.fit is not None
    leaning = photo(read.fit, head_up=((800.0, 600.0), (900.0, 500.0)))
    found = rim_in_photo(leaning, read, PLANE, "right")
    assert found is not None
    np.testing.assert_allclose(found[0].up, [np.sqrt(0.5), -np.sqrt(0.5)], atol=1e-9)
    # An eighth of a circle further back than the card's up would have it.
    top = found[0].top_mm()
    assert top == pytest.approx((0.45 + 0.25) * np.pi * 20.0, abs=0.1)


def test_without_both_contours_or_a_card_there_is_none(
    reading: Callable[..., PhotoReading],
) -> None:
    read = reading()
    assert read.fit is not None
    whole = photo(read.fit)
    assert rim_in_photo(whole.model_copy(update={"inner_rim": None}), read, PLANE, "left") is None
    assert rim_in_photo(whole, replace(read, fit=None), PLANE, "left") is None
