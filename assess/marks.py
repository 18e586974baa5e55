"""The marks file ``rimspan-marks/1``: what was marked, read and felt.

The JSON Schema beside this module (``marks.schema.json``) is the format; the models here say
the same to the type checker.  Points are pixels of the photo as stored, after the EXIF
orientation, ``(0, 0)`` being the centre of the top-left pixel.
"""

from __future__ import annotations

from typing import Annotated, Literal

from pydantic import Field

from assess.marks_base import NonNegative, Point, Polyline, Positive, Strict
from assess.plan_marks import PlanMarks, WornMarks

PointName = Literal["entry", "exit", "crest", "floor", "below"]

POINT_NAMES: tuple[PointName, ...] = ("entry", "exit", "crest", "floor", "below")
"""The points a placement may have, in the order in which they are marked."""


class CardMarks(Strict):
    """Which card, and its check bars as read on the print (mm)."""

    id: str
    check_bar_mm: tuple[Positive, Positive] | None = None
    u_check_bar_mm: NonNegative = 0.05


class CardShift(Strict):
    """How much the card may have moved against the ear between photos (mm, each axis)."""

    u_mm: NonNegative


class CameraMarks(Strict):
    """Pinhole camera with OpenCV's distortion ``[k1 k2 p1 p2 k3]``."""

    fx: Positive
    fy: Positive
    cx: float
    cy: float
    dist: Annotated[tuple[float, ...], Field(max_length=5)] = ()
    u_f_rel: NonNegative | None = None


class RimPlane(Strict):
    """Where the rim's plane lies against the card's: for a single view."""

    offset_mm: float = 0.0
    u_offset_mm: NonNegative = 5.0
    u_tilt_deg: NonNegative = 5.8


class Id1Scale(Strict):
    """Four straight edges of an ID-1 card, instead of the scale card."""

    kind: Literal["id1"]
    edges: Annotated[tuple[tuple[Point, Point], ...], Field(min_length=4, max_length=4)]


class RulerScale(Strict):
    """Two points on a ruler, instead of the scale card."""

    kind: Literal["ruler"]
    points: tuple[Point, Point]
    length_mm: Positive
    u_length_mm: NonNegative


class PlacementMarks(Strict):
    """One placement as seen in one photo; a point that isn't seen is left out."""

    label: Annotated[str, Field(min_length=1)]
    entry: Point | None = None
    exit: Point | None = None
    crest: Point | None = None
    floor: Point | None = None
    below: Point | None = None
    snapped: tuple[PointName, ...] = ()
    u_px: NonNegative | None = None
    outline: tuple[PointName, ...] = ()

    def points(self) -> dict[str, Point]:
        """Return the points that were marked, by name."""
        found = {name: getattr(self, name) for name in POINT_NAMES}
        return {name: point for name, point in found.items() if point is not None}


class PhotoMarks(Strict):
    """Everything marked in one photo."""

    file: Annotated[str, Field(min_length=1)]
    sigma_px: NonNegative | None = None
    camera: CameraMarks | None = None
    scale: Annotated[Id1Scale | RulerScale, Field(discriminator="kind")] | None = None
    head_up: tuple[Point, Point] | None = None
    outer_rim: Polyline | None = None
    inner_rim: Polyline | None = None
    ties: dict[str, Point] = Field(default_factory=dict)
    u_ties_px: NonNegative | None = None
    placements: tuple[PlacementMarks, ...] = ()
    x_worn: WornMarks | None = None

    def placement(self, label: str) -> PlacementMarks | None:
        """Return the placement of that label in this photo, if it is marked here."""
        return next((p for p in self.placements if p.label == label), None)


class CaliperMarks(Strict):
    """What calipers and the depth rod said of one placement (mm)."""

    channel_mm: Positive | None = None
    u_channel_mm: NonNegative | None = None
    fold_depth_mm: Positive | None = None
    u_fold_depth_mm: NonNegative | None = None
    relief_mm: Positive | None = None
    u_relief_mm: NonNegative | None = None


class Examined(Strict):
    """What the piercer's hands found."""

    tissue: Literal["firm", "soft", "not_examined"]


class PostStock(Strict):
    """Posts of one gauge in stock (mm)."""

    gauge_mm: Positive
    lengths_mm: Annotated[tuple[Positive, ...], Field(min_length=1)]


class Marks(Strict):
    """A whole marks file."""

    format: Literal["rimspan-marks/1"]
    side: Literal["left", "right"]
    card: CardMarks | None = None
    card_shift: CardShift | None = None
    camera: CameraMarks | None = None
    rim_plane: RimPlane = RimPlane()
    photos: Annotated[tuple[PhotoMarks, ...], Field(min_length=1)]
    caliper: dict[str, CaliperMarks] = Field(default_factory=dict)
    examined: dict[str, Examined] = Field(default_factory=dict)
    posts: Annotated[tuple[PostStock, ...], Field(min_length=1)] | None = None
    x_plan: PlanMarks | None = None

    def labels(self) -> tuple[str, ...]:
        """Return the placements' labels in the order in which they first appear."""
        marked = [p.label for photo in self.photos for p in photo.placements]
        return tuple(dict.fromkeys([*marked, *self.caliper, *self.examined]))
