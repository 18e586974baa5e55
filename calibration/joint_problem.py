"""Several photos as one least-squares problem: what is unknown, and every observation of it.

Unknown are the print's scale, each lens, each photo's pose, the card's movement and the pen
dots.  Observations are the card's corners and the dots, in pixels; what is known of the print and
of each lens, and that the card hardly moved against the ear, are observations too.  The ear
stands still: its frame is the mean place of the card, and in each photo the card is turned and
shifted against it a little.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, replace
from functools import cached_property

import cv2
import numpy as np
from numpy.typing import NDArray

from calibration.frames import Array
from calibration.lens import project, turn
from calibration.pose import PlaneFit
from calibration.view_photo import ViewPhoto

Columns = NDArray[np.int64]

LEVER_MM = 50.0
"""A card that shifts by u turns by u over this: half the size of a card (assumed)."""
PRINT = 3
"""Unknowns of the print: its scale common to both axes, and along each, relative."""
LENS = 4
"""Unknowns of a lens: ln f, k1 and where its centre lies against the told one, px."""
U_CENTRE, U_CENTRE_GIVEN = 0.005, 0.001
"""u of the lens's centre over the focal length: a phone's, and one from a profile (assumed)."""
CORNERS_KIND, LENS_KIND, MOVED_KIND = "card corners", "lens", "card moved"
PRINT_KIND = "scale of the print"
"""What the observations belong to in a budget; marks go by their own names."""


@dataclass(frozen=True, slots=True)
class Block:
    """Observations of one input: residuals (R,) and slopes (R, C) in sigmas, by some columns.

    ``name`` is unique, ``kind`` the line of the budget that it belongs to.
    """

    name: str
    kind: str
    columns: Columns
    slope: Array
    residual: Array


@dataclass(frozen=True, slots=True)
class PrintPrior:
    """How well the print's scale is known, relative: along x and y by themselves, and common."""

    u_axes: tuple[float, float] = (0.0, 0.0)
    u_common: float = 0.0


@dataclass(frozen=True)
class Problem:
    """Several photos of one print.

    ``u_shift_mm`` is how far the card may have moved from one photo to another, each axis.
    ``points`` are the names of the dots that are solved for; ``pivot_mm`` (3,) the place in the
    card's frame about which a card that turned is taken to have turned: the middle of the dots.
    """

    photos: tuple[ViewPhoto, ...]
    points: tuple[str, ...]
    printed: PrintPrior
    u_shift_mm: float
    pivot_mm: Array

    @cached_property
    def lenses(self) -> tuple[str, ...]:
        """Return the lenses' names."""
        return tuple(dict.fromkeys(photo.lens for photo in self.photos))

    @property
    def moving(self) -> bool:
        """Return whether the card may have moved."""
        return self.u_shift_mm > 0.0

    @cached_property
    def size(self) -> int:
        """Return how many unknowns there are."""
        return self._points_from + 3 * len(self.points)

    @cached_property
    def _points_from(self) -> int:
        return self._poses_from + (12 if self.moving else 6) * len(self.photos)

    @cached_property
    def _poses_from(self) -> int:
        return PRINT + LENS * len(self.lenses)

    def lens_columns(self, lens: str) -> Columns:
        """Return where ``ln f, k1`` of a lens and its centre's shift (px) stand."""
        return PRINT + LENS * self.lenses.index(lens) + np.arange(LENS)

    def pose_columns(self, photo: int) -> Columns:
        """Return where ``rvec, tvec`` of a photo stand."""
        return self._poses_from + 6 * photo + np.arange(6)

    def move_columns(self, photo: int) -> Columns:
        """Return where the card's turn (rad) and shift (mm) in a photo stand; none if fixed."""
        if not self.moving:
            return np.arange(0)
        return self._poses_from + 6 * (len(self.photos) + photo) + np.arange(6)

    def point_columns(self, point: str) -> Columns:
        """Return where a point's three coordinates stand."""
        return self._points_from + 3 * self.points.index(point) + np.arange(3)

    def camera(self, x: Array, photo: int) -> PlaneFit:
        """Return a photo's camera before its card at ``x``."""
        own = self.photos[photo]
        log_f, k1, across, down = x[self.lens_columns(own.lens)]
        fit = own.fit.with_parameters(np.array([log_f, k1, *x[self.pose_columns(photo)]]))
        known = own.prior.camera
        camera = replace(fit.camera, cx=known.cx + across, cy=known.cy + down)
        return replace(fit, camera=camera)

    def camera_to_ear(self, x: Array, photo: int) -> PlaneFit:
        """Return a photo's camera before the ear, in the card's mean place."""
        seen = self.camera(x, photo)
        if not self.moving:
            return seen
        move = x[self.move_columns(photo)]
        way, turned = turn(seen.rvec), turn(move[:3])
        rvec, _ = cv2.Rodrigues(way @ turned)
        start = self.pivot_mm - turned @ self.pivot_mm + move[3:]
        return replace(
            seen, rvec=np.asarray(rvec, dtype=np.float64).reshape(3), tvec=way @ start + seen.tvec
        )

    def in_card(self, x: Array, photo: int, points_mm: Array) -> Array:
        """Return places of the ear's frame, (K, 3) mm, in the card's frame of a photo."""
        if not self.moving:
            return points_mm
        move = x[self.move_columns(photo)]
        return np.asarray(self.pivot_mm + (points_mm - self.pivot_mm) @ turn(move[:3]).T + move[3:])

    def blocks(self, x: Array) -> Iterator[Block]:
        """Yield every observation at ``x``."""
        for i in range(len(self.photos)):
            yield self._corners(x, i)
            yield from self._marks(x, i)
        yield from self._print_priors(x)
        yield from self._lens_priors(x)
        if self.moving:
            yield from self._move_priors(x)

    def _corners(self, x: Array, i: int) -> Block:
        photo = self.photos[i]
        camera, places = self.camera(x, i), photo.places_mm
        seen, slope = _seen(camera, places * self.print_factor(x))
        by_place = (slope[:, -3:] @ turn(camera.rvec))[:, :2].reshape(-1, 2, 2)
        by_axis = by_place * places[:, None, :2]  # (N, 2, 2)
        by_print = np.concatenate([by_axis.sum(axis=2, keepdims=True), by_axis], axis=2)
        rows = np.hstack([by_print.reshape(-1, PRINT), slope]) / photo.u_corner_px
        gap = (seen - photo.corners_px).ravel() / photo.u_corner_px
        own = [np.arange(PRINT), self.lens_columns(photo.lens), self.pose_columns(i)]
        return Block(f"corners: {photo.name}", CORNERS_KIND, np.concatenate(own), rows, gap)

    def print_factor(self, x: Array) -> Array:
        """Return the factor on printed millimetres along the card's axes at ``x``, (3,)."""
        return np.array([1.0 + x[0] + x[1], 1.0 + x[0] + x[2], 1.0])

    def _marks(self, x: Array, i: int) -> Iterator[Block]:
        photo, camera = self.photos[i], self.camera(x, i)
        names = [name for name in self.points if name in photo.marks]
        if not names:
            return
        points = np.array([x[self.point_columns(name)] for name in names])
        seen, slope = _seen(camera, self.in_card(x, i, points))
        by_place = slope[:, -3:] @ turn(camera.rvec)
        shared = [self.lens_columns(photo.lens), self.pose_columns(i), self.move_columns(i)]
        for k, name in enumerate(names):
            mark, own = photo.marks[name], slice(2 * k, 2 * k + 2)
            by_point, by_move = self._by_ear(x, i, by_place[own], points[k])
            rows = np.hstack([slope[own], by_move, by_point]) / mark.weighed_px
            gap = (seen[k] - mark.at_px) / mark.weighed_px
            columns = np.concatenate([*shared, self.point_columns(name)])
            yield Block(f"mark: {photo.name}: {name}", f"mark of {name}", columns, rows, gap)

    def _by_ear(self, x: Array, i: int, by_place: Array, point: Array) -> tuple[Array, Array]:
        """Return a pixel's slope by the point, (2, 3), and by the card's move, (2, 6 or 0)."""
        if not self.moving:
            return by_place, np.zeros((2, 0))
        matrix, by_turn = cv2.Rodrigues(x[self.move_columns(i)][:3])
        arm = point - self.pivot_mm
        swing = np.stack([part.reshape(3, 3) @ arm for part in np.asarray(by_turn)], axis=1)
        return by_place @ matrix, np.hstack([by_place @ swing, by_place])

    def _print_priors(self, x: Array) -> Iterator[Block]:
        parts = {
            "print scale": (np.arange(1), [self.printed.u_common]),
            "print scale by axis": (np.arange(1, PRINT), list(self.printed.u_axes)),
        }
        for name, (columns, u) in parts.items():
            weight = 1.0 / np.maximum(u, 1e-7)
            slope = np.diag(weight)
            yield Block(name, PRINT_KIND, columns, slope, x[columns] * weight)

    def _lens_priors(self, x: Array) -> Iterator[Block]:
        for lens in self.lenses:
            prior = next(photo.prior for photo in self.photos if photo.lens == lens)
            known = [np.log(prior.camera.fx), prior.camera.coefficients[0], 0.0, 0.0]
            centre = prior.camera.fx * (U_CENTRE_GIVEN if prior.source == "given" else U_CENTRE)
            weight = 1.0 / np.maximum([prior.u_f_rel, prior.u_k1, centre, centre], 1e-6)
            columns = self.lens_columns(lens)
            gap = (x[columns] - known) * weight
            yield Block(f"lens: {lens}", LENS_KIND, columns, np.diag(weight), gap)

    def move_sigmas(self) -> Array:
        """Return the prior standard deviations of a move: three turns (rad), three shifts (mm).

        Told is how two photos differ; each of them has its share about their mean.
        """
        each = self.u_shift_mm / np.sqrt(2.0)
        return np.repeat([each / LEVER_MM, each], 3)

    def _move_priors(self, x: Array) -> Iterator[Block]:
        weight = 1.0 / self.move_sigmas()
        for i, photo in enumerate(self.photos):
            columns = self.move_columns(i)
            name = f"card moved: {photo.name}"
            yield Block(name, MOVED_KIND, columns, np.diag(weight), x[columns] * weight)


def _seen(camera: PlaneFit, points_mm: Array) -> tuple[Array, Array]:
    """Return pixels, (N, 2), and their slope by the lens, ``rvec`` and ``tvec``, (2N, 10)."""
    seen, slope = project(camera.camera, camera.rvec, camera.tvec, points_mm)
    by_centre = np.tile(np.eye(2), (len(seen), 1))
    return seen, np.hstack([slope[:, :2], by_centre, slope[:, 2:]])
