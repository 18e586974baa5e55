"""``rimspan snap`` and ``rimspan trace`` on the sample photos, whose truth is known."""

from __future__ import annotations

import io
import json
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from PIL import Image

from calibration.frames import Array
from rimspan.cli import main
from sample_images.sets import sample_set
from sample_images.visible import contours

SAMPLES = Path(__file__).resolve().parents[2] / "sample_images"
PHOTO = SAMPLES / "pronounced" / "square-on.jpg"
MM_PER_PX = 0.14


def run(*arguments: str) -> int:
    return main(list(arguments))


def truth(name: str, view: str) -> dict[str, Any]:
    told: dict[str, Any] = json.loads((SAMPLES / name / f"{view}.truth.json").read_text())
    return told


def true_contour(name: str, kind: str) -> Array:
    """Return the visible contour in the square-on photo, (N, 2) px."""
    sample = sample_set(name)
    view, standing = sample.view("square-on"), sample.standing
    lines = contours(sample.ear, standing.to_ear(view.centre_card[None])[0], 60)
    line = lines[0] if kind == "outer" else lines[1]
    return view.pixels(standing.to_card(line))


@pytest.mark.parametrize("name", ["pronounced", "middling", "three"])
def test_snap_finds_the_dots_that_are_well_seen(
    name: str, capsys: pytest.CaptureFixture[str]
) -> None:
    told = truth(name, "square-on")
    dots = [tie["px"] for tie in told["ties"].values() if tie["visible"]]
    dots += [p["points"]["crest"]["px"] for p in told["placements"].values()]
    near = [f"--near={x + 3:.1f},{y - 2:.1f}" for x, y in dots]
    assert run("snap", str(SAMPLES / name / "square-on.jpg"), *near) == 0
    answers = json.loads(capsys.readouterr().out)
    assert len(answers) == len(dots)
    found = [(a, at) for a, at in zip(answers, dots, strict=True) if "point" in a]
    assert len(found) >= 0.75 * len(dots)
    for answer, at in found:
        assert np.hypot(*(np.array(answer["point"]) - at)) < 0.8
        assert 0.02 < answer["u_px"] < 1.0


def test_a_dot_half_under_the_fold_says_how_uncertain_it_is(
    capsys: pytest.CaptureFixture[str],
) -> None:
    """The rim in front hides more than a third of it: 1.3 px off, within 2.5 of its u."""
    x, y = truth("three", "square-on")["placements"]["back"]["points"]["floor"]["px"]
    assert run("snap", str(SAMPLES / "three" / "square-on.jpg"), f"--near={x},{y}") == 0
    (answer,) = json.loads(capsys.readouterr().out)
    away = float(np.hypot(*(np.array(answer["point"]) - (x, y))))
    assert away < 2.5 * np.sqrt(2.0) * answer["u_px"]
    assert answer["u_px"] < 0.8


def test_a_tap_on_a_dot_in_the_fold_is_not_taken_to_the_next(
    capsys: pytest.CaptureFixture[str],
) -> None:
    x, y = truth("middling", "below-1")["placements"]["A"]["points"]["exit"]["px"]
    near = [f"--near={x + right},{y + down}" for right, down in ((0, 0), (1, -1), (-2, 1))]
    assert run("snap", str(SAMPLES / "middling" / "below-1.jpg"), *near) == 0
    for answer in json.loads(capsys.readouterr().out):
        assert "as dark" in answer["none"]


def test_snap_says_why_a_tap_on_bare_skin_stays(capsys: pytest.CaptureFixture[str]) -> None:
    ties = truth("pronounced", "square-on")["ties"]
    x, y = np.mean([ties[name]["px"] for name in ("antihelix", "lobe")], axis=0)
    assert run("snap", str(PHOTO), "--near", f"{x},{y}") == 0
    (answer,) = json.loads(capsys.readouterr().out)
    assert list(answer) == ["none"]
    assert "No pen dot" in answer["none"]


@pytest.mark.parametrize("kind", ["outer", "inner"])
def test_trace_comes_nearer_than_the_taps(
    kind: str, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    line = true_contour("pronounced", kind)
    rng = np.random.default_rng(4)
    taps = line[[2, 20, 38, len(line) - 3]] + rng.normal(0, 0.4 / MM_PER_PX, (4, 2))
    file = tmp_path / "taps.json"
    file.write_text(json.dumps(taps.tolist()))
    assert run("trace", str(PHOTO), "--kind", kind, "--taps", str(file)) == 0
    answer = json.loads(capsys.readouterr().out)
    found = np.array(answer["line"])
    assert set(answer) == {"line", "u_px", "gaps"}
    assert len(answer["u_px"]) == len(found)
    assert all(0 <= i <= j < len(found) for i, j in answer["gaps"])
    away = np.hypot(*(found[:, None] - line[None]).transpose(2, 0, 1)).min(axis=1)
    assert float(np.sqrt(np.mean(away**2))) * MM_PER_PX < 0.4


def refused(capsys: pytest.CaptureFixture[str], status: int, said: str, *arguments: str) -> None:
    assert run(*arguments) == status
    out, err = capsys.readouterr()
    assert out == ""
    assert said in err
    assert "Traceback" not in err


@pytest.mark.parametrize(
    ("content", "said"),
    [
        ("[[1, 2], [3, 4]]", "three or four"),
        ('{"a": 1}', "no array of points"),
        ("[[1, 2], [3, NaN], [4, 5]]", "no array of points"),
        ("[[1, 2]", "not JSON"),
        ("[[1, 2], [1, 2], [1, 2]]", "different taps"),
        ("[[-50, 2], [300, 400], [500, 600]]", "outside the photo"),
    ],
)
def test_bad_taps_are_refused(
    content: str, said: str, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    file = tmp_path / "taps.json"
    file.write_text(content)
    refused(capsys, 2, said, "trace", str(PHOTO), "--kind", "outer", "--taps", str(file))


def test_a_photo_without_a_card_has_no_millimetres(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    out = io.BytesIO()
    Image.new("RGB", (400, 300), (180, 140, 120)).save(out, "JPEG")
    photo = tmp_path / "bare.jpg"
    photo.write_bytes(out.getvalue())
    refused(capsys, 3, "card", "snap", str(photo), "--near", "100,100")


@pytest.mark.parametrize("near", ["5", "a,b", "1,2,3", "nan,4"])
def test_a_point_that_is_none_is_refused(near: str, capsys: pytest.CaptureFixture[str]) -> None:
    refused(capsys, 2, "--near", "snap", str(PHOTO), "--near", near)


def test_a_point_outside_is_refused(capsys: pytest.CaptureFixture[str]) -> None:
    refused(capsys, 2, "outside the photo", "snap", str(PHOTO), "--near", "5000,10")


def test_a_missing_photo_is_refused(capsys: pytest.CaptureFixture[str]) -> None:
    refused(capsys, 2, "no such file", "snap", "nothing.jpg", "--near", "5,5")
