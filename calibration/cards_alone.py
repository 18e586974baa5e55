"""The cameras of several photos by their cards alone: what they share of a lens, and the poses.

A phone's lens centre isn't where its photo's middle is, a print is a little longer one way than
its bars say, and one photo of a card can't tell either from a tilt: its own fit may then stand in
the wrong one of the two poses that a plane's picture allows.  Together the photos know better,
and each pose is looked at again with the shared lens and print.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace

import numpy as np

from calibration.adjust import Adjusted, adjust
from calibration.frames import Array
from calibration.joint_problem import PrintPrior, Problem
from calibration.lens import LensPrior
from calibration.pose import PlaneFit, refine_pose
from calibration.view_photo import Mark, ViewPhoto, corner_u_px

LENS_MISFIT = 18.4
"""Squared residuals, in sigmas, that a shared lens may cost a photo: chi², 2, at 0.0001."""
BETTER = 1.0
"""Another pose is better if it saves this much of them."""
ROUNDS = 3


@dataclass(frozen=True, slots=True)
class Cards:
    """The photos with lenses as they can be shared, their adjustment without dots, the cameras.

    ``own_lens`` names the photos that don't share the lens whose name they bear.
    """

    photos: tuple[ViewPhoto, ...]
    found: Adjusted
    cameras: tuple[PlaneFit, ...]
    own_lens: tuple[str, ...]

    def with_marks(self, photos: Mapping[str, Mapping[str, Mark]]) -> Cards:
        """Return the same with the marks of each photo, by its name, in place of those it has."""
        marked = tuple(photo.with_marks(photos.get(photo.name, {})) for photo in self.photos)
        return replace(self, photos=marked)


def cards_alone(photos: Sequence[ViewPhoto], printed: PrintPrior) -> Cards | None:
    """Return the cards' own adjustment, or None where there is no solution.

    A photo whose card contradicts the shared lens gets one of its own (zoomed, cropped, another
    camera).  The corners' u is judged by this fit, since a photo's own fit may be worse.
    """
    kept, own = tuple(photos), list[str]()
    for _ in range(len(kept) + 1):
        found = _settled(kept, printed)
        if found is None:
            return None
        judged = tuple(
            replace(photo, u_corner_px=corner_u_px(gap))
            for photo, gap in zip(kept, _gaps_px(found), strict=True)
        )
        odd = _other_lens(found, judged)
        if odd is None:
            again = adjust(replace(found.problem, photos=judged), found.x)
            if again is None:
                return None
            cameras = tuple(again.camera(i) for i in range(len(kept)))
            return Cards(judged, again, cameras, tuple(own))
        own.append(odd)
        kept = tuple(replace(p, lens=f"{p.lens}, {p.name}") if p.name == odd else p for p in kept)
    return None


def _settled(photos: tuple[ViewPhoto, ...], printed: PrintPrior) -> Adjusted | None:
    problem = Problem(photos, (), printed, 0.0, np.zeros(3))
    found = adjust(problem, _start(problem))
    for _ in range(ROUNDS):
        if found is None or (start := _other_poses(found)) is None:
            break
        again = adjust(problem, start)
        if again is None or again.cost > found.cost - BETTER:
            break
        found = again
    return found


def _start(problem: Problem) -> Array:
    x = np.zeros(problem.size)
    for lens in problem.lenses:
        own = [photo.fit for photo in problem.photos if photo.lens == lens]
        weight = np.array([1.0 / fit.covariance[0, 0] for fit in own])
        shared = weight @ np.array([fit.parameters[:2] for fit in own]) / weight.sum()
        x[problem.lens_columns(lens)[:2]] = shared
    for i, photo in enumerate(problem.photos):
        x[problem.pose_columns(i)] = photo.fit.parameters[2:]
    return x


def _other_poses(found: Adjusted) -> Array | None:
    """Return where to begin again: with the poses that fit the shared lens better, if any do."""
    problem, x = found.problem, found.x.copy()
    for i, (photo, gap) in enumerate(zip(problem.photos, _gaps_px(found), strict=True)):
        misfit = float(np.sum(gap**2)) / photo.u_corner_px**2
        if misfit < 2 * len(photo.corners_px) + 3.0 * np.sqrt(4.0 * len(photo.corners_px)):
            continue
        lens = LensPrior(found.camera(i).camera, 1e-6, 1e-6, "given")
        places = photo.corners_mm * problem.print_factor(found.x)[:2]
        other = refine_pose(photo.corners_px, places, lens, photo.u_corner_px)
        if not isinstance(other, PlaneFit):
            continue
        again = float(np.sum(_gap_px(other, photo, places) ** 2)) / photo.u_corner_px**2
        if again < misfit - BETTER:
            x[problem.pose_columns(i)] = other.parameters[2:]
    return None if np.array_equal(x, found.x) else x


def _other_lens(found: Adjusted, judged: Sequence[ViewPhoto]) -> str | None:
    """Return the photo whose card fits a shared lens worst, if it does so too badly.

    Held against the photo's own fit, by the lesser of the two u of a corner.
    """
    excess, gaps = {}, _gaps_px(found)
    for i, photo in enumerate(found.problem.photos):
        if sum(other.lens == photo.lens for other in found.problem.photos) > 1:
            u = min(photo.u_corner_px, judged[i].u_corner_px)
            own = _gap_px(photo.fit, photo, photo.corners_mm)
            excess[photo.name] = float(np.sum(gaps[i] ** 2) - np.sum(own**2)) / u**2
    worst = max(excess, key=lambda name: excess[name], default=None)
    return worst if worst is not None and excess[worst] > LENS_MISFIT else None


def _gaps_px(found: Adjusted) -> list[Array]:
    """Return each photo's corners' residuals, (N, 2) px."""
    blocks = {block.name: block for block in found.blocks}
    return [
        blocks[f"corners: {photo.name}"].residual.reshape(-1, 2) * photo.u_corner_px
        for photo in found.problem.photos
    ]


def _gap_px(fit: PlaneFit, photo: ViewPhoto, places_mm: Array) -> Array:
    """Return how far a photo's corners lie from where a fit has them, (N, 2) px."""
    seen = fit.project(np.column_stack([places_mm, np.zeros(len(places_mm))]))
    return np.asarray(seen - photo.corners_px)
