"""Whole photos of a scene of several views, rendered and read by the program as any photo is."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from assess.marks import CardShift, Marks, PhotoMarks, PlacementMarks
from assess.reading import U_MARK_MM, PhotoReading, read_view
from assess.several_views import several_views
from benchmarks.view_pixels import Pen, Tapped, dots_of, tap_dot
from benchmarks.view_scenes import Dots, ViewScene
from calibration.lens import DIAGONAL_35MM, Camera
from calibration.photo import CaptureFacts, Photo
from calibration.view_photo import Mark
from calibration.views import ViewsOutcome
from sample_images.render import render
from sample_images.scene import Standing, View

SHRUNK = 0.4
"""1600 x 1200 px: a full rendering of what a phone takes would last minutes a photo."""


@dataclass(frozen=True, slots=True)
class WholePhoto:
    """A rendered photo: what the program says of it, and its dots as they were marked."""

    name: str
    facts: CaptureFacts
    reading: PhotoReading
    tapped: tuple[Tapped, ...]


def shrunk(view: View, factor: float) -> View:
    """Return the view as a camera of fewer pixels sees it."""
    own = view.camera
    x, y = ((at + 0.5) * factor - 0.5 for at in (own.cx, own.cy))
    camera = Camera(own.fx * factor, own.fy * factor, x, y, own.dist)
    width, height = view.size_px
    return View(camera, (round(width * factor), round(height * factor)), view.rvec, view.tvec)


def read_whole(
    scene: ViewScene,
    name: str,
    standing: Standing,
    pen: Pen,
    dots: Dots,
    rng: np.random.Generator,
) -> WholePhoto:
    """Return one photo of a scene, rendered, its card found, its dots tapped."""
    view = shrunk(scene.views[name], SHRUNK)
    picture = render(scene.site.ear, standing, view, pen.look, pen.spots, samples=1)
    width, height = view.size_px
    told_px = SHRUNK * scene.told_focal_px
    focal_35mm = told_px * DIAGONAL_35MM / float(np.hypot(width, height))
    facts = CaptureFacts(width, height, model="drawn", focal_35mm=focal_35mm)
    reading = read_view(Photo(picture, facts), file=name, card=scene.card_marks, side="left")
    found = []
    if reading.fit is not None:
        for dot in dots_of(sorted(scene.seen[name]), dots):
            at = view.pixels(standing.to_card(scene.dots[dot][None]))[0]
            mark, tap = tap_dot(picture, at, reading.mm_per_px(0.0), rng)
            error = np.array(mark.at_px) - at
            found.append(Tapped(name, dot, mark, (float(error[0]), float(error[1])), tap))
    return WholePhoto(name, facts, reading, tuple(found))


def whole_outcome(
    scene: ViewScene, photos: Sequence[WholePhoto], u_shift_mm: float
) -> ViewsOutcome | None:
    """Return what the program makes of the photos, by a marks file's words."""
    able = [photo for photo in photos if photo.reading.fit is not None]
    if len(able) < 2:
        return None
    marks = Marks(
        format="rimspan-marks/1",
        side="left",
        card=scene.card_marks,
        card_shift=CardShift(u_mm=u_shift_mm),
        photos=tuple(_marks(photo) for photo in able),
    )
    blank = np.zeros((1, 1, 3), dtype=np.uint8)  # the cards were looked for already
    return several_views(
        marks,
        {photo.name: Photo(blank, photo.facts) for photo in able},
        {photo.name: photo.reading for photo in able},
        {photo.name: U_MARK_MM / photo.reading.mm_per_px(0.0) for photo in able},
    )


def _marks(photo: WholePhoto) -> PhotoMarks:
    """Return a photo's marks as the marking leaves them: u of the placement's dots is the worst."""
    own = [each for each in photo.tapped if not each.dot.startswith("tie")]
    ties = [each for each in photo.tapped if each.dot.startswith("tie")]
    snapped = [each for each in own if each.tap]
    placement = PlacementMarks.model_validate(
        {"label": "A"}
        | {each.dot.rsplit("/", 1)[1]: each.mark.at_px for each in own}
        | {"snapped": tuple(each.dot.rsplit("/", 1)[1] for each in snapped)}
        | ({"u_px": _worst([each.mark for each in snapped])} if snapped else {})
    )
    told = PhotoMarks(
        file=photo.name,
        placements=(placement,) if own else (),
        ties={each.dot: each.mark.at_px for each in ties},
    )
    if ties and all(each.tap for each in ties):
        told = told.model_copy(update={"u_ties_px": _worst([each.mark for each in ties])})
    return told


def _worst(marks: Sequence[Mark]) -> float:
    return max(mark.u_px for mark in marks)
