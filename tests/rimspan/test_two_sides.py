"""The two drawings of a placement: true proportion, everything named, the same as PNG and SVG."""

from __future__ import annotations

import io
import json
import re
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from PIL import Image

from assess.measure import measure
from assess.read_marks import parse_marks
from assess.result import PlacementOut, PostOut, Result
from calibration.photo import Photo, PhotoError, read_photo
from rimspan.cli import main
from rimspan.two_sides import DISC_MM, FACE_TITLE, NO_DEPTH, Panel, caption, panels
from rimspan.two_sides_draw import (
    Drawings,
    label_heights,
    sides_file,
    sides_png,
    sides_svg,
)

FOLDER = Path(__file__).parents[2] / "sample_images" / "pronounced"


def document() -> dict[str, Any]:
    found: dict[str, Any] = json.loads((FOLDER / "marks-examined.json").read_text())
    return found


@pytest.fixture(scope="module")
def photos() -> dict[str, Photo | PhotoError]:
    return {path.name: read_photo(path.read_bytes()) for path in FOLDER.glob("*.jpg")}


@pytest.fixture(scope="module")
def one_view(photos: dict[str, Photo | PhotoError]) -> Result:
    """Leave all photos out but the square-on one."""
    marks = document()
    marks["photos"] = [p for p in marks["photos"] if p["file"] == "square-on.jpg"]
    return measure(parse_marks(marks), photos, draws=4000).result


@pytest.fixture(scope="module")
def views(photos: dict[str, Photo | PhotoError]) -> Result:
    return measure(parse_marks(document()), photos, draws=4000).result


def only(found: Result) -> PlacementOut:
    (placement,) = found.placements
    return placement


def drawn(found: Result) -> tuple[Panel, Panel]:
    pair = panels(only(found), found.side)
    assert pair is not None
    return pair


def place(panel: Panel, name: str) -> np.ndarray:
    return np.array(dict(panel.labels)[name])


def test_both_drawings_together_have_the_channel_s_true_length(views: Result) -> None:
    side, face = drawn(views)
    gaps = [place(panel, "entry") - place(panel, "exit") for panel in (side, face)]
    assert gaps[0][1] == pytest.approx(gaps[1][1])  # both have height in common
    length = np.sqrt(gaps[0][0] ** 2 + gaps[0][1] ** 2 + gaps[1][0] ** 2)
    channel = only(views).channel
    assert channel is not None
    caliper = document()["caliper"]["A"].get("channel_mm")
    assert caliper is None or only(views).method == "views"
    assert length == pytest.approx(channel.value, abs=3 * channel.u)


def test_relief_stands_outward_from_the_face(views: Result) -> None:
    _, face = drawn(views)
    relief = only(views).relief
    assert relief is not None
    gap = place(face, "crest")[0] - place(face, "floor of the scapha")[0]
    assert gap == pytest.approx(relief.value, abs=3 * relief.u)
    other = panels(only(views), "right")
    assert other is not None
    assert place(other[1], "crest")[0] == pytest.approx(-place(face, "crest")[0])


def test_the_post_is_drawn_at_its_length_and_thickness(one_view: Result) -> None:
    side, _ = drawn(one_view)
    post = only(one_view).posts.initial
    assert isinstance(post, PostOut)
    bars = [np.array(shape.points) for shape in side.shapes if shape.style == "soft"]
    sides_mm = [sorted(np.linalg.norm(np.diff(bar[:3], axis=0), axis=1)) for bar in bars]
    assert sides_mm[0] == pytest.approx([post.gauge_mm, post.length_mm])
    for disc in sides_mm[1:]:
        assert disc == pytest.approx(sorted(DISC_MM))


def test_a_ring_holds_its_dot_95_times_in_100(views: Result) -> None:
    sides = only(views).sides
    assert sides is not None
    side, _ = drawn(views)
    rings = [np.array(shape.points) for shape in side.shapes if len(shape.points) == 37]
    assert len(rings) == len(side.labels)
    entry = np.array(sides.places["entry"].covariance_mm2)[:2, :2]
    middle = place(side, "entry")
    (ring,) = [r for r in rings if np.allclose(r[:-1].mean(axis=0), middle, atol=1e-6)]
    off = np.random.default_rng(1).multivariate_normal(np.zeros(2), entry, 20_000)
    reach = np.einsum("nk,kl,nl->n", ring - middle, np.linalg.inv(entry), ring - middle)
    own = np.einsum("nk,kl,nl->n", off, np.linalg.inv(entry), off)
    assert np.ptp(reach) < 1e-3
    assert np.mean(own <= reach[0]) == pytest.approx(0.95, abs=0.006)


def test_one_photo_draws_no_depth_and_says_what_would_show_it(one_view: Result) -> None:
    side, face = drawn(one_view)
    assert face.missing == NO_DEPTH
    assert not face.shapes
    assert {"entry", "exit"} <= {name for name, _ in side.labels}
    assert "can&#x27;t tell depth" in sides_svg(only(one_view), "left").replace("\n", " ") or (
        "depth" in sides_svg(only(one_view), "left")
    )


def test_the_svg_names_every_dot_and_follows_light_and_dark(views: Result) -> None:
    page = sides_svg(only(views), views.side)
    for name in ("entry", "exit", "crest", "floor of the scapha", "5 mm", FACE_TITLE):
        assert f">{name}<" in page
    assert caption(only(views)) in page.replace("&#x27;", "'")
    assert set(re.findall(r"(?:fill|stroke):([a-zA-Z#]+)", page)) <= {"none", "currentColor"}
    alone = sides_file(views)
    assert "prefers-color-scheme:dark" in alone
    assert "Not confirmed" in alone
    assert alone == sides_file(views)


def test_the_png_is_the_same_each_time_and_higher_than_its_words(views: Result) -> None:
    png = sides_png(views)
    assert png == sides_png(views)
    with Image.open(io.BytesIO(png)) as picture:
        assert picture.height > Drawings(views).height > 400
        inked = np.asarray(picture.convert("L")) < 90
    half = inked.shape[1] // 2
    assert inked[:, :half].sum() > 2000
    assert inked[:, half:].sum() > 2000


def test_labels_never_lie_on_each_other() -> None:
    heights = label_heights([50.0, 10.0, 12.0, 11.0], 17.0)
    assert heights[1] == 10.0
    assert np.diff(sorted(heights)).min() >= 17.0
    assert np.argsort(heights).tolist() == [1, 3, 2, 0]


def test_without_a_photo_there_is_nothing_to_draw(one_view: Result) -> None:
    bare = only(one_view).model_copy(update={"sides": None})
    assert panels(bare, "left") is None
    assert sides_svg(bare, "left") == ""


def test_the_command_writes_either(tmp_path: Path) -> None:
    marks = str(FOLDER / "marks-examined.json")
    for name in ("sides.svg", "sides.png"):
        assert main(["measure", marks, "--sides", str(tmp_path / name)]) == 0
    assert (tmp_path / "sides.svg").read_text().startswith("<svg")
    assert (tmp_path / "sides.png").read_bytes()[:4] == b"\x89PNG"
    assert main(["measure", marks, "--sides", str(tmp_path / "sides.gif")]) == 2
