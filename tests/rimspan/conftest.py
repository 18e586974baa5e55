"""Invented results for the tests of what people read; no number in them was measured."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

import pytest

from assess.result import Result

STATEMENT = "The piercer who examines the ear decides."


def quantity(value: float, u: float, unit: str = "mm") -> dict[str, Any]:
    return {"value": value, "u": u, "low": value - 2 * u, "high": value + 2 * u, "unit": unit}


def reason(criterion: str, sentence: str, probability: float | None) -> dict[str, Any]:
    limit = {"low": 3.0, "high": None, "unit": "mm", "basis": "assumption: common practice"}
    return {
        "criterion": criterion,
        "limit": limit,
        "probability": probability,
        "sentence": sentence,
        "measured": None,
    }


def placement(label: str = "one", **changes: Any) -> dict[str, Any]:
    post = {"gauge_mm": 1.2, "length_mm": 10.31875, "spare": quantity(3.3, 0.4), "probability": 0.9}
    return {
        "label": label,
        "channel": quantity(7.03, 0.42),
        "angle": quantity(12.0, 3.0, "deg"),
        "relief": None,
        "method": "one_view",
        "verdict": "undecided",
        "probability": 0.97,
        "headline": "Can't tell yet: the channel is 7.0 mm, but the relief isn't measured.",
        "reasons": [
            reason("relief", "Relief of the rim: not measured; wanted at least 3 mm.", None)
        ],
        "posts": {
            "initial": post,
            "downsized": {"none": "No length in stock suits.", "order_length_mm": 7.9375},
        },
        "budget": [{"input": "mark: entry", "share": 0.7}, {"input": "rim offset", "share": 0.3}],
        "missing": ["Relief of the rim: measure it."],
        "notes": [],
        "photo": "square-on.jpg",
    } | changes


def result(*placements: dict[str, Any], confirmed_by: str | None = None, **changes: Any) -> Result:
    photo = {
        "file": "square-on.jpg",
        "tilt_deg": 4.2,
        "distance_mm": 281.0,
        "reprojection_px": 0.1,
        "corners": 58,
        "sharpness": 0.8,
        "mirrored": False,
        "warnings": ["The photo is mirrored. It was turned back. Nothing to do."],
    }
    limits = {"relief": {"low": 3.0, "high": None, "unit": "mm", "basis": "common practice"}}
    return Result.model_validate(
        {
            "format": "rimspan-result/1",
            "software": "rimspan 0.1.0",
            "side": "left",
            "placements": list(placements) or [placement()],
            "band": None,
            "photos": [photo],
            "criteria": {"name": "assumed defaults", "version": "1", "limits": limits},
            "judgement": {"statement": STATEMENT, "confirmed_by": confirmed_by},
            "seed": 1,
            "draws": 100_000,
        }
        | changes
    )


@pytest.fixture(scope="session")
def make_result() -> Callable[..., Result]:
    return result


@pytest.fixture(scope="session")
def make_placement() -> Callable[..., dict[str, Any]]:
    return placement
