"""Which uncertainty each mark of one view brings into the measurement."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

import numpy as np
import pytest

from assess.band_model import BAND_MODEL
from assess.marks import Marks, PhotoMarks
from assess.placing import axes_in, mark_sigma_px, marked_view
from assess.read_marks import parse_marks
from assess.reading import U_MARK_MM, PhotoReading
from calibration.draws import Draws

MM_PER_PX = 0.2
Reading = Callable[..., PhotoReading]

SNAPPED = {"snapped": ["entry", "exit"], "u_px": 0.25}


def marks(sigma_px: float | None = None, **placement: Any) -> Marks:
    """Return marks 35 px apart, 7 mm in the card's plane, nothing else being uncertain."""
    ends = {"label": "1", "entry": [800.0, 580.0], "exit": [800.0, 615.0]}
    photo: dict[str, Any] = {"file": "a.jpg", "placements": [ends | placement]}
    if sigma_px is not None:
        photo["sigma_px"] = sigma_px
    return parse_marks(
        {
            "format": "rimspan-marks/1",
            "side": "left",
            "rim_plane": {"offset_mm": 0, "u_offset_mm": 0, "u_tilt_deg": 0},
            "photos": [photo],
        }
    )


def sigmas(document: Marks, reading: PhotoReading) -> dict[str, float]:
    (photo,) = document.photos
    return dict(marked_view(photo, reading, 0.0).sigma_px)


def channel_u(document: Marks, reading: PhotoReading) -> float:
    (photo,) = document.photos
    axis = axes_in(photo, ["1"], document, reading, Draws(1, 40_000))["1"]
    assert axis.channel_mm.mean() == pytest.approx(7.0, abs=0.05)
    return float(axis.channel_mm.std())


def test_a_mark_by_hand_has_the_photos_sigma_or_the_assumed_one(reading: Reading) -> None:
    assert sigmas(marks(), reading()) == pytest.approx(
        {"1/entry": U_MARK_MM / MM_PER_PX, "1/exit": U_MARK_MM / MM_PER_PX}
    )
    assert sigmas(marks(0.6), reading()) == {"1/entry": 0.6, "1/exit": 0.6}


def test_a_snapped_mark_has_its_own_u_whatever_the_photos_sigma(reading: Reading) -> None:
    snapped = marks(0.6, snapped=["entry"], u_px=0.25, below=[800.0, 640.0])
    assert sigmas(snapped, reading()) == {"1/entry": 0.25, "1/exit": 0.6, "1/below": 0.6}
    nothing_else = marks(0.6, **SNAPPED)
    assert set(sigmas(nothing_else, reading()).values()) == {0.25}


def test_each_placement_has_its_own_u(reading: Reading) -> None:
    other = {"label": "2", "entry": [850.0, 580.0], "exit": [850.0, 615.0]}
    photo = marks(**SNAPPED).photos[0].model_dump(exclude_none=True)
    photo["placements"] = (*photo["placements"], other | {"snapped": ("exit",), "u_px": 0.4})
    found = marked_view(PhotoMarks.model_validate(photo), reading(), 0.0).sigma_px
    assert (found["1/entry"], found["2/exit"]) == (0.25, 0.4)
    assert found["2/entry"] == pytest.approx(U_MARK_MM / MM_PER_PX)


@pytest.mark.parametrize(
    ("told", "end_mm"),
    [
        ({}, (U_MARK_MM, U_MARK_MM)),
        (SNAPPED, (0.25 * MM_PER_PX, 0.25 * MM_PER_PX)),
        (SNAPPED | {"snapped": ["exit"]}, (U_MARK_MM, 0.25 * MM_PER_PX)),
    ],
)
def test_the_channels_draws_and_budget_have_it(
    told: dict[str, Any], end_mm: tuple[float, float], reading: Reading
) -> None:
    """The card's corners and its print are nearly exact here: the ends alone are uncertain."""
    document = marks(**told)
    (photo,) = document.photos
    variance = sum(u**2 for u in end_mm)
    scale = 7.0 * reading().scale.u_common
    u = channel_u(document, reading())
    assert u**2 == pytest.approx(variance + scale**2, rel=0.03)
    lines = axes_in(photo, ["1"], document, reading(), Draws(1, 100))["1"].lines
    parts = {line.name: line.variance for line in lines}
    found = (parts["mark of the entry"], parts["mark of the exit"])
    assert found == pytest.approx((end_mm[0] ** 2, end_mm[1] ** 2), rel=1e-3)


def test_snapped_marks_are_measured_better_than_marks_by_hand(reading: Reading) -> None:
    by_hand, snapped = (channel_u(marks(**told), reading()) for told in ({}, SNAPPED))
    assert snapped < 0.4 * by_hand


def test_the_sigma_is_what_a_pixel_is_worth_at_the_rim(reading: Reading) -> None:
    (photo,) = marks().photos
    on_card, nearer = (mark_sigma_px(photo, reading(), height) for height in (0.0, 30.0))
    assert nearer / on_card == pytest.approx(300 / 270)


def by_edges(visit: str, reading: PhotoReading) -> list[np.ndarray]:
    """Return two channels 40 px apart, ends exact but marked on the visible edge, as draws."""
    first = marks(outline=["entry", "exit"])
    photo = first.photos[0].model_dump(exclude_none=True) | {"sigma_px": 0.0}
    other = {"label": "2", "entry": (840.0, 580.0), "exit": (840.0, 615.0)}
    photo["placements"] = (*photo["placements"], other | {"outline": ("entry", "exit")})
    entry = PhotoMarks.model_validate(photo)
    told = first.model_copy(update={"photos": (entry,)})
    axes = axes_in(entry, ["1", "2"], told, reading, Draws(1, 100_000, visit))
    return [axes[label].channel_mm for label in ("1", "2")]


def test_placements_on_one_ear_share_the_error_of_its_visible_band(reading: Reading) -> None:
    """The two go wrong together but for what each place has of its own.

    Against the model's own numbers: of the variance of a channel (both ends, seen level) only
    ``within`` is the place's.
    """
    first, second = by_edges("", reading())
    both = ("entry", "exit")
    own = float(np.sum(BAND_MODEL.within))
    # Seen about 1 degree from above or below, where the parabola hardly matters.
    assert first.var() == pytest.approx(BAND_MODEL.variance_mm2(both), rel=0.03)
    assert np.corrcoef(first, second)[0, 1] == pytest.approx(
        1.0 - own / BAND_MODEL.variance_mm2(both), abs=0.002
    )
    assert (first - second).var() == pytest.approx(2.0 * own, rel=0.1)


def test_an_ear_keeps_its_visible_band_from_one_visit_to_the_next(reading: Reading) -> None:
    then, now = by_edges("then", reading())[0], by_edges("now", reading())[0]
    assert np.corrcoef(then, now)[0, 1] > 0.95
