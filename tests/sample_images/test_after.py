"""The photos with a post in: the picture shows its balls where they truly are."""

from __future__ import annotations

import json

import numpy as np
import pytest

from calibration.photo import read_photo
from sample_images.after import AFTER, EAR, WEEK_5, Seen, marks, standing, worn
from sample_images.make import HERE


@pytest.mark.parametrize("seen", [AFTER, WEEK_5], ids=lambda seen: seen.name)
def test_the_picture_shows_metal_where_the_balls_truly_are_and_not_about_them(seen: Seen) -> None:
    sample = standing(seen)
    view = sample.phone_at(*seen.phone)
    post = worn(sample, seen)
    true_px = view.pixels(sample.standing.to_card(post.ends))
    away_mm = np.linalg.norm(sample.standing.to_card(post.ends) - view.centre_card, axis=1)
    picture = read_photo((HERE / EAR / f"{seen.name}.jpg").read_bytes()).pixels.astype(float)
    grey = (np.ptp(picture, axis=2) < 36) & (picture.min(axis=2) > 95)
    y, x = np.indices(grey.shape)
    told = marks(seen)["photos"][0]["placements"][0]["x_post"]
    for at, mm, name in zip(true_px, away_mm, ("entry_end", "exit_end"), strict=True):
        away = np.hypot(x - at[0], y - at[1]) * mm / view.camera.fx / (post.ball_mm / 2)
        assert grey[away < 0.8].mean() > 0.8
        assert grey[(away > 1.3) & (away < 2.0)].mean() < 0.5
        assert np.linalg.norm(np.asarray(told[name]) - at) < 4 * told["u_px"]


@pytest.mark.parametrize("seen", [AFTER, WEEK_5], ids=lambda seen: seen.name)
def test_the_committed_marks_are_the_ones_that_are_made(seen: Seen) -> None:
    kept = json.loads((HERE / EAR / f"marks-{seen.name}.json").read_text("utf-8"))
    assert kept == json.loads(json.dumps(marks(seen)))


def test_a_post_holds_what_lies_on_it_and_nothing_beside() -> None:
    post = worn(standing(AFTER), AFTER)
    vertices, faces = post.mesh()
    assert post.holds(vertices).all()
    assert faces.max() == len(vertices) - 1
    assert not post.holds(post.ends + 1.1 * post.ball_mm * np.array([1.0, 0.0, 0.0])).any()
    between = np.linalg.norm(post.ends[0] - post.ends[1]) - post.ball_mm
    assert between == pytest.approx(post.length_mm)
