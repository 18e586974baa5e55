"""The photo that was measured, with everything that was marked drawn on it, as a PNG.

The same measurement gives the same bytes on one machine: no clock, no path, no host name.
"""

from __future__ import annotations

import io
import math
from collections.abc import Iterable, Mapping
from dataclasses import dataclass

import numpy as np
from PIL import Image

from assess.marks import Marks, PhotoMarks, PlacementMarks
from assess.measure import Measurement
from assess.plan_measure import PlanDrawing
from assess.reading import PhotoReading
from calibration.photo import Photo, PhotoError
from rimspan.drawing import PAPER, Canvas, Point, text_width
from rimspan.languages.phrases import Say, Translator
from rimspan.plot_plan import draw_plan, usable_rim
from rimspan.plot_words import PANEL_SIZE, Tags, panel_height, write_panel
from rimspan.two_sides_draw import Drawings

WIDTH = 1600
PICTURE_HEIGHT = 1240
LEAST_WIDTH_MM = 55.0
"""The picture shows at least this much of the head, where the scale is known."""

SIGN = 15.0


@dataclass(frozen=True, slots=True)
class Frame:
    """The part of a photo that is shown: photo pixels -> picture pixels."""

    left: float
    top: float
    zoom: float
    reading: PhotoReading
    height: int

    def at(self, point: Point) -> Point:
        """Return where a mark of the photo as stored lies in the picture."""
        x, y = self.reading.straight(np.array([point], dtype=np.float64))[0]
        # The contract's (0, 0) is the centre of a pixel, the picture's its corner.
        return (float(x) + 0.5 - self.left) * self.zoom, (float(y) + 0.5 - self.top) * self.zoom

    def line(self, points: Iterable[Point]) -> list[Point]:
        """Return where a line of marks lies in the picture."""
        return [self.at(point) for point in points]


def plot_png(
    found: Measurement,
    marks: Marks,
    photos: Mapping[str, Photo | PhotoError],
    *,
    with_words: bool = True,
    code: str = "en",
) -> bytes:
    """Return the picture of the photo that the measurement used, drawn on, as a PNG.

    Parameters
    ----------
    found : what :func:`assess.measure.measure` returned
    marks, photos : what it was given
    with_words : bool
        Whether the drawings from two sides, the verdicts and the judgement statement stand below
        the photo; a page that has them itself leaves them out.
    code : the language of what is written into the photo; the words below it are English

    Raises
    ------
    ValueError
        If none of the photos could be decoded.
    """
    entry, photo = _chosen(found, marks, photos)
    reading = found.readings[entry.file]
    frame = _frame(entry, reading, marks.rim_plane.offset_mm)
    words = panel_height(found.result, entry.file, WIDTH) if with_words else 0
    sides = Drawings(found.result) if with_words else None
    drawn = 0 if sides is None else sides.height
    say = Translator(code).say
    canvas = Canvas(_cropped(photo, frame), WIDTH, frame.height + drawn + words)
    if found.result.judgement.confirmed_by is None:
        canvas.across(say("not confirmed"), (0, 0, WIDTH, frame.height))
    plan = found.plan if found.plan is not None and found.plan.photo == entry.file else None
    _draw_marks(canvas, frame, entry, plan)
    _scale_bar(canvas, frame, marks.rim_plane.offset_mm, say)
    taken = _taken(frame, entry)
    if plan is not None:
        taken += frame.line((float(x), float(y)) for x, y in plan.labels_at.values())
    _write_tags(Tags(canvas, (0, 0, WIDTH, frame.height), taken, say), frame, entry, found)
    if sides is not None:
        sides.draw(canvas, float(frame.height))
        write_panel(canvas, found.result, entry.file, frame.height + drawn)
    return _png(canvas.finished())


def _write_tags(tags: Tags, frame: Frame, entry: PhotoMarks, found: Measurement) -> None:
    for placement in entry.placements:
        ends = [frame.at(p) for p in (placement.entry, placement.exit) if p is not None]
        if ends:
            tags.write(placement.label, ends, found.result)


def _png(picture: Image.Image) -> bytes:
    stream = io.BytesIO()
    picture.save(stream, "PNG", optimize=False, compress_level=6)
    return stream.getvalue()


def _chosen(
    found: Measurement, marks: Marks, photos: Mapping[str, Photo | PhotoError]
) -> tuple[PhotoMarks, Photo]:
    """Return the photo most placements were measured in, else the one with most marks."""
    used = [placement.photo for placement in found.result.placements]
    band = found.result.band
    able = [
        (used.count(entry.file), band is not None and band.photo == entry.file, _count(entry), -i)
        for i, entry in enumerate(marks.photos)
        if isinstance(photos.get(entry.file), Photo)
    ]
    if not able:
        raise ValueError("'photos' must hold at least one that could be decoded")
    entry = marks.photos[-max(able)[3]]
    photo = photos[entry.file]
    if not isinstance(photo, Photo):  # it was one above
        raise TypeError("not a photo")
    return entry, photo


def _count(entry: PhotoMarks) -> int:
    return len(_all_points(entry))


def _all_points(entry: PhotoMarks) -> list[Point]:
    points = [*(entry.outer_rim or ()), *(entry.inner_rim or ()), *entry.ties.values()]
    for placement in entry.placements:
        points += placement.points().values()
    return points


def _frame(entry: PhotoMarks, reading: PhotoReading, offset_mm: float) -> Frame:
    """Return the part to show: round the marks, of the picture's shape, inside the photo."""
    width, height = reading.size
    points = _all_points(entry)
    if points:
        placed = reading.straight(np.array(points, dtype=np.float64))
        (x0, y0), (x1, y1) = placed.min(axis=0), placed.max(axis=0)
    else:
        x0, y0, x1, y1 = 0.0, 0.0, width - 1.0, height - 1.0
    least = LEAST_WIDTH_MM / reading.mm_per_px(offset_mm) if _scaled(reading) else width / 3
    shape = WIDTH / PICTURE_HEIGHT
    wide = max(1.5 * (x1 - x0), 1.5 * (y1 - y0) * shape, least)
    wide = min(wide, width, height * shape)
    high = wide / shape
    left = min(max((x0 + x1) / 2 - wide / 2, 0.0), width - wide)
    top = min(max((y0 + y1) / 2 - high / 2, 0.0), height - high)
    return Frame(left, top, WIDTH / wide, reading, PICTURE_HEIGHT)


def _scaled(reading: PhotoReading) -> bool:
    return reading.fit is not None and reading.target_px is not None


def _cropped(photo: Photo, frame: Frame) -> Image.Image:
    """Return the part of the photo at the canvas's own size."""
    pixels = photo.pixels[:, ::-1] if frame.reading.mirrored else photo.pixels
    canvas = Canvas.inner_size(WIDTH, frame.height)
    wide, high = WIDTH / frame.zoom, frame.height / frame.zoom
    box = (frame.left, frame.top, frame.left + wide, frame.top + high)
    return Image.fromarray(np.ascontiguousarray(pixels)).resize(
        canvas, Image.Resampling.BICUBIC, box=box
    )


def _draw_marks(canvas: Canvas, frame: Frame, entry: PhotoMarks, plan: PlanDrawing | None) -> None:
    if plan is not None:
        usable_rim(canvas, frame.line, plan)
    _draw_rims(canvas, frame, entry)
    for point in entry.ties.values():
        _cross(canvas, frame.at(point))
    for placement in entry.placements:
        _draw_placement(canvas, frame, placement)
    if plan is not None:
        draw_plan(canvas, frame.line, plan)


def _draw_rims(canvas: Canvas, frame: Frame, entry: PhotoMarks) -> None:
    if entry.outer_rim is not None:
        canvas.line(frame.line(entry.outer_rim), 3.0)
    if entry.inner_rim is not None:
        canvas.dashed(frame.line(entry.inner_rim), 3.0)


def _draw_placement(canvas: Canvas, frame: Frame, placement: PlacementMarks) -> None:
    points = {name: frame.at(point) for name, point in placement.points().items()}
    entry, leaving, below = (points.get(name) for name in ("entry", "exit", "below"))
    if "floor" in points:
        canvas.cup(points["floor"], SIGN)
    if "crest" in points:
        x, y = points["crest"]
        canvas.line([(x - SIGN, y), (x + SIGN, y)], 3.0)
    if entry is not None and leaving is not None:
        canvas.line([entry, below if below is not None else leaving], 1.2)
    way = _way(entry, leaving if leaving is not None else below)
    if entry is not None:  # its tip is the place
        canvas.polygon(_triangle(entry, way, tip=0.0))
    if leaving is not None:  # its base is the place
        canvas.polygon(_triangle(leaving, way, tip=1.6 * SIGN))
    if below is not None:
        canvas.line(_bracket(below, way), 3.0)
    for name in placement.snapped:
        canvas.ring(points[name], 1.9 * SIGN)


def _way(entry: Point | None, exit_: Point | None) -> Point:
    """Return the direction in which the post goes; down where one end isn't seen."""
    if entry is None or exit_ is None or entry == exit_:
        return 0.0, 1.0
    length = math.dist(entry, exit_)
    return (exit_[0] - entry[0]) / length, (exit_[1] - entry[1]) / length


def _triangle(place: Point, way: Point, tip: float) -> list[Point]:
    """Return a triangle that points along ``way``, its tip ``tip`` px past the place."""
    along, side = way, (-way[1], way[0])
    end = (place[0] + tip * along[0], place[1] + tip * along[1])
    back = (end[0] - 1.6 * SIGN * along[0], end[1] - 1.6 * SIGN * along[1])
    half = 0.75 * SIGN
    return [
        end,
        (back[0] + half * side[0], back[1] + half * side[1]),
        (back[0] - half * side[0], back[1] - half * side[1]),
    ]


def _bracket(place: Point, way: Point) -> list[Point]:
    """Return a bracket that closes the room below: its back at the place, arms to the exit."""
    side = (-way[1], way[0])
    ends = [(place[0] + s * SIGN * side[0], place[1] + s * SIGN * side[1]) for s in (-1.3, 1.3)]
    arms = [(x - 0.7 * SIGN * way[0], y - 0.7 * SIGN * way[1]) for x, y in ends]
    return [arms[0], ends[0], ends[1], arms[1]]


def _cross(canvas: Canvas, at: Point) -> None:
    x, y = at
    r = 0.7 * SIGN
    canvas.line([(x - r, y - r), (x + r, y + r)], 2.5)
    canvas.line([(x - r, y + r), (x + r, y - r)], 2.5)


def _scale_bar(canvas: Canvas, frame: Frame, offset_mm: float, say: Say) -> None:
    """Draw ten millimetres as they are at the marks, in a box of their own."""
    known = _scaled(frame.reading)
    words = "10 mm at the marks" if known else "no scale in this photo"
    if frame.reading.low_confidence:
        words = f"{words}: low confidence, no scale card"
    words = say(words)
    length = 10.0 / frame.reading.mm_per_px(offset_mm) * frame.zoom if known else 0.0
    left, bottom = 40.0, frame.height - 24.0
    right = left + max(length, text_width(words, PANEL_SIZE)) + 32
    canvas.box((left, bottom - (80 if known else 56), right, bottom), (*PAPER[:3], 235))
    canvas.text((left + 16, bottom - (74 if known else 48)), words, PANEL_SIZE)
    if known:
        start, y = left + 16, bottom - 16
        canvas.line([(start, y - 10), (start, y), (start + length, y), (start + length, y - 10)], 3)


def _taken(frame: Frame, entry: PhotoMarks) -> list[Point]:
    """Return the places in the picture that words should leave free."""
    taken = frame.line(_all_points(entry))
    taken += [(40.0 + 60.0 * i, frame.height - 55.0) for i in range(6)]
    return taken
