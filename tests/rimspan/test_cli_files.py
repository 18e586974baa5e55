"""Files in and out: one line for each fault, and outputs all together or not at all."""

from __future__ import annotations

from pathlib import Path

import pytest

from rimspan.commands.files import CommandRefusedError, Outputs, checked_suffix, read_input


def line(caught: pytest.ExceptionInfo[CommandRefusedError]) -> str:
    said = str(caught.value)
    assert "\n" not in said
    assert caught.value.exit_status == 2
    return said


def test_a_missing_file_is_named(tmp_path: Path) -> None:
    with pytest.raises(CommandRefusedError) as caught:
        read_input(tmp_path / "gone.json")
    assert "gone.json: there is no such file" in line(caught)


def test_a_folder_is_no_file(tmp_path: Path) -> None:
    with pytest.raises(CommandRefusedError) as caught:
        read_input(tmp_path)
    assert "is a folder" in line(caught)


def test_a_name_that_no_file_can_have_is_refused() -> None:
    with pytest.raises(CommandRefusedError) as caught:
        read_input(Path("a\0b"))
    assert "no file name" in line(caught)


@pytest.mark.parametrize(("name", "ending"), [("card.gif", "'.gif'"), ("card", "no suffix")])
def test_another_suffix_is_refused_with_those_it_takes(name: str, ending: str) -> None:
    with pytest.raises(CommandRefusedError) as caught:
        checked_suffix(Path(name), (".pdf", ".png"), "--out")
    said = line(caught)
    assert ending in said
    assert ".pdf or .png" in said


def test_a_suffix_in_capitals_is_taken() -> None:
    assert checked_suffix(Path("CARD.PDF"), (".pdf",), "--out") == ".pdf"


@pytest.mark.parametrize("name", ["", "gone/x.png"])
def test_a_folder_or_a_missing_folder_is_refused_early(tmp_path: Path, name: str) -> None:
    with pytest.raises(CommandRefusedError) as caught:
        Outputs().claim(tmp_path / name, "--plot")
    assert "--plot" in line(caught)


def test_an_input_is_never_overwritten(tmp_path: Path) -> None:
    marks = tmp_path / "marks.json"
    marks.write_text("{}")
    (tmp_path / "link.json").symlink_to(marks)
    for name in ("marks.json", "link.json", "./marks.json"):
        with pytest.raises(CommandRefusedError) as caught:
            Outputs((marks,)).claim(tmp_path / name, "--out")
        assert "overwrite an input" in line(caught)


def test_two_outputs_need_two_names(tmp_path: Path) -> None:
    outputs = Outputs()
    outputs.claim(tmp_path / "a.png", "--plot")
    with pytest.raises(CommandRefusedError) as caught:
        outputs.claim(tmp_path / "a.png", "--out")
    assert "another output" in line(caught)


def test_everything_is_written_with_nothing_left_beside(tmp_path: Path) -> None:
    outputs = Outputs()
    (tmp_path / "a.json").write_bytes(b"old")
    outputs.add(tmp_path / "a.json", b"new")
    outputs.add(tmp_path / "b.png", b"picture")
    outputs.write()
    assert {p.name: p.read_bytes() for p in tmp_path.iterdir()} == {
        "a.json": b"new",
        "b.png": b"picture",
    }


def test_where_one_fails_none_is_written(tmp_path: Path) -> None:
    outputs = Outputs()
    outputs.add(tmp_path / "a.json", b"new")
    outputs.add(tmp_path / "gone" / "b.png", b"picture")
    with pytest.raises(CommandRefusedError) as caught:
        outputs.write()
    assert "b.png" in line(caught)
    assert list(tmp_path.iterdir()) == []


def test_a_link_is_followed_and_stays(tmp_path: Path) -> None:
    (tmp_path / "real.json").write_bytes(b"old")
    (tmp_path / "link.json").symlink_to(tmp_path / "real.json")
    outputs = Outputs()
    outputs.add(tmp_path / "link.json", b"new")
    outputs.write()
    assert (tmp_path / "link.json").is_symlink()
    assert (tmp_path / "real.json").read_bytes() == b"new"


def test_a_device_is_written_to_and_not_replaced() -> None:
    outputs = Outputs()
    outputs.claim(Path("/dev/null"), "--out")
    outputs.add(Path("/dev/null"), b"gone")
    outputs.write()
    assert Path("/dev/null").is_char_device()
