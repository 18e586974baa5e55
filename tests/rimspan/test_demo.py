"""The demo: what it lays out, where it refuses, and that it is invented."""

from __future__ import annotations

import json
from pathlib import Path

import pytest

from rimspan.cli import main
from rimspan.clientfile import ClientFile
from rimspan.demo.client import CLIENTS, CONFIRMED, PIERCER
from rimspan.demo.lay_out import SIGN, SIGN_WORDS, samples
from sample_images.to_demo import SHIPPED, shipped_files


@pytest.fixture(scope="module")
def demo(tmp_path_factory: pytest.TempPathFactory) -> Path:
    folder = tmp_path_factory.mktemp("demo") / "into"
    assert main(["demo", "--into", str(folder)]) == 0
    return folder


def content(folder: Path) -> dict[str, bytes]:
    return {p.relative_to(folder).as_posix(): p.read_bytes() for p in folder.rglob("*.j*")}


def test_the_shipped_samples_are_the_sample_images() -> None:
    """Where this fails after rendering anew: python -m sample_images.to_demo."""
    packaged = {
        f"{ear.name}/{found.name}": found.read_bytes()
        for ear in samples().iterdir()
        for found in ear.iterdir()
    }
    assert packaged == shipped_files()


def test_photos_and_marks_are_laid_out(demo: Path) -> None:
    for name, data in shipped_files().items():
        assert (demo / "samples" / name).read_bytes() == data


def test_the_folder_says_that_nothing_in_it_is_real(demo: Path) -> None:
    assert (demo / SIGN).read_text("utf-8").startswith(SIGN_WORDS)
    for ear in SHIPPED:
        marks = json.loads((demo / "samples" / ear / "marks.json").read_text("utf-8"))
        assert "rendered" in marks["x_note"]


def test_the_client_file_holds_drafts_and_one_confirmed_revision(demo: Path) -> None:
    file = ClientFile.open(demo)
    try:
        clients = {client.name: client for client in file.clients()}
        assert set(clients) == set(CLIENTS)
        assert all("invented" in name for name in clients)
        revisions = {name: file.revisions(client.id) for name, client in clients.items()}
        assert {name: len(found) for name, found in revisions.items()} == {
            name: int(name == CONFIRMED) for name in CLIENTS
        }
        for client in clients.values():
            assert file.draft(client.id, "left") or file.draft(client.id, "right")
        assert file.verify() == []
        assert not file.sealed
    finally:
        file.close()
    assert "invented" in PIERCER


def test_laid_out_again_it_changes_nothing(demo: Path) -> None:
    marks = demo / "samples" / "flat" / "marks.json"
    before, kept = content(demo), marks.read_bytes()
    marks.write_text("{}", encoding="utf-8")
    assert main(["demo", "--into", str(demo)]) == 0
    assert marks.read_text("utf-8") == "{}"
    marks.write_bytes(kept)
    assert content(demo) == before
    file = ClientFile.open(demo)
    try:
        assert len(file.clients()) == len(CLIENTS)
    finally:
        file.close()


@pytest.mark.parametrize("there", ["notes.txt", "README.txt"])
def test_a_folder_that_isnt_a_demo_is_refused(
    tmp_path: Path, capsys: pytest.CaptureFixture[str], there: str
) -> None:
    (tmp_path / there).write_text("mine", encoding="utf-8")
    assert main(["demo", "--into", str(tmp_path)]) == 2
    assert "isn't the demo" in capsys.readouterr().err
    assert [p.name for p in tmp_path.iterdir()] == [there]


def test_a_file_is_refused(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    (tmp_path / "file").write_text("mine", encoding="utf-8")
    assert main(["demo", "--into", str(tmp_path / "file")]) == 2
    assert capsys.readouterr().err.count("\n") == 1


def test_a_laid_out_sample_measures(demo: Path, capsys: pytest.CaptureFixture[str]) -> None:
    marks = demo / "samples" / "pronounced" / "marks-examined.json"
    assert main(["measure", str(marks)]) == 0
    assert "The rim supports this placement" in capsys.readouterr().out
