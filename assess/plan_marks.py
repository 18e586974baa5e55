"""The plan in the marks file: ``x_plan`` of the document, ``x_worn`` of a photo.

Places are pixels of the photo that is planned in, so that a plan stays where it was put when a
contour is mended.
"""

from __future__ import annotations

from typing import Annotated, Literal

from pydantic import Field

from assess.ends import End, RoomNeeds, Shape, Style
from assess.marks_base import NonNegative, Point, Polyline, Positive, Strict
from assess.plan import MOST, Spacing
from assess.spacing import GAP_MM
from assess.wear import Thing

PLAN_FORMAT: Literal["rimspan-plan/1"] = "rimspan-plan/1"
WORN_FORMAT: Literal["rimspan-worn/1"] = "rimspan-worn/1"
PLAN, WORN = "x_plan", "x_worn"
"""Where they stand in a marks file."""

Thread = Literal["threadless", "inside thread", "outside thread"]


class PlannedMarks(Strict):
    """Where one post is planned to go in, px, and how its axis leans from the inward normal."""

    label: Annotated[str, Field(min_length=1)]
    entry: Point
    lean_deg: Annotated[float, Field(gt=-80, lt=80)] = 0.0


class EndMarks(Strict):
    """An end of the jewellery that is planned."""

    shape: Shape = "disc"
    width_mm: Positive = 3.0
    height_mm: Positive = 0.8

    def end(self) -> End:
        """Return it as the geometry has it."""
        return End(self.shape, self.width_mm, self.height_mm)


class PlanJewellery(Strict):
    """What is planned to be put in; lengths that aren't given come from the stock."""

    style: Style = "labret"
    thread: Thread = "threadless"
    post_mm: Positive = 1.2
    top: EndMarks = EndMarks()
    bottom: EndMarks = EndMarks()
    first_mm: Positive | None = None
    later_mm: Positive | None = None


class EarlierMarks(Strict):
    """An earlier piercing, or a bar that is planned or worn through the rim, px and mm."""

    name: Annotated[str, Field(min_length=1)]
    start: Point
    end: Point | None = None
    end_mm: NonNegative = 3.0
    bar_mm: NonNegative = 0.0
    planned: bool = False


class RoomMarks(Strict):
    """What the studio keeps free below the exit, mm."""

    swelling_mm: NonNegative = 1.0
    needle_mm: NonNegative = 3.0
    tool_mm: NonNegative = 4.0

    def needs(self) -> RoomNeeds:
        """Return it as the geometry has it."""
        return RoomNeeds(self.swelling_mm, self.needle_mm, self.tool_mm)


class Approval(Strict):
    """What the client said to the drawing: approved, or wipe the dots and mark anew."""

    answer: Literal["approved", "anew"]
    at: str
    by: str


class PlanMarks(Strict):
    """One to five posts on the rim as they are planned in one photo."""

    format: Literal["rimspan-plan/1"]
    photo: Annotated[str, Field(min_length=1)]
    wanted: Annotated[int, Field(ge=1, le=MOST)] = 1
    spacing: Spacing | Literal["own"] = "arc"
    upright: bool = False
    spacing_mm: NonNegative | None = None
    gap_mm: NonNegative = GAP_MM
    jewellery: PlanJewellery = PlanJewellery()
    room: RoomMarks = RoomMarks()
    earlier: tuple[EarlierMarks, ...] = ()
    placements: Annotated[tuple[PlannedMarks, ...], Field(max_length=MOST)] = ()
    approval: Approval | None = None


class WornEnds(Strict):
    """The dots of one placement as the photo with the worn thing shows them, px."""

    label: Annotated[str, Field(min_length=1)]
    entry: Point
    exit: Point


class WornMarks(Strict):
    """A photo in which something is worn: where it touches, and where the dots are there."""

    format: Literal["rimspan-worn/1"]
    thing: Thing
    name: str = ""
    line: Polyline | None = None
    placements: tuple[WornEnds, ...] = ()
