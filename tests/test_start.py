"""``start.py``: when it refuses, and when it leaves the environment alone."""

from __future__ import annotations

import ast
import runpy
from pathlib import Path
from typing import Any

import pytest

ROOT = Path(__file__).resolve().parents[1]


@pytest.fixture(scope="module")
def start() -> dict[str, Any]:
    return runpy.run_path(str(ROOT / "start.py"), run_name="start")


def test_an_old_python_gets_a_sentence(start: dict[str, Any]) -> None:
    said = start["obstacle"]((3, 9, 2), True)
    assert "Python 3.9.2" in said
    assert "3.11" in said


def test_a_python_without_venv_is_told_what_to_install(start: dict[str, Any]) -> None:
    assert "python3-venv" in start["obstacle"]((3, 11, 2), False)


def test_a_good_python_is_let_through(start: dict[str, Any]) -> None:
    assert start["obstacle"]((3, 11, 0), True) is None
    assert start["obstacle"]((3, 14, 1), True) is None


def test_old_pythons_can_read_the_file() -> None:
    text = (ROOT / "start.py").read_text(encoding="utf-8")
    assert ast.parse(text, feature_version=(3, 7))


@pytest.mark.parametrize(
    ("made_with", "asked", "right"),
    [("", "", True), ("test", "test", True), ("test", "", True), ("", "test", False)],
)
def test_more_extras_than_asked_for_will_do(
    start: dict[str, Any], made_with: str, asked: str, right: bool
) -> None:
    assert start["is_right"](start["wanted"](made_with), start["wanted"](asked)) is right


@pytest.mark.parametrize("name", ["folder", "python", "project"])
def test_a_changed_project_or_place_is_prepared_again(start: dict[str, Any], name: str) -> None:
    stamp = {**start["wanted"]("test"), name: "another"}
    assert not start["is_right"](stamp, start["wanted"]("test"))
    assert not start["is_right"](None, start["wanted"]("test"))
