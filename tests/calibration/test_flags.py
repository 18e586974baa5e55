"""Flags say what was seen, what it means, what to do; sharpness tells blur from sharp."""

import cv2
import numpy as np
import pytest

from calibration.card import FRAME
from calibration.find import CardSeen
from calibration.flags import FLAGS, photo_flags, raise_flag
from calibration.lens import Camera
from calibration.pose import PlaneFit
from calibration.quality import clipped_share, sharpness

SIZE = (300, 400)


def texture(blur_px: float = 0.0, scale: float = 1.0) -> np.ndarray:
    """Return a picture of edges: blobs of skin-like contrast."""
    rng = np.random.default_rng(4)
    blobs = cv2.GaussianBlur(rng.standard_normal(SIZE), (0, 0), 6) > 0
    grey = 128 + scale * 50 * (blobs.astype(np.float64) - 0.5)
    if blur_px:
        grey = cv2.GaussianBlur(grey, (0, 0), blur_px)
    return np.clip(grey + rng.normal(0, 1.5, SIZE), 0, 255).astype(np.uint8)


def flags(**changes: object) -> dict[str, str]:
    camera = Camera(2000, 2000, 199.5, 149.5)
    settings: dict = {
        "rms_px": 0.05,
        "corners": 50,
        "tilt_deg": 3.0,
        "distance_mm": 270.0,
        "sharpness": 0.8,
        "print_verified": True,
        "mirrored": False,
        "pixels": np.dstack([texture()] * 3),
        "seen": True,
    } | changes
    fit = PlaneFit(
        camera,
        np.zeros(3),
        np.array([0, 0, 270.0]),
        np.eye(8),
        settings.pop("rms_px"),
        settings.pop("corners"),
    )
    mirrored = settings.pop("mirrored")
    seen = CardSeen(FRAME, np.arange(9), np.zeros((9, 2)), mirrored, 20)
    settings["seen"] = seen if settings["seen"] else None
    raised = photo_flags(fit=fit, target_px=(200, 150), radius_px=90, **settings)
    return {flag.code: flag.severity for flag in raised}


def test_a_good_photo_raises_nothing() -> None:
    assert flags() == {}


@pytest.mark.parametrize(
    ("change", "code", "severity"),
    [
        ({"tilt_deg": 12.0}, "tilt", "warning"),
        ({"tilt_deg": 21.0}, "tilt_over", "refused"),
        ({"distance_mm": 150.0}, "near", "warning"),
        ({"distance_mm": 400.0}, "far", "warning"),
        ({"sharpness": 0.1}, "blurred", "warning"),
        ({"sharpness": None}, "no_edges", "note"),
        ({"rms_px": 0.8}, "card_not_flat", "warning"),
        ({"corners": 9}, "few_corners", "warning"),
        ({"mirrored": True}, "mirrored", "note"),
        ({"print_verified": False}, "print_unverified", "note"),
        ({"seen": False}, "low_confidence", "warning"),
        ({"pixels": np.full((*SIZE, 3), 255, np.uint8)}, "exposure", "warning"),
    ],
)
def test_each_fault_raises_its_own_flag(change: dict, code: str, severity: str) -> None:
    assert flags(**change) == {code: severity}


@pytest.mark.parametrize("code", FLAGS)
def test_every_flag_says_three_things_with_its_number(code: str) -> None:
    flag = raise_flag(code, 12.0)
    assert all(part.endswith(".") for part in (flag.seen, flag.means, flag.do))
    assert "{" not in flag.sentence
    assert flag.sentence.count(". ") >= 2


def test_sharpness_falls_with_blur_and_not_with_contrast() -> None:
    sharp, soft, softer = (sharpness(texture(blur), (200, 150), 90) for blur in (0.6, 2.0, 5.0))
    assert sharp > soft > softer
    assert sharp > 0.35 > softer
    assert sharpness(texture(0.6, scale=0.5), (200, 150), 90) == pytest.approx(sharp, abs=0.12)


def test_clipped_share_counts_what_is_burnt_out_and_black() -> None:
    picture = np.full(SIZE, 128, np.uint8)
    picture[:, 200:] = 255
    assert clipped_share(picture, (200, 150), 90) == pytest.approx(0.5, abs=0.02)
