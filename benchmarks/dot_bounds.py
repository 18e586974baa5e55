"""How well a dot could be placed at best: ``python -m benchmarks.dot_bounds SEED COUNT KIND``.

The Cramer-Rao bound of where a rendered dot's centre is seen, from the noise that the renderer
adds.  What a picture changes by as the dot moves over the skin, grows, or takes more or less of a
colour is rendered; where the dot is, how large and how dark are unknown, ear, skin, light and lens
known.  So no method that knows less can do better without bias, and most must do worse.
"""

from __future__ import annotations

import sys
from dataclasses import replace

import numpy as np

from benchmarks.dot_scenes import Setting, setting
from calibration.frames import Array, Image
from sample_images.scene import Look, Spot

STEPS = (0.06, 0.06, 0.04, 0.05, 0.05, 0.05)
"""Along the skin, toward its edge and of the radius, mm; shares of what the ink takes."""
KNOWN_SD = np.array([np.inf, np.inf, 0.26, 0.3, 0.3, 0.3])
"""What is known of them beforehand."""
LEAST_CODES = 1.5
"""A change smaller than rounding shows is counted as none."""


def bound_px(drawn: Setting) -> float:
    """Return the least standard deviation of the centre, px, both axes together."""
    along, toward = _ways(drawn)
    clean = replace(drawn.look, noise=0.0)
    still = drawn.picture(drawn.spots, clean)
    changes, moves = [], []
    for k, step in enumerate(STEPS):
        pair = [_moved(drawn, k, way * step, along, toward) for way in (-1.0, 1.0)]
        seen = [drawn.picture([spot, *drawn.spots[1:]], clean).astype(np.float64) for spot in pair]
        change = seen[1] - seen[0]
        change[np.abs(change) < LEAST_CODES] = 0.0
        changes.append(change.ravel() / (2 * step))
        ends = drawn.stage.pixels(np.array([spot.at for spot in pair]))
        moves.append((ends[1] - ends[0]) / (2 * step))
    told = np.stack(changes) / _noise_codes(still, drawn.look).ravel()
    curvature = told @ told.T + np.diag(KNOWN_SD**-2) + 1e-9 * np.eye(len(STEPS))
    way = np.stack(moves, axis=1)
    return float(np.sqrt(np.trace(way @ np.linalg.inv(curvature) @ way.T)))


def _ways(drawn: Setting) -> tuple[Array, Array]:
    """Return the directions along the skin beside the edge and away from the camera, (3,) each."""
    ray = drawn.at - drawn.stage.centre
    ray = ray / np.linalg.norm(ray)
    ear = drawn.stage.ear
    face = int(ear.caster.intersects_first((drawn.at - 2.0 * ray)[None], ray[None])[0])
    a, b, c = ear.vertices[ear.faces[face]]
    normal = np.cross(b - a, c - a)
    toward = np.cross(np.cross(normal, ray), normal)
    toward = toward / max(float(np.linalg.norm(toward)), 1e-12)
    along = np.cross(normal, toward)
    return np.asarray(along / np.linalg.norm(along)), np.asarray(toward)


def _moved(drawn: Setting, k: int, step: float, along: Array, toward: Array) -> Spot:
    spot = drawn.spots[0]
    at = drawn.at + step * (along if k == 0 else toward) if k < 2 else drawn.at
    absorbs = np.array(spot.absorbs)
    if k > 2:
        absorbs[k - 3] *= 1.0 + step
    red, green, blue = (float(v) for v in absorbs)
    radius = spot.radius_mm + (step if k == 2 else 0.0)
    place = (float(at[0]), float(at[1]), float(at[2]))
    return replace(spot, at=place, radius_mm=radius, absorbs=(red, green, blue))


def _noise_codes(still: Image, look: Look) -> Array:
    """Return the standard deviation, in codes, of the noise that the renderer adds and rounding."""
    code = np.clip(still / 255.0, 1e-3, 0.999)
    linear = np.where(code <= 0.04045, code / 12.92, ((code + 0.055) / 1.055) ** 2.4)
    bright = linear / (1.18 - 0.18 * linear)
    slope = np.where(code <= 0.04045, 12.92, 1.055 / 2.4 * linear ** (1 / 2.4 - 1.0))
    slope = slope * 1.18 / (1.0 + 0.18 * bright) ** 2 * look.exposure
    light = np.clip(bright / look.exposure, 0.02, None)
    return np.asarray(np.hypot(255.0 * slope * 0.5 * look.noise * np.sqrt(light), 12**-0.5))


if __name__ == "__main__":
    seed, count, kind = int(sys.argv[1]), int(sys.argv[2]), sys.argv[3]
    drawn = [setting(seed, i, kind) for i in range(count)]
    bounds = np.array([bound_px(one) for one in drawn if one is not None])
    print(f"{kind}, seed {seed}, {len(bounds)} dots: median {np.median(bounds):.3f} px, largest")
    print(", ".join(f"{v:.2f}" for v in np.sort(bounds)[::-1][:6]), "px")
