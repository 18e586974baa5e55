"""Invented results, and an invented photo of a flat card, for the tests of what people read."""

from __future__ import annotations

import io
import json
from collections.abc import Callable
from pathlib import Path
from typing import Any

import cv2
import numpy as np
import pytest
from PIL import Image

from assess.result import Result
from calibration.card import FRAME
from calibration.draw_card import card_png

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


FOCAL_PX, PHOTO_SIZE = 1500.0, (1600, 1200)
"""An invented camera 280 mm in front of a flat card, turned by 4 degrees: no ear in it."""


def camera_matrix(turned_deg: tuple[float, float] = (4.0, 0.0)) -> np.ndarray:
    """Return the homography from the card's millimetres to pixels of the photo, (3, 3)."""
    turn, _ = cv2.Rodrigues(np.deg2rad([*turned_deg, 0.0]))
    middle = np.array([69.0, 55.5, 0.0])
    shift = np.array([0.0, 0.0, 280.0]) - turn @ middle
    width, height = PHOTO_SIZE
    lens = np.array([[FOCAL_PX, 0, width / 2], [0, FOCAL_PX, height / 2], [0, 0, 1.0]])
    return lens @ np.column_stack([turn[:, 0], turn[:, 1], shift])


def in_photo(points_mm: list[tuple[float, float]]) -> list[list[float]]:
    """Return where points on the card (mm) lie in the photo (px)."""
    places = np.array(points_mm, dtype=np.float64)[:, None, :]
    return [
        [round(float(v), 2) for v in p]
        for p in cv2.perspectiveTransform(places, camera_matrix()).reshape(-1, 2)
    ]


def card_photo(
    size: tuple[int, int] = PHOTO_SIZE, turned_deg: tuple[float, float] = (4.0, 0.0)
) -> bytes:
    """Return a JPEG of the frame card on a plain ground, seen by the invented camera."""
    dpi = 300
    card = np.asarray(Image.open(io.BytesIO(card_png(FRAME, dpi))).convert("RGBA"))
    mm = 25.4 / dpi
    # Pixel centres: (i + 0.5) mm of the card, and a photo's (0, 0) is a centre too.
    from_card = np.array([[mm, 0, mm / 2], [0, mm, mm / 2], [0, 0, 1.0]])
    to_photo = camera_matrix(turned_deg) @ from_card
    seen = cv2.warpPerspective(card, to_photo, size, flags=cv2.INTER_AREA)
    alpha = seen[..., 3:].astype(np.float64) / 255.0
    ground = np.full((size[1], size[0], 3), (190.0, 150.0, 125.0))
    pixels = (alpha * seen[..., :3] + (1 - alpha) * ground).round().astype(np.uint8)
    stream = io.BytesIO()
    Image.fromarray(pixels).save(stream, "JPEG", quality=95)
    return stream.getvalue()


def flat_marks() -> dict[str, Any]:
    """Return marks on the card's window: a channel of 7 mm straight down, in its plane."""
    entry, leaving, below, up = in_photo([(69, 60), (69, 67), (69, 73), (69, 40)])
    outer = in_photo([(60 + x, 61 - 0.04 * x * (18 - x)) for x in range(0, 19, 3)])
    inner = in_photo([(60 + x, 68 - 0.04 * x * (18 - x)) for x in range(0, 19, 3)])
    return {
        "format": "rimspan-marks/1",
        "side": "left",
        "card": {"id": FRAME.id},
        "rim_plane": {"offset_mm": 0, "u_offset_mm": 1, "u_tilt_deg": 1},
        "photos": [
            {
                "file": "flat.jpg",
                "sigma_px": 1.0,
                "head_up": [entry, up],
                "outer_rim": outer,
                "inner_rim": inner,
                "ties": {"one": in_photo([(60, 80)])[0]},
                "placements": [{"label": "only", "entry": entry, "exit": leaving, "below": below}],
            }
        ],
        "examined": {"only": {"tissue": "firm"}},
    }


@pytest.fixture(scope="session")
def flat_photo() -> bytes:
    return card_photo()


@pytest.fixture(scope="session")
def flat_document() -> dict[str, Any]:
    return flat_marks()


@pytest.fixture
def flat(tmp_path: Path, flat_photo: bytes) -> Path:
    """Return a folder's marks file beside its photo."""
    (tmp_path / "in").mkdir()
    (tmp_path / "in" / "flat.jpg").write_bytes(flat_photo)
    path = tmp_path / "in" / "marks.json"
    path.write_text(json.dumps(flat_marks()), encoding="utf-8")
    return path
