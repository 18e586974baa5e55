"""Where dots of other photos lie in one: held against where they were rendered."""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

import numpy as np
import pytest

from assess.marks import Marks
from assess.other_views import KNOWN_MM, OtherDot, other_dots
from assess.read_marks import parse_marks
from assess.reading import PhotoReading, read_view
from calibration.epipolar import nearest_on_line
from calibration.find import unmirror
from calibration.photo import Photo, read_photo
from tracing.along import snap_along
from tracing.dots import Dot

SAMPLE = Path(__file__).parents[2] / "sample_images" / "middling"
VIEWS = ("square-on", "above-1", "above-2", "below-1", "below-2")


def truth(view: str) -> dict[str, Any]:
    return dict(json.loads((SAMPLE / f"{view}.truth.json").read_text("utf-8")))


def true_dots(view: str) -> dict[str, np.ndarray]:
    """Return the dots that a photo shows, px, by the names that they have among the points."""
    told = truth(view)
    points = told["placements"]["A"]["points"]
    seen = {f"A/{kind}": at for kind, at in points.items() if kind != "below"}
    seen |= {f"tie: {name}": at for name, at in told["ties"].items()}
    return {name: np.array(at["px"]) for name, at in seen.items() if at["visible"]}


def marked(*views: str) -> Marks:
    """Return marks of every dot that those photos show, just where they were rendered."""
    photos = []
    for view in VIEWS:
        dots = true_dots(view) if view in views else {}
        spots = {n.removeprefix("A/"): [*at] for n, at in dots.items() if n.startswith("A/")}
        ties = {n.removeprefix("tie: "): [*at] for n, at in dots.items() if n.startswith("tie")}
        placements = [{"label": "A", **spots}] if spots else []
        photos.append({"file": view, "placements": placements, "ties": ties})
    return parse_marks({"format": "rimspan-marks/1", "side": "right", "photos": photos})


@pytest.fixture(scope="module")
def pictures() -> dict[str, Photo]:
    return {view: read_photo((SAMPLE / f"{view}.jpg").read_bytes()) for view in VIEWS}


@pytest.fixture(scope="module")
def readings(pictures: dict[str, Photo]) -> dict[str, PhotoReading]:
    return {view: read(pictures[view], view) for view in VIEWS}


def read(photo: Photo, view: str) -> PhotoReading:
    """Return a photo's reading, with the check bars of its print as they were read."""
    card = parse_marks((SAMPLE / "marks.json").read_bytes()).card
    return read_view(photo, file=view, side="right", card=card)


def off_px(dot: OtherDot, at: np.ndarray) -> float:
    return float(nearest_on_line(dot.line_px, at[None])[1][0])


@pytest.mark.parametrize("view", VIEWS)
def test_each_dot_of_another_photo_lies_on_its_line(
    view: str, readings: dict[str, PhotoReading]
) -> None:
    from_one = "square-on" if view != "square-on" else "above-2"
    found = {dot.name: dot for dot in other_dots(marked(from_one), readings, view)}
    both = set(true_dots(from_one)) & set(true_dots(view))
    assert len(both) >= 4
    assert set(found) == set(true_dots(from_one))
    for name in both:
        assert off_px(found[name], true_dots(view)[name]) < 1.0, name
        assert found[name].files == (from_one,)


def test_two_lines_of_sight_tell_how_far_along(readings: dict[str, PhotoReading]) -> None:
    marks = marked("square-on", "above-2")
    found = {dot.name: dot for dot in other_dots(marks, readings, "below-2")}
    mm = readings["below-2"].mm_per_px(0.0)
    for name in set(true_dots("square-on")) & set(true_dots("above-2")) & set(found):
        if name not in true_dots("below-2"):
            continue
        dot = found[name]
        away = np.linalg.norm(dot.line_px[dot.first] - true_dots("below-2")[name]) * mm
        assert away < 0.5, name
        ends = np.linalg.norm(dot.line_px[-1] - dot.line_px[0]) * mm
        assert ends < 4 * KNOWN_MM


def test_what_is_marked_here_or_on_an_edge_has_no_line(readings: dict[str, PhotoReading]) -> None:
    marks = marked("square-on", "above-1")
    assert other_dots(marks, readings, "square-on")
    names = {dot.name for dot in other_dots(marks, readings, "square-on")}
    assert names == set(true_dots("above-1")) - set(true_dots("square-on"))
    edge = {"label": "A", "entry": [900.0, 700.0], "outline": ["entry"]}
    one = {"file": "above-1", "placements": [edge]}
    held = {"format": "rimspan-marks/1", "side": "right", "photos": [one, {"file": "below-1"}]}
    assert other_dots(parse_marks(held), readings, "below-1") == ()


def test_in_a_mirrored_photo_the_line_lies_where_it_is_seen(
    pictures: dict[str, Photo], readings: dict[str, PhotoReading]
) -> None:
    photo = pictures["above-1"]
    turned = Photo(np.ascontiguousarray(photo.pixels[:, ::-1]), photo.facts)
    seen = dict(readings, **{"above-1": read(turned, "above-1")})
    assert seen["above-1"].mirrored
    found = {dot.name: dot for dot in other_dots(marked("square-on"), seen, "above-1")}
    for name in set(found) & set(true_dots("above-1")):
        at = unmirror(true_dots("above-1")[name][None], photo.size[0])[0]
        assert off_px(found[name], at) < 1.0, name


def test_what_is_found_along_the_lines_is_the_very_dot(
    pictures: dict[str, Photo], readings: dict[str, PhotoReading]
) -> None:
    """Photo by photo, as they are marked: each gets its proposals from those before it."""
    proposed, off = 0, []
    for i, view in enumerate(VIEWS[1:], start=1):
        for dot in other_dots(marked(*VIEWS[:i]), readings, view):
            if dot.name not in true_dots(view):
                continue
            mm = readings[view].mm_per_px(0.0)
            found = snap_along(pictures[view].pixels, dot.line_px, dot.first, mm)
            proposed += 1
            if isinstance(found, Dot):
                off.append(float(np.linalg.norm(found.point_px - true_dots(view)[dot.name])))
    assert proposed == 20
    assert len(off) >= 18
    assert max(off) < 1.0
