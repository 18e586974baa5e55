"""``rimspan recheck`` on a rendered photo; the post in it is invented, by its marks alone."""

from __future__ import annotations

import json
import shutil
from pathlib import Path
from typing import Any

import numpy as np
import pytest

from rimspan.cli import main
from sample_images.sets import sample_set
from sample_images.visible import contours, outer_contour

PHOTO = Path(__file__).resolve().parents[2] / "sample_images" / "pronounced" / "square-on.jpg"


@pytest.fixture(scope="module")
def drawn() -> dict[str, Any]:
    """Return the photo's rim and a post through it, px, as marks without error."""
    sample = sample_set("pronounced")
    view, standing = sample.view("square-on"), sample.standing
    centre = standing.to_ear(view.centre_card[None])[0]
    placement = sample.placements["A"]
    axis = (placement.entry - placement.exit) / placement.channel_mm
    ends = np.array([placement.entry + 3.0 * axis, placement.exit - 3.0 * axis])

    def px(points: np.ndarray) -> list[list[float]]:
        return [[float(x), float(y)] for x, y in view.pixels(standing.to_card(points))]

    outer = outer_contour(sample.ear, centre, (0.2, 0.92), 45)
    inner = contours(sample.ear, centre, 24)[1]
    return {
        "outer": px(outer),
        "inner": px(inner),
        "ends": px(ends),
        "skin": px(np.array([placement.entry, placement.exit])),
    }


def marks(
    folder: Path, name: str, drawn: dict[str, Any], turn_deg: float = 0.0, **more: Any
) -> Path:
    folder.mkdir(exist_ok=True)
    shutil.copy(PHOTO, folder / "a.jpg")
    ends = np.array(drawn["ends"])
    c, s = np.cos(np.deg2rad(turn_deg)), np.sin(np.deg2rad(turn_deg))
    middle = ends.mean(axis=0)
    ends = (ends - middle) @ np.array([[c, s], [-s, c]]) + middle
    skin = drawn["skin"]
    placement = {
        "label": "A",
        "entry": skin[0],
        "exit": skin[1],
        "x_post": {"entry_end": ends[0].tolist(), "exit_end": ends[1].tolist(), "u_px": 0.4},
    }
    photo = {
        "file": "a.jpg",
        "sigma_px": 0.5,
        "outer_rim": drawn["outer"],
        "inner_rim": drawn["inner"],
        "placements": [placement],
    }
    document = {"format": "rimspan-marks/1", "side": "left", "photos": [photo], **more}
    path = folder / name
    path.write_text(json.dumps(document), encoding="utf-8")
    return path


def test_a_post_that_leans_is_told_and_one_that_stayed_is_not(
    drawn: dict[str, Any], tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    first = marks(tmp_path, "first.json", drawn)
    later = marks(tmp_path, "later.json", drawn, -14.0, x_posts={"A": {"length_mm": 12.7}})
    out = tmp_path / "recheck.json"
    assert main(["recheck", str(first), str(later), "--out", str(out)]) == 0
    said = " ".join(capsys.readouterr().out.split())
    assert "toward the face since the baseline" in said
    assert "no diagnosis" in said
    held = json.loads(out.read_text("utf-8"))
    (post,) = held["posts"]
    assert held["format"] == "rimspan-recheck/1"
    assert post["compared"]
    assert post["tilt"]["value"] == pytest.approx(14.0, abs=post["tilt"]["U"])
    assert post["tilt"]["moved"]
    assert sum(line["tilt_deg2"] for line in post["budget"]) == pytest.approx(
        post["tilt"]["u"] ** 2
    )
    assert abs(post["channel_change"]["value"]) < 0.1
    assert main(["recheck", str(first), str(first), "--out", "-"]) == 0
    again = json.loads(capsys.readouterr().out)["posts"][0]
    assert not again["tilt"]["moved"]
    assert not any(end["moved"] for end in again["ends"].values())


def test_no_spare_length_comes_first(
    drawn: dict[str, Any], tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    first = marks(tmp_path, "first.json", drawn)
    tight = marks(tmp_path, "tight.json", drawn, x_posts={"A": {"length_mm": 6.35}})
    assert main(["recheck", str(first), str(tight)]) == 0
    assert capsys.readouterr().out.startswith("A longer post the same day")


def test_what_is_wrong_is_refused_in_one_line(
    drawn: dict[str, Any], tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    first = marks(tmp_path, "first.json", drawn)
    other = marks(tmp_path, "other.json", drawn, side="right")
    assert main(["recheck", str(first), str(other)]) == 2
    assert "is the right ear" in capsys.readouterr().err
    document = json.loads(first.read_text("utf-8"))
    del document["photos"][0]["placements"][0]["x_post"]
    bare = tmp_path / "bare.json"
    bare.write_text(json.dumps(document), encoding="utf-8")
    assert main(["recheck", str(first), str(bare)]) == 2
    said = capsys.readouterr().err
    assert "marks no post that the baseline marks too" in said
    assert "Traceback" not in said


def set_of_photos(folder: Path, name: str, files: list[str], lean_deg: float = 0.0) -> Path:
    """Return a visit's marks in several photos: both ends and lasting places where they are."""
    sample = sample_set("pronounced")
    placement = sample.placements["A"]
    axis = (placement.entry - placement.exit) / placement.channel_mm
    half, rise = placement.channel_mm / 2 + 3.0, np.deg2rad(lean_deg)
    outward = np.array([0.0, 0.0, -1.0]) + axis[2] * axis
    way = np.cos(rise) * axis + np.sin(rise) * outward / np.linalg.norm(outward)
    middle = (placement.entry + placement.exit) / 2
    places = np.array([middle + half * way, middle - half * way, *sample.ties().values()])
    photos = []
    for file in files:
        view = sample.view(file)
        at = view.pixels(sample.standing.to_card(places)).tolist()
        post = {"entry_end": at[0], "exit_end": at[1], "u_px": 0.4}
        photos.append(
            {
                "file": f"{file}.jpg",
                "sigma_px": 0.5,
                "ties": dict(zip(sample.ties(), at[2:], strict=True)),
                "placements": [{"label": "A", "x_post": post}],
            }
        )
        shutil.copy(PHOTO.with_name(f"{file}.jpg"), folder)
    document = {
        "format": "rimspan-marks/1",
        "side": sample.side,
        "card": {"id": sample.standing.card.id, "check_bar_mm": list(sample.check_bar_mm)},
        "card_shift": {"u_mm": 0.0},
        "photos": photos,
    }
    path = folder / name
    path.write_text(json.dumps(document), encoding="utf-8")
    return path


def test_several_photos_of_each_visit_are_compared_in_space(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    first = set_of_photos(tmp_path, "first.json", ["square-on", "front"])
    later = set_of_photos(tmp_path, "later.json", ["above", "below"], 9.0)
    assert main(["recheck", str(first), str(later), "--out", "-"]) == 0
    (post,) = json.loads(capsys.readouterr().out)["posts"]
    assert post["by"] == "several views"
    assert post["in_space"]["photos"] == [
        ["square-on.jpg", "front.jpg"],
        ["above.jpg", "below.jpg"],
    ]
    tilt = post["tilt"]
    assert tilt["moved"]
    assert tilt["value"] == pytest.approx(9.0, abs=tilt["U"])
    assert tilt["outward_deg"] == pytest.approx(9.0, abs=tilt["U"])
    assert tilt["U"] < 6.0
    turned = np.trace(np.array(tilt["covariance_deg2"]))
    assert sum(line["tilt_deg2"] for line in post["budget"]) == pytest.approx(turned)
    assert post["ends"]["entry"]["outward_mm"] > 0.5
    assert post["sentences"][0].startswith("In space, by 2 and 2 photos")
    # One photo of the later visit: by one view, which is too far off, with the reason said.
    alone = set_of_photos(tmp_path, "alone.json", ["above"])
    assert main(["recheck", str(first), str(alone), "--out", "-"]) == 0
    (post,) = json.loads(capsys.readouterr().out)["posts"]
    assert post["by"] == "one view"
    assert post["why_one_view"] == "few_photos"
    assert any(said.startswith("By one photo of each visit") for said in post["sentences"])
