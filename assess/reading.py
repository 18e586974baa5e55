"""One photo read: the card in it, the camera, what the picture is worth for measuring."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

import numpy as np

from assess.ear_place import ear_place_px
from assess.marks import CameraMarks, CardMarks, Id1Scale, PhotoMarks, RulerScale
from assess.scale import PrintScale, print_scale
from calibration.card import CARDS, Card, card_by_id
from calibration.fallback import id1_fit, ruler_fit
from calibration.find import CardSeen, NotFound, find_card, unmirror
from calibration.flags import Flag, photo_flags
from calibration.frames import Array
from calibration.lens import Camera, LensPrior, lens_prior
from calibration.photo import CaptureFacts, Photo, PhotoError
from calibration.pose import PlaneFit, PoseRefused, fit_plane
from calibration.quality import sharpness

ONE_VIEW_TILT_DEG = 20.0
"""Over this a single view is refused: the rim's unknown tilt would rule the result."""

U_MARK_MM = 0.2
"""Standard uncertainty of a mark by hand, each axis, where the marks file gives none."""


@dataclass(frozen=True, slots=True)
class PhotoReading:
    """What one photo says before anything is measured in it; ``refusal`` where nothing."""

    file: str
    size: tuple[int, int]
    seen: CardSeen | None
    fit: PlaneFit | None
    scale: PrintScale
    flags: tuple[Flag, ...]
    refusal: str | None
    tilt_deg: float | None = None
    distance_mm: float | None = None
    sharpness: float | None = None
    target_px: tuple[float, float] | None = None
    lens: LensPrior | None = None
    """What was known of the lens before the card was looked at, in the unmirrored picture."""

    @property
    def ear_px(self) -> tuple[float, float] | None:
        """Where the ear was looked at, px, in the photo as stored."""
        if self.target_px is None:
            return None
        x, y = self.straight(np.array([self.target_px]))[0]  # turned twice is as it was
        return float(x), float(y)

    @property
    def mirrored(self) -> bool:
        """Whether the photo is a mirrored one."""
        return self.seen is not None and self.seen.mirrored

    @property
    def low_confidence(self) -> bool:
        """Whether the scale comes from an ID-1 card or a ruler."""
        return self.fit is not None and self.seen is None

    def straight(self, points_px: Array) -> Array:
        """Return marks of the photo as stored, (N, 2) px, in the unmirrored picture."""
        return unmirror(points_px, self.size[0]) if self.mirrored else points_px

    def mm_per_px(self, height_mm: float) -> float:
        """Return the size of a pixel at the marks, mm, in the plane ``height_mm`` up."""
        if self.fit is None or self.target_px is None:
            raise ValueError("a photo without a fit has no scale")
        corner = np.array([[0.0, 0.0], [1.0, 0.0], [0.0, 1.0]]) + np.array(self.target_px)
        at = self.fit.on_plane(corner, height_mm)
        return float(np.sqrt(abs(np.linalg.det(at[1:] - at[0]))))


def given_camera(marks: CameraMarks | None) -> tuple[Camera, float | None] | None:
    """Return the camera that a marks file or profile gives, with its relative u of f."""
    if marks is None:
        return None
    return Camera(marks.fx, marks.fy, marks.cx, marks.cy, tuple(marks.dist)), marks.u_f_rel


def read_view(
    photo: Photo | PhotoError,
    *,
    file: str,
    entry: PhotoMarks | None = None,
    card: CardMarks | None = None,
    camera: CameraMarks | None = None,
    offset_mm: float = 0.0,
    side: Literal["left", "right"] | None = None,
    known: PhotoReading | None = None,
) -> PhotoReading:
    """Return what a photo says: its card, pose, flags, or why it can't be used.

    Parameters
    ----------
    photo : the decoded photo, or why it couldn't be decoded
    file : its name in the marks file
    entry : what is marked in it
    card : which card is expected, and its check bars
    camera : a camera for photos that bring none of their own
    offset_mm : the rim's offset from the card, for tilt and distance
    side : which ear it is, to look for it where nothing is marked; without it the photo's middle
        counts as the ear
    known : what this photo said before, with no camera given: its card isn't looked for again,
        nor its pose where print and camera are the same
    """
    unscaled = print_scale(None, card)
    if isinstance(photo, PhotoError):
        return PhotoReading(file, (0, 0), None, None, unscaled, (), str(photo))
    given = given_camera((entry.camera if entry else None) or camera)
    prior = lens_prior(photo.facts, *(given or (None, None)))
    if entry is not None and entry.scale is not None:
        fit = _fallback(entry.scale, prior)
        return _judged(photo, file, entry, None, fit, unscaled, offset_mm, None, prior)
    wanted = [card_by_id(card.id)] if card else list(CARDS.values())
    before = known.seen if known else None
    found = before or find_card(photo.pixels, CARDS.values())
    if isinstance(found, CardSeen) and found.card not in wanted:
        found = _other_card(found.card, wanted[0])
    if isinstance(found, NotFound):
        return PhotoReading(file, photo.size, None, None, unscaled, (), found.sentence)
    scale = print_scale(found.card, card)
    corners_mm = scale.corrected(found.card.corners_mm(found.corner_ids))
    lens = _mirrored_lens(prior, photo.facts) if found.mirrored else prior
    same = known is not None and known.seen is found and known.scale == scale and given is None
    posed = known.fit if same and known else None
    fit = posed or fit_plane(found.corners_px, corners_mm, lens)
    return _judged(photo, file, entry, found, fit, scale, offset_mm, side, lens)


def _other_card(found: Card, wanted: Card) -> NotFound:
    return NotFound(
        "other_card",
        f"The card in the photo is {found.id}, the marks name {wanted.id}.",
        "Its millimetres would be wrong.",
        "Name the card that is in the photo.",
    )


def _fallback(scale: Id1Scale | RulerScale, prior: LensPrior) -> PlaneFit | PoseRefused:
    if isinstance(scale, Id1Scale):
        return id1_fit(np.asarray(scale.edges, dtype=np.float64), prior)
    points = np.asarray(scale.points, dtype=np.float64)
    return ruler_fit(points, scale.length_mm, scale.u_length_mm, prior)


def _mirrored_lens(prior: LensPrior, facts: CaptureFacts) -> LensPrior:
    """Return the lens of the picture turned back: its centre and p2 are mirrored too."""
    camera = prior.camera
    k1, k2, p1, p2, k3 = (*camera.dist, 0.0, 0.0, 0.0, 0.0, 0.0)[:5]
    centre = facts.width - 1 - camera.cx
    turned = Camera(camera.fx, camera.fy, centre, camera.cy, (k1, k2, p1, -p2, k3))
    return LensPrior(turned, prior.u_f_rel, prior.u_k1, prior.source)


def _judged(
    photo: Photo,
    file: str,
    entry: PhotoMarks | None,
    seen: CardSeen | None,
    fit: PlaneFit | PoseRefused,
    scale: PrintScale,
    offset_mm: float,
    side: Literal["left", "right"] | None,
    lens: LensPrior,
) -> PhotoReading:
    if isinstance(fit, PoseRefused):
        return PhotoReading(file, photo.size, seen, None, scale, (), fit.sentence)
    mirrored = seen is not None and seen.mirrored
    pixels = photo.pixels[:, ::-1] if mirrored else photo.pixels
    target = _marked(entry, photo.size, mirrored)
    if target is None and seen is not None and side is not None:
        target = ear_place_px(fit, seen.card, side, photo.size)
    elif target is None:
        target = (photo.size[0] - 1) / 2, (photo.size[1] - 1) / 2
    tilt, distance = sight(fit, target, offset_mm)
    radius = _radius_px(fit)
    sharp = sharpness(pixels, target, radius)
    flags = photo_flags(
        fit=fit,
        seen=seen,
        pixels=pixels,
        target_px=target,
        radius_px=radius,
        tilt_deg=tilt,
        distance_mm=distance,
        sharpness=sharp,
        print_verified=scale.verified,
        lens=lens,
    )
    return PhotoReading(
        file, photo.size, seen, fit, scale, flags, None, tilt, distance, sharp, target, lens
    )


def _radius_px(fit: PlaneFit) -> float:
    """Return about 12 mm at the ear, in pixels."""
    return 12.0 * fit.camera.fx / max(float(-fit.centre_mm[2]), 1.0)


def sight(fit: PlaneFit, target_px: tuple[float, float], offset_mm: float) -> tuple[float, float]:
    """Return the tilt (deg) between the card's normal and the line of sight, and its length (mm).

    The line runs from the marks' mean, in the plane ``offset_mm`` before the card, to the
    camera's centre.
    """
    at = fit.on_plane(np.array([target_px]), offset_mm)[0]
    line = fit.centre_mm - np.array([*at, -offset_mm])
    distance = float(np.linalg.norm(line))
    tilt = np.rad2deg(np.arccos(np.clip(-line[2] / distance, -1.0, 1.0)))
    return float(tilt), distance


def _marked(
    entry: PhotoMarks | None, size: tuple[int, int], mirrored: bool
) -> tuple[float, float] | None:
    """Return the mean of the placements' marks, else of the contours, px; None without marks."""
    points: list[tuple[float, float]] = []
    if entry is not None:
        points = [p for placement in entry.placements for p in placement.points().values()]
        if not points:
            points = [*(entry.outer_rim or ()), *(entry.inner_rim or ()), *entry.ties.values()]
    if not points:
        return None
    mean = np.mean(points, axis=0)
    x = size[0] - 1 - mean[0] if mirrored else mean[0]
    return float(x), float(mean[1])
