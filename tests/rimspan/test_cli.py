"""The command line: what it writes, what it says, and its exit status."""

from __future__ import annotations

import io
import json
import os
import subprocess
import sys
from pathlib import Path
from typing import Any

import jsonschema
import pypdfium2
import pytest
from PIL import Image

import assess
from rimspan import __version__, cli
from rimspan.cli import main

SCHEMA = json.loads(Path(assess.__file__).with_name("result.schema.json").read_text("utf-8"))


def refused(
    capsys: pytest.CaptureFixture[str], arguments: list[str | Path], status: int = 2
) -> str:
    """Return the one line of a refusal."""
    assert main([str(a) for a in arguments]) == status
    caught = capsys.readouterr()
    assert caught.out == ""
    lines = caught.err.splitlines()
    assert len(lines) == 1, caught.err
    assert "Traceback" not in caught.err
    return lines[0]


def written(folder: Path) -> set[str]:
    return {p.relative_to(folder).as_posix() for p in folder.rglob("*") if p.is_file()}


def changed(flat: Path, **changes: Any) -> Path:
    """Write the marks again with other values, and return the file."""
    document = json.loads(flat.read_text("utf-8")) | changes
    flat.write_text(json.dumps(document), encoding="utf-8")
    return flat


class TestCommandLine:
    @pytest.mark.parametrize("arguments", [[], ["weigh"], ["card"], ["card", "--size", "a5"]])
    def test_a_wrong_call_gets_one_line(
        self, capsys: pytest.CaptureFixture[str], arguments: list[str | Path]
    ) -> None:
        assert "--help" in refused(capsys, arguments)

    def test_help_and_version_are_no_faults(self, capsys: pytest.CaptureFixture[str]) -> None:
        assert main(["--version"]) == 0
        assert capsys.readouterr().out.strip() == f"rimspan {__version__}"
        assert main(["measure", "--help"]) == 0
        assert "--confirm" in capsys.readouterr().out

    def test_a_fault_of_its_own_is_logged_and_told_in_one_line(
        self,
        tmp_path: Path,
        monkeypatch: pytest.MonkeyPatch,
        capsys: pytest.CaptureFixture[str],
    ) -> None:
        def broken(_: object) -> str:
            raise RuntimeError("the cause")

        monkeypatch.setattr(cli, "user_log_path", lambda *_, **__: tmp_path / "log")
        monkeypatch.setattr(cli, "_command", lambda _: broken)
        said = refused(capsys, ["demo", "--into", tmp_path / "demo"], status=70)
        assert str(tmp_path / "log" / "rimspan.log") in said
        assert "the cause" in (tmp_path / "log" / "rimspan.log").read_text("utf-8")
        assert not (tmp_path / "demo").exists()

    def test_the_module_is_the_same_command(self) -> None:
        done = subprocess.run(
            [sys.executable, "-m", "rimspan", "card", "--size", "a4", "--out", "x.gif"],
            capture_output=True,
            text=True,
            check=False,
        )
        assert done.returncode == 2
        assert done.stderr.count("\n") == 1
        assert done.stdout == ""

    def test_a_reader_that_leaves_early_is_no_fault(self) -> None:
        done = subprocess.run(
            ["bash", "-c", f"'{sys.executable}' -m rimspan --help | true; echo ${{PIPESTATUS[0]}}"],
            capture_output=True,
            text=True,
            check=False,
            env={**os.environ, "PYTHONUNBUFFERED": "1"},
        )
        assert done.stdout.strip() in {"0", "141"}
        assert "Traceback" not in done.stderr


class TestCard:
    @pytest.mark.parametrize("size", ["a4", "letter", "pocket"])
    @pytest.mark.parametrize("suffix", ["pdf", "svg", "png"])
    def test_the_card_is_written_and_told(
        self, tmp_path: Path, capsys: pytest.CaptureFixture[str], size: str, suffix: str
    ) -> None:
        out = tmp_path / f"card.{suffix}"
        assert main(["card", "--size", size, "--out", str(out), "--dpi", "150"]) == 0
        told = json.loads(capsys.readouterr().out)
        pocket = size == "pocket"
        assert told == {
            "card": "rimspan-pocket-1" if pocket else "rimspan-frame-1",
            "width_mm": 85.6 if pocket else 138,
            "height_mm": 53.98 if pocket else 111,
            "dpi": 150,
        }
        assert out.stat().st_size > 1000

    def test_a_png_has_the_size_its_dpi_says(self, tmp_path: Path) -> None:
        out = tmp_path / "card.png"
        assert main(["card", "--size", "a4", "--out", str(out), "--dpi", "127"]) == 0
        with Image.open(out) as card:
            assert card.size == (690, 555)  # 138 x 111 mm at 5 px to the millimetre

    @pytest.mark.parametrize("dpi", ["0", "-5", "49", "100000", "six", "1e3", "nan"])
    def test_a_bad_dpi_is_refused(
        self, tmp_path: Path, capsys: pytest.CaptureFixture[str], dpi: str
    ) -> None:
        out = tmp_path / "card.png"
        assert "dpi" in refused(capsys, ["card", "--size", "a4", "--out", out, f"--dpi={dpi}"])
        assert written(tmp_path) == set()

    @pytest.mark.parametrize("name", ["card.gif", "card", "gone/card.png", "."])
    def test_a_place_it_cant_write_to_is_refused(
        self, tmp_path: Path, capsys: pytest.CaptureFixture[str], name: str
    ) -> None:
        refused(capsys, ["card", "--size", "a4", "--out", tmp_path / name])
        assert written(tmp_path) == set()


class TestMeasure:
    def test_the_result_goes_to_its_file_and_the_table_to_the_screen(
        self, flat: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
    ) -> None:
        out, drawn = tmp_path / "result.json", tmp_path / "plot.png"
        assert main(["measure", str(flat), "--out", str(out), "--plot", str(drawn)]) == 0
        caught = capsys.readouterr()
        assert caught.err == ""
        result = json.loads(out.read_bytes())
        jsonschema.validate(result, SCHEMA)
        channel = result["placements"][0]["channel"]
        # Both marks lie 7 mm apart in the card's plane.
        assert abs(channel["value"] - 7.0) < 3 * channel["u"]
        assert abs(channel["value"] - 7.0) < 0.15
        assert result["placements"][0]["method"] == "one_view"
        assert result["judgement"]["confirmed_by"] is None
        assert "7.01 mm, between" in caught.out
        assert "Not confirmed" in caught.out
        with Image.open(drawn) as picture:
            assert picture.width == 1600

    def test_a_dash_puts_the_json_alone_on_standard_output(
        self, flat: Path, capsys: pytest.CaptureFixture[str]
    ) -> None:
        assert main(["measure", str(flat), "--out", "-"]) == 0
        jsonschema.validate(json.loads(capsys.readouterr().out), SCHEMA)

    def test_the_json_is_utf_8_whatever_the_machine_is_set_to(self, flat: Path) -> None:
        document = json.loads(flat.read_text("utf-8"))
        document["photos"][0]["placements"][0]["label"] = "Ünal 你好"
        changed(flat, photos=document["photos"], examined={})
        done = subprocess.run(
            [sys.executable, "-m", "rimspan", "measure", str(flat), "--out", "-"],
            capture_output=True,
            check=False,
            env={**os.environ, "PYTHONIOENCODING": "ascii"},
        )
        assert done.returncode == 0, done.stderr
        assert json.loads(done.stdout.decode("utf-8"))["placements"][0]["label"] == "Ünal 你好"

    def test_the_same_input_and_seed_give_the_same_bytes(self, flat: Path, tmp_path: Path) -> None:
        for name in ("a", "b"):
            files = [
                "--out",
                str(tmp_path / f"{name}.json"),
                "--plot",
                str(tmp_path / f"{name}.png"),
            ]
            assert main(["measure", str(flat), *files, "--seed", "7"]) == 0
        for suffix in ("json", "png"):
            first, second = (tmp_path / f"{name}.{suffix}" for name in ("a", "b"))
            assert first.read_bytes() == second.read_bytes()
        text = (tmp_path / "a.json").read_text("utf-8")
        assert str(tmp_path) not in text
        assert json.loads(text)["seed"] == 7

    def test_another_seed_moves_the_draws_only(self, flat: Path, tmp_path: Path) -> None:
        values = []
        for seed in ("1", "2"):
            out = tmp_path / f"{seed}.json"
            assert main(["measure", str(flat), "--out", str(out), "--seed", seed]) == 0
            values.append(json.loads(out.read_bytes())["placements"][0]["channel"]["value"])
        assert values[0] != values[1]
        assert values[0] == pytest.approx(values[1], abs=0.01)

    def test_confirmed_by_name_it_makes_a_report(
        self, flat: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
    ) -> None:
        out, sheet = tmp_path / "result.json", tmp_path / "sheet.pdf"
        name = "Demo Piercer (invented)"
        command = ["measure", str(flat), "--confirm", name, "--report", str(sheet)]
        assert main([*command, "--out", str(out)]) == 0
        assert f"Confirmed by {name}" in capsys.readouterr().out
        assert json.loads(out.read_bytes())["judgement"]["confirmed_by"] == name
        document = pypdfium2.PdfDocument(io.BytesIO(sheet.read_bytes()))
        try:
            text = document[0].get_textpage().get_text_range()
            assert len(document) == 1
        finally:
            document.close()
        assert f"Decided by {name}" in text
        assert "7.01 mm, between" in text

    @pytest.mark.parametrize("confirmation", [[], ["--confirm", ""], ["--confirm", "  "]])
    def test_a_report_without_a_piercer_is_refused(
        self,
        flat: Path,
        tmp_path: Path,
        capsys: pytest.CaptureFixture[str],
        confirmation: list[str | Path],
    ) -> None:
        before = written(tmp_path)
        command = [
            "measure",
            flat,
            "--report",
            tmp_path / "sheet.pdf",
            "--out",
            tmp_path / "r.json",
        ]
        assert "confirm" in refused(capsys, [*command, *confirmation])
        assert written(tmp_path) == before

    def test_a_profile_gives_the_camera(self, flat: Path, tmp_path: Path) -> None:
        profile = tmp_path / "phone.json"
        camera = {"fx": 1500, "fy": 1500, "cx": 800, "cy": 600, "u_f_rel": 0.001, "dist": [0.0]}
        profile.write_text(json.dumps({"camera": camera, "made": "anywhere"}))
        plain, given = tmp_path / "plain.json", tmp_path / "given.json"
        assert main(["measure", str(flat), "--out", str(plain)]) == 0
        assert main(["measure", str(flat), "--camera", str(profile), "--out", str(given)]) == 0
        distances = [
            json.loads(path.read_bytes())["photos"][0]["distance_mm"] for path in (plain, given)
        ]
        assert distances[0] != distances[1]
        assert distances[1] == pytest.approx(280, abs=2)


class TestRefusals:
    @pytest.mark.parametrize(
        ("options", "said"),
        [
            (["--plot", "picture.jpg"], ".png"),
            (["--report", "sheet.png", "--confirm", "A"], ".pdf"),
            (["--seed", "-1"], "seed"),
            (["--seed", "one"], "seed"),
            (["--camera", "gone.json"], "gone.json"),
            (["--out", "gone/r.json"], "gone"),
            (["--out", "in"], "folder"),
            (["--out", "in/marks.json"], "overwrite"),
            (["--plot", "x.png", "--out", "x.png"], "another output"),
        ],
    )
    def test_a_bad_option_is_refused_and_nothing_written(
        self,
        flat: Path,
        tmp_path: Path,
        monkeypatch: pytest.MonkeyPatch,
        capsys: pytest.CaptureFixture[str],
        options: list[str | Path],
        said: str,
    ) -> None:
        monkeypatch.chdir(tmp_path)
        before = written(tmp_path)
        assert said in refused(capsys, ["measure", flat, *options])
        assert written(tmp_path) == before

    @pytest.mark.parametrize(
        "profile",
        [
            "[]",
            "{}",
            '{"camera": 1}',
            '{"camera": {"fx": -1}}',
            '{"camera": {"focal": 1}}',
            "nonsense",
            '{"camera": {"fx":',
        ],
    )
    def test_a_bad_profile_is_refused(
        self, flat: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str], profile: str
    ) -> None:
        path = tmp_path / "profile.json"
        path.write_text(profile)
        assert main(["measure", str(flat), "--camera", str(path)]) == 2
        lines = capsys.readouterr().err.splitlines()
        assert lines
        assert all("profile.json" in line for line in lines)

    def test_marks_that_are_not_there_or_a_folder(
        self, tmp_path: Path, capsys: pytest.CaptureFixture[str]
    ) -> None:
        assert "no such file" in refused(capsys, ["measure", tmp_path / "gone.json"])
        assert "folder" in refused(capsys, ["measure", tmp_path])

    def test_an_unknown_name_is_refused_with_the_nearest(
        self, flat: Path, capsys: pytest.CaptureFixture[str]
    ) -> None:
        said = refused(capsys, ["measure", changed(flat, rim_plain={})])
        assert "marks.json" in said
        assert "rim_plane" in said

    def test_an_unknown_card_is_refused(
        self, flat: Path, capsys: pytest.CaptureFixture[str]
    ) -> None:
        said = refused(capsys, ["measure", changed(flat, card={"id": "rimspan-frame-9"})])
        assert "card.id" in said
        assert "rimspan-frame-1" in said

    def test_an_empty_stock_list_is_refused(
        self, flat: Path, capsys: pytest.CaptureFixture[str]
    ) -> None:
        assert "posts" in refused(capsys, ["measure", changed(flat, posts=[])])

    def test_not_a_number_is_refused(self, flat: Path, capsys: pytest.CaptureFixture[str]) -> None:
        changed(flat, rim_plane={"offset_mm": float("nan")})
        assert "NaN" in refused(capsys, ["measure", flat])

    def test_marks_outside_the_photo_are_refused(
        self, flat: Path, capsys: pytest.CaptureFixture[str]
    ) -> None:
        document = json.loads(flat.read_text("utf-8"))
        document["photos"][0]["placements"][0]["entry"] = [5000, 10]
        said = refused(capsys, ["measure", changed(flat, photos=document["photos"])])
        assert "entry" in said

    @pytest.mark.parametrize(
        ("content", "said"),
        [
            (b"just text", "flat.jpg"),
            (b"", "flat.jpg"),
            (
                b"\x89PNG\r\n\x1a\n\x00\x00\x00\rIHDR\x00\x00\xea\x60\x00\x00\xea\x60\x08\x02\x00"
                b"\x00\x00\x7f\x1c\x4c\x5f\x00\x00\x00\x00IEND\xaeB`\x82",
                "flat.jpg",
            ),
        ],
        ids=["text", "empty", "60000 x 60000"],
    )
    def test_a_photo_that_is_none_is_refused(
        self,
        flat: Path,
        tmp_path: Path,
        capsys: pytest.CaptureFixture[str],
        content: bytes,
        said: str,
    ) -> None:
        (flat.parent / "flat.jpg").write_bytes(content)
        before = written(tmp_path)
        assert said in refused(capsys, ["measure", flat, "--out", tmp_path / "r.json"])
        assert written(tmp_path) == before

    def test_a_truncated_photo_is_refused(
        self, flat: Path, flat_photo: bytes, capsys: pytest.CaptureFixture[str]
    ) -> None:
        (flat.parent / "flat.jpg").write_bytes(flat_photo[: len(flat_photo) // 2])
        assert "flat.jpg" in refused(capsys, ["measure", flat])

    def test_a_missing_photo_is_named_with_its_field(
        self, flat: Path, capsys: pytest.CaptureFixture[str]
    ) -> None:
        (flat.parent / "flat.jpg").unlink()
        said = refused(capsys, ["measure", flat])
        assert "photos[0].file: flat.jpg: there is no such file" in said

    def test_a_photo_without_a_card_is_status_3(
        self, flat: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
    ) -> None:
        Image.new("RGB", (1600, 1200), (190, 150, 125)).save(flat.parent / "flat.jpg")
        before = written(tmp_path)
        said = refused(capsys, ["measure", flat, "--out", tmp_path / "r.json"], status=3)
        assert "card" in said
        assert written(tmp_path) == before

    def test_nothing_marked_is_status_2(
        self, flat: Path, capsys: pytest.CaptureFixture[str]
    ) -> None:
        refused(capsys, ["measure", changed(flat, photos=[{"file": "flat.jpg"}], examined={})])
