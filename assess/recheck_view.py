"""One photo of a visit in the rim's plane: the post's ends and the outlines, and what moves them.

Places are millimetres in the rim's own plane, turned level: the *rectified* plane.  What the
photo can't tell of it (offset, tilt), the print, lens and pose, and each mark move the places;
all of that is kept as derivatives by input.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass

import cv2
import numpy as np

from assess.marks import Marks
from assess.one_view import MarkedView, Sight, sight
from assess.placing import mark_sigma_px
from assess.reading import PhotoReading
from assess.recheck_lines import LEAST_STEP_MM, LEAST_VERTICES, thinned
from assess.recheck_marks import PostMarks, straightened
from assess.rim_plane import on_rim, plane_slopes
from assess.scale import scale_factors
from calibration.frames import Array

LINES = ("outer", "inner")
_STEP_MM, _STEP_RAD, _STEP_SCALE = 1e-2, 1e-4, 1e-5


@dataclass(frozen=True, slots=True, eq=False)
class PlaneView:
    """A photo's places in the rectified plane, (K, 2) mm, and their derivatives.

    ``names``: the post's points, then ``outer/0`` and so on.  ``by``: (K, 2, m) by each input's
    own components: ``lens`` (8), ``offset`` (mm), ``tilt`` (rad, 2), ``common`` and ``axes`` (2)
    of the print.  ``by_mark`` (K, 2, 2) by each mark's standardised error.  ``pivot`` (2,) is the
    middle of the post's points, about which the plane tilts; ``slope`` (2,) how far the line of
    sight goes aside for each millimetre up.
    """

    file: str
    names: tuple[str, ...]
    places: Array
    by: Mapping[str, Array]
    by_mark: Array
    pivot: Array
    slope: Array
    lens_root: Array

    def index(self, name: str) -> int:
        """Return a point's place among the names."""
        return self.names.index(name)

    def has(self, *names: str) -> bool:
        """Return whether all of those are marked."""
        return all(name in self.names for name in names)

    def line(self, kind: str) -> list[int]:
        """Return where an outline's vertices stand among the names."""
        return [i for i, name in enumerate(self.names) if name.startswith(f"{kind}/")]


def plane_view(marks: Marks, file: str, post: PostMarks, reading: PhotoReading) -> PlaneView | None:
    """Return a photo in the rectified plane; None without a fit, a post and an outline."""
    photo = next(p for p in marks.photos if p.file == file)
    if reading.fit is None or not post.points:
        return None
    usual = mark_sigma_px(photo, reading, marks.rim_plane.offset_mm)
    width = reading.size[0] if reading.mirrored else None
    points = straightened(post.points, width)
    sigma = dict.fromkeys(points, usual if post.u_px is None else post.u_px)
    pivots = frozenset(points)
    for kind, line in zip(LINES, (photo.outer_rim, photo.inner_rim), strict=True):
        if line is not None:
            straight = reading.straight(np.asarray(line, dtype=np.float64))
            step_px = LEAST_STEP_MM / reading.mm_per_px(marks.rim_plane.offset_mm)
            kept = straight[thinned(straight, step_px).astype(np.int64)]
            if len(kept) >= LEAST_VERTICES:
                named = {f"{kind}/{i}": at for i, at in enumerate(kept)}
                points |= named
                sigma |= dict.fromkeys(named, usual)
    if len(points) == len(pivots):
        return None
    places_px = {name: (float(at[0]), float(at[1])) for name, at in points.items()}
    seen = sight(MarkedView(file, reading.fit, places_px, sigma, pivots))
    return _derived(seen, marks.rim_plane.offset_mm)


def _derived(seen: Sight, offset_mm: float) -> PlaneView:
    view, weights = seen.view, seen.view.weights()

    def places(
        lines: Array, offset: float = 0.0, tilt: Array | None = None, scale: Array | None = None
    ) -> Array:
        return _rectified(lines, offset_mm + offset, tilt, scale, weights)

    at, by = places(seen.estimate), _by_inputs(seen, places)
    hit = 1e-3
    by_hit = np.stack([_by_hit(seen, places, axis, hit) for axis in (0, 1)], axis=-1)
    roots = np.stack([seen.mark_root(name) for name in view.points_px])
    centre, pivot = seen.estimate[:3], weights @ at
    slope = (centre[:2] - pivot) / (-centre[2] - offset_mm)
    return PlaneView(
        view.name,
        tuple(view.points_px),
        at,
        by,
        np.einsum("kij,kjm->kim", by_hit, roots),
        pivot,
        slope,
        seen.lens().root,
    )


def _by_inputs(seen: Sight, places: Callable[..., Array]) -> dict[str, Array]:
    """Return the places' derivatives by lens, the rim's plane and the print."""
    steps = np.linalg.norm(seen.by_lens, axis=0)
    safe = np.where(steps > 0.0, 1e-3 / np.maximum(steps, 1e-12), 1.0)
    lens = [
        (places(seen.estimate + h * column) - places(seen.estimate - h * column)) / (2 * h)
        for column, h in zip(seen.by_lens.T, safe, strict=True)
    ]
    h, r, g = _STEP_MM, _STEP_RAD * np.eye(2), _STEP_SCALE * np.eye(3)
    moved = [
        (places(seen.estimate, h) - places(seen.estimate, -h)) / (2 * h),
        *((places(seen.estimate, tilt=t) - places(seen.estimate, tilt=-t)) / 2e-4 for t in r),
        *((places(seen.estimate, scale=s) - places(seen.estimate, scale=-s)) / 2e-5 for s in g),
    ]
    return {
        "lens": np.stack(lens, axis=-1),
        "offset": moved[0][..., None],
        "tilt": np.stack(moved[1:3], axis=-1),
        "common": moved[3][..., None],
        "axes": np.stack(moved[4:6], axis=-1),
    }


def _by_hit(seen: Sight, places: Callable[[Array], Array], axis: int, step: float) -> Array:
    """Return each place's derivative by its own hit on the card, (K, 2)."""
    shift = np.zeros_like(seen.estimate)
    shift[3 + axis :: 2] = step
    return np.asarray((places(seen.estimate + shift) - places(seen.estimate - shift)) / (2 * step))


def _rectified(
    lines: Array, offset_mm: float, tilt: Array | None, scale: Array | None, weights: Array
) -> Array:
    """Return places in the rim's plane turned level about its pivot, (K, 2) mm."""
    tilt_rad = np.zeros(2) if tilt is None else tilt
    at = on_rim(lines, np.array(offset_mm), plane_slopes(tilt_rad), weights)
    if scale is not None:
        at = at * scale_factors(scale[:1], scale[1:])[:, None]
    pivot = (at @ weights)[:, None]
    turn, _ = cv2.Rodrigues(np.array([*tilt_rad, 0.0]))
    return np.asarray((np.asarray(turn).T @ (at - pivot) + pivot)[:2].T)
