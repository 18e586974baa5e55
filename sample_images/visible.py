"""What of the rim a camera sees: points, edges, contours.  All in the ear's frame, mm."""

from __future__ import annotations

import numpy as np

from calibration.frames import Array
from sample_images.curves import UPPER_RIM
from sample_images.ears import Ear
from sample_images.placement import Placement
from sample_images.shape import section

SCAN_MM = 0.04
JUMP_MM = 0.8
"""A step in depth from one ray to the next that only an occluding edge makes."""
VISIBLE_MM = 0.12


def is_visible(ear: Ear, points: Array, centre: Array) -> Array:
    """Return which points on the surface, (N, 3), the camera at ``centre`` sees, (N,) bool."""
    points = np.atleast_2d(points)
    away = points - centre
    reach = np.linalg.norm(away, axis=1)
    hits = ear.hits(np.tile(centre, (len(points), 1)), away / reach[:, None])
    near = np.linalg.norm(hits - centre, axis=1)
    return np.asarray(near > reach - VISIBLE_MM)


def disc_seen(
    ear: Ear, at: Array, radius_mm: float, centre: Array, rng: np.random.Generator
) -> tuple[float, Array]:
    """Return which share of the skin about a place the camera sees, and places that it sees.

    Parameters
    ----------
    ear : Ear
    at : (3,) array
        On the skin, and seen.
    radius_mm : float
    centre : (3,) array
        The camera's.
    rng : for the places, which are drawn evenly over the skin within the radius

    Returns
    -------
    The share, and (N, 3) mm; (0, 3) where nothing of it is seen.
    """
    ray = (at - centre) / np.linalg.norm(at - centre)
    face = int(ear.caster.intersects_first((at - 2.0 * ray)[None], ray[None])[0])
    a, b, c = ear.vertices[ear.faces[face]]
    normal = np.cross(b - a, c - a) / np.linalg.norm(np.cross(b - a, c - a))
    normal = -normal if normal @ ray > 0 else normal
    around = at + 1.2 * radius_mm * (2 * rng.random((400, 3)) - 1)
    above = around + (2.0 - (around - at) @ normal)[:, None] * normal
    hits = ear.hits(above, np.tile(-normal, (len(above), 1)))
    hits = hits[np.linalg.norm(hits - at, axis=1) < radius_mm]
    if not len(hits):
        return 0.0, np.zeros((0, 3))
    seen = is_visible(ear, hits, centre)
    return float(seen.mean()), np.asarray(hits[seen])


def least_width_px(places_px: Array) -> float:
    """Return how wide a dot is seen where it is narrowest, by places on it, (N, 2) px."""
    if len(places_px) < 10:
        return 0.0
    spread = np.linalg.eigvalsh(np.cov(places_px.T))[0]
    return 4.0 * float(np.sqrt(max(spread, 0.0)))


def visible_edges(ear: Ear, placement: Placement, centre: Array) -> tuple[Array, Array] | None:
    """Return the rim's outer and inner visible edge on the plane of axis and camera.

    Outer: the last place of the rim before the line of sight passes it by.  Inner: the fold's
    edge where it hides what lies behind, or, where nothing is hidden, the foot of its slope.
    """
    axis = (placement.entry - placement.exit) / placement.channel_mm
    middle = (placement.entry + placement.exit) / 2
    reach = placement.channel_mm / 2
    outer = _outer_edge(ear, middle, axis, reach, centre)
    inner = _inner_edge(ear, middle, axis, reach, centre)
    return None if outer is None or inner is None else (outer, inner)


def _scan(ear: Ear, start: Array, way: Array, length: float, centre: Array) -> Array:
    """Return hits of rays through ``start + q way``, q from 0 to ``length``, (N, 3)."""
    q = np.arange(0.0, length, SCAN_MM)
    sight = start + q[:, None] * way - centre
    sight = sight / np.linalg.norm(sight, axis=1, keepdims=True)
    return ear.hits(np.tile(centre, (len(q), 1)), sight)


def _first_jump(hits: Array, centre: Array) -> int | None:
    """Return the last ray before depth jumps away (or the ear ends), or None."""
    depth = np.nan_to_num(np.linalg.norm(hits - centre, axis=1), nan=1e6)
    jumps = np.flatnonzero(np.diff(depth) > JUMP_MM)
    return int(jumps[0]) if len(jumps) else None


def _outer_edge(ear: Ear, middle: Array, axis: Array, reach: float, centre: Array) -> Array | None:
    hits = _scan(ear, middle, axis, reach + 5.0, centre)
    at = _first_jump(hits, centre)
    return None if at is None else np.asarray(hits[at])


def _inner_edge(ear: Ear, middle: Array, axis: Array, reach: float, centre: Array) -> Array | None:
    hits = _scan(ear, middle, -axis, reach + 5.0, centre)
    at = _first_jump(hits, centre)
    if at is not None:
        return np.asarray(hits[at])
    z = hits[:, 2]
    low = int(np.nanargmax(z))
    if low == 0 or not np.isfinite(z).all():
        return None
    foot = np.flatnonzero(z >= z[0] + 0.85 * (z[low] - z[0]))
    return np.asarray(hits[int(foot[0])])


def contours(ear: Ear, centre: Array, count: int = 40) -> tuple[Array, Array]:
    """Return the upper rim's outer and inner visible contour, (N, 3) each, front to back."""
    outer, inner = [], []
    for t in np.linspace(UPPER_RIM[0] - 0.05, UPPER_RIM[1] + 0.05, count):
        at, outward = ear.line.place(float(t))
        half, thick, depth = (float(v[0]) for v in section(ear.parameters, np.array([t])))
        axis = np.array([*outward, 0.0])
        middle = np.array([*at, depth - 0.3 * thick])
        top = _outer_edge(ear, middle, axis, half, centre)
        bottom = _inner_edge(ear, middle, axis, half, centre)
        if top is not None and bottom is not None:
            outer.append(top)
            inner.append(bottom)
    return np.array(outer), np.array(inner)
