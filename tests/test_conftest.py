"""The rule that a reference test names its source."""

from __future__ import annotations

import shutil
import subprocess
import sys
from pathlib import Path

import pytest

MARKERS = "-o", "markers=published(source, where)\npractice(note)\nmemory(source)"


def collect(folder: Path, decorator: str, place: str) -> subprocess.CompletedProcess[str]:
    tests = folder / "tests"
    (tests / place).mkdir(parents=True)
    shutil.copy(Path(__file__).with_name("conftest.py"), tests / "conftest.py")
    body = f"import pytest\n\n{decorator}\ndef test_one():\n    assert 1 + 1 == 2\n"
    (tests / place / "test_it.py").write_text(body, encoding="utf-8")
    command = [sys.executable, "-m", "pytest", "-q", "-p", "no:cacheprovider", *MARKERS, "tests"]
    return subprocess.run(command, cwd=folder, capture_output=True, text=True, check=False)


@pytest.mark.parametrize(
    ("decorator", "complaint"),
    [
        ("", "needs one of the markers"),
        ('@pytest.mark.published(source="ISO 216")', "published needs source= and where="),
        ("@pytest.mark.practice()", "practice needs its note"),
        ("@pytest.mark.memory()", "memory needs source="),
    ],
)
def test_a_reference_test_without_its_source_stops_the_collection(
    tmp_path: Path, decorator: str, complaint: str
) -> None:
    done = collect(tmp_path, decorator, "reference")
    assert done.returncode == pytest.ExitCode.USAGE_ERROR
    assert complaint in done.stderr


@pytest.mark.parametrize(
    ("decorator", "place"),
    [
        ('@pytest.mark.published(source="ISO 216", where="table 1")', "reference"),
        ('@pytest.mark.practice("common practice, no source")', "reference"),
        ('@pytest.mark.memory(source="ISO 216")', "reference"),
        ("", "elsewhere"),
    ],
)
def test_a_named_source_or_another_folder_is_collected(
    tmp_path: Path, decorator: str, place: str
) -> None:
    done = collect(tmp_path, decorator, place)
    assert done.returncode == pytest.ExitCode.OK, done.stdout + done.stderr
