"""`rimspan camera` and `rimspan card-check` on photos of the card."""

from __future__ import annotations

import json
from pathlib import Path

import pytest

from rimspan.cli import main
from tests.rimspan.conftest import FOCAL_PX, PHOTO_SIZE, card_photo

TURNS = ((24.0, 0.0), (-24.0, 6.0), (0.0, 24.0), (5.0, -24.0))


@pytest.fixture(scope="module")
def tilted(tmp_path_factory: pytest.TempPathFactory) -> list[Path]:
    folder = tmp_path_factory.mktemp("tilted")
    paths = [folder / f"{i}.jpg" for i in range(len(TURNS))]
    for path, turn in zip(paths, TURNS, strict=True):
        path.write_bytes(card_photo(turned_deg=turn))
    return paths


def test_a_profile_comes_out_and_measures(
    tilted: list[Path], flat: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    out = tmp_path / "phone.json"
    assert main(["camera", *map(str, tilted), "--out", str(out)]) == 0
    assert "focal length" in capsys.readouterr().out
    held = json.loads(out.read_text("utf-8"))
    camera = held["camera"]
    assert camera["fx"] == pytest.approx(FOCAL_PX, rel=0.003)
    # The invented camera's centre is at half the size, (0, 0) being a pixel's centre.
    assert camera["cx"] == pytest.approx(PHOTO_SIZE[0] / 2, abs=3)
    assert held["covariance"]["of"][0] == "ln f"
    result = tmp_path / "result.json"
    assert main(["measure", str(flat), "--camera", str(out), "--out", str(result)]) == 0
    warnings = json.loads(result.read_text("utf-8"))["photos"][0]["warnings"]
    assert not any("focal length" in warning for warning in warnings)


def test_a_wrong_profile_is_contradicted_by_the_card(flat: Path, tmp_path: Path) -> None:
    (flat.parent / "flat.jpg").write_bytes(card_photo(turned_deg=(14.0, 8.0)))
    profile, result = tmp_path / "zoomed.json", tmp_path / "result.json"
    camera = {"fx": 1900, "fy": 1900, "cx": 800, "cy": 600, "u_f_rel": 0.003, "dist": [0.0]}
    profile.write_text(json.dumps({"camera": camera}))
    assert main(["measure", str(flat), "--camera", str(profile), "--out", str(result)]) == 0
    document = json.loads(result.read_text("utf-8"))
    assert any("zoomed or cropped" in w for w in document["photos"][0]["warnings"])


def refused(capsys: pytest.CaptureFixture[str], arguments: list[str], status: int) -> str:
    assert main(arguments) == status
    said = capsys.readouterr()
    assert said.out == ""
    assert "Traceback" not in said.err
    return said.err


def test_photos_that_give_no_lens_write_nothing(
    tilted: list[Path], flat: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    out = tmp_path / "phone.json"
    to = ["--out", str(out)]
    assert "at least 3" in refused(capsys, ["camera", str(tilted[0]), *to], 3)
    same = [str(tilted[0])] * 3
    assert "0 degrees apart" in refused(capsys, ["camera", *same, *to], 3)
    small = tmp_path / "small.jpg"
    small.write_bytes(card_photo((1500, 1200)))
    mixed = [str(tilted[0]), str(tilted[1]), str(small)]
    assert "another phone" in refused(capsys, ["camera", *mixed, *to], 2)
    refused(capsys, ["camera", str(flat), *to], 2)
    refused(capsys, ["camera", *map(str, tilted), "--out", str(tmp_path / "phone.txt")], 2)
    assert not out.exists()


def test_card_check_says_flat_and_lengths(
    tilted: list[Path], flat: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    assert main(["card-check", str(tilted[0])]) == 0
    said = capsys.readouterr().out
    assert "as a flat card has them" in said
    assert "5 to 20 mm: RMS 0.0" in said
    assert "calipers" in said
    refused(capsys, ["card-check", str(flat)], 2)
    blank = flat.parent / "gone.jpg"
    refused(capsys, ["card-check", str(blank)], 2)
