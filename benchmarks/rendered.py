"""Rendered scenes: the card is found on pixels, the marks are true places with jitter."""

from __future__ import annotations

import numpy as np

from benchmarks.accuracy import SEED, Score, middle_of, score
from benchmarks.ears import EARS, random_site
from benchmarks.flat_picture import camera_of, standing_of
from benchmarks.scenes import Scene, draw_scene, seeds
from calibration.find import CardSeen, find_card
from sample_images.ears import Ear
from sample_images.render import render
from sample_images.scene import Look, View

FACTOR = 0.32
"""1280 x 960 px: the picture is drawn smaller than a phone takes it, to save time."""
NOISE_PX = (0.0, 0.5)
TONES = ("light", "olive", "brown", "dark")


def picture_of(ear: Ear, scene: Scene, seed: int) -> np.ndarray:
    """Return the scene drawn, (H, W, 3)."""
    view = View(camera_of(scene), scene.size_px, scene.rvec, scene.tvec)
    look = Look(tone=TONES[seed % len(TONES)], blur_px=0.5, seed=seed)
    return render(ear, standing_of(scene), view, look)


def run_rendered(count: int) -> list[Score]:
    """Return the scores of ``count`` rendered scenes in which the card was found."""
    names = list(EARS)
    scores: list[Score] = []
    for i, rng in enumerate(seeds(SEED + 1, count)):
        name, noise, tilt = names[i % len(names)], NOISE_PX[i % 2], bool(i // 2 % 2)
        site = random_site(name, rng)
        scene = draw_scene(rng, middle_of(site), rim_tilt=tilt).shrunk(FACTOR)
        seen = find_card(picture_of(site.ear, scene, i))
        if not isinstance(seen, CardSeen):
            print(f"scene {i}: {seen.sentence}")
            continue
        corners = seen.corners_px, seen.corner_ids
        for kind in ("ends", "edges"):
            got = score(site, scene, rng, (kind, noise, tilt), i + 1, corners)
            if got is not None:
                scores.append(got)
    return scores
