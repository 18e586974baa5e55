"""Every command that a document shows runs here, or is understood and listed with why it isn't run.

A command is a line in a block of code, but for blocks of what a program prints or reads, or inline
code that begins like one.  One that is of no kind known here fails, so that a new one can't slip
through.  Those of ``rimspan`` run in order, each document's in a folder of its own, as somebody
would who reads along.
"""

from __future__ import annotations

import argparse
import importlib
import json
import re
import shlex
import shutil
import sys
import tomllib
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest
from markdown_it import MarkdownIt

from rimspan.cli import main, parser
from rimspan.clientfile import ClientFile
from rimspan.commands.files import CommandRefusedError
from tests.rimspan.conftest import card_photo

ROOT = Path(__file__).resolve().parents[1]
DOCUMENTS = (
    "README.md",
    "DEVELOPERS.md",
    "sample_images/README.md",
    *sorted(p.relative_to(ROOT).as_posix() for p in (ROOT / "docs").glob("*.md")),
)

NOT_RUN = {
    "rimspan app": "serves until it is stopped; the browser tests start it",
    "rimspan file passphrase": "asks at a terminal; tests/rimspan/test_cli_file.py answers it",
    "rimspan file recover": "asks at a terminal; tests/rimspan/test_cli_file.py answers it",
    "rimspan file recovery-key": "asks at a terminal; tests/rimspan/test_cli_file.py answers it",
    "rimspan file manager": "asks at a terminal; tests/rimspan/test_cli_file.py answers it",
    "python3 start.py": "installs and starts; tests/test_start.py tries it without",
    "python": "renders or reckons for minutes to hours; tests/benchmarks try their parts",
    "pytest": "is what runs this",
    "pip install": "installs; that the project knows the package is looked at",
    "streamlit run": "serves until it is stopped; its options are looked at",
    "createuser": "looks after a PostgreSQL server, which isn't this program's",
    "createdb": "looks after a PostgreSQL server, which isn't this program's",
    "initdb": "looks after a PostgreSQL server, which isn't this program's",
}
"""What is only looked at, by how it begins, and why; whatever else begins with rimspan is run."""

NO_COMMANDS = {"text", "toml", "json"}
"""Languages of blocks that hold none; a block of another one, or of none, holds commands."""

STANDS_FOR = {"N": "400", "NAME": "Demo Piercer (invented)"}
"""What a reader puts in place of a word in capitals; an ID is one of the demo's clients."""

BEGINS = re.compile(
    r"(?:\w+=\S+ )*(?:\S*/)?(?:rimspan|python3?|pip|pytest|streamlit|createuser|createdb|initdb) \S"
)


def lines_of(name: str) -> list[str]:
    """Return the command lines of a document in their order."""
    found: list[str] = []
    for token in MarkdownIt("commonmark").parse((ROOT / name).read_text(encoding="utf-8")):
        if token.type == "code_block" or (
            token.type == "fence" and token.info.strip() not in NO_COMMANDS
        ):
            found += token.content.replace("\\\n", " ").splitlines()
        for part in token.children or ():
            if part.type == "code_inline":
                found += inline(part.content, found)
    return [line for line in found if shlex.split(line, comments=True)]


def inline(code: str, before: list[str]) -> list[str]:
    """Return the command that inline code is, if it is one; an option alone belongs to a module."""
    if BEGINS.match(code):
        return [code]
    if not code.startswith("--") or not before or not before[-1].startswith("python -m"):
        return []
    return [f"{' '.join(before[-1].split()[:3])} {code}"]


def split(line: str) -> tuple[dict[str, str], list[str]]:
    """Return what a line sets, and its words; of the program its name alone."""
    words = shlex.split(line, comments=True)
    settings: dict[str, str] = {}
    while re.match(r"[A-Z_]+=", words[0]):
        name, held = words.pop(0).split("=", 1)
        settings[name] = held
    words[0] = words[0].rsplit("/", 1)[-1]
    return settings, words


def why_not_run(words: list[str]) -> str | None:
    said = f"{' '.join(words)} "
    return next((why for begins, why in NOT_RUN.items() if said.startswith(f"{begins} ")), None)


def all_commands() -> list[tuple[str, str]]:
    return [(name, line) for name in DOCUMENTS for line in lines_of(name)]


@pytest.fixture(scope="module")
def laid_out(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Return a folder with the demo, and the files that a reader has or is told to make."""
    folder = tmp_path_factory.mktemp("docs")
    assert main(["demo", "--into", str(folder / "demo")]) == 0
    marks = json.loads((folder / "demo/samples/pronounced/marks.json").read_text("utf-8"))
    (square,) = [photo for photo in marks["photos"] if photo["file"] == "square-on.jpg"]
    (folder / "taps.json").write_text(json.dumps(square["outer_rim"][::4]), encoding="utf-8")
    for at, turn in enumerate(((24.0, 0.0), (-24.0, 6.0), (0.0, 24.0), (5.0, -24.0)), start=1):
        (folder / f"TILTED-{at}.jpg").write_bytes(card_photo(turned_deg=turn))
    return folder


DONE: list[list[str]] = []
"""What ran."""


def filled(word: str, folder: Path) -> str:
    """Return what stands for a word in capitals."""
    if word == "ID":
        with ClientFile.open(folder / "demo") as file:
            return file.clients()[0].id
    return STANDS_FOR.get(word, word)


def runs(words: list[str], folder: Path) -> None:
    """Run a command of rimspan and hold that it is done."""
    if words[1:3] == ["file", "backup"]:
        (folder / words[3]).unlink(missing_ok=True)
    assert main([filled(word, folder) for word in words[1:]]) == 0, words


@pytest.mark.parametrize("name", DOCUMENTS)
def test_the_commands_of_a_document_run_in_their_order(
    name: str, laid_out: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    lines = [split(line) for line in lines_of(name)]
    asked = [(settings, w) for settings, w in lines if w[0] == "rimspan" and not why_not_run(w)]
    if not asked:
        return
    folder = tmp_path / "reader"
    shutil.copytree(laid_out, folder)
    monkeypatch.chdir(folder)
    monkeypatch.setenv("RIMSPAN_STORE", "demo")
    monkeypatch.delenv("RIMSPAN_PASSPHRASE")
    if any("--backup" in words for _, words in asked):
        assert main(["file", "backup", "FILE"]) == 0
    for settings, words in asked:
        if words in DONE and words[1] not in {"demo", "file"}:
            continue  # it ran for another document
        DONE.append(words)
        with monkeypatch.context() as here:
            for setting, held in settings.items():
                here.setenv(setting, held)
            runs(words, folder)


class UnderstoodError(Exception):
    """The command line was read to its end."""


def understood_module(words: list[str], monkeypatch: pytest.MonkeyPatch) -> None:
    """Hold that a module takes those arguments, without running it."""
    assert words[1] == "-m"
    module = importlib.import_module(words[2])
    source = Path(str(module.__file__)).read_text(encoding="utf-8")
    assert '__name__ == "__main__"' in source, words
    if "ArgumentParser" not in source:
        assert words[3:] == [], words
        return
    parse = argparse.ArgumentParser.parse_known_args

    def and_no_more(self: Any, *given: Any) -> None:
        _, left = parse(self, *given)
        assert not left or "parse_known_args" in source, left
        raise UnderstoodError

    monkeypatch.setattr(argparse.ArgumentParser, "parse_known_args", and_no_more)
    monkeypatch.setattr(sys, "argv", words[2:])
    with pytest.raises(UnderstoodError):
        module.main()


def understood_pip(words: list[str], _: pytest.MonkeyPatch) -> None:
    project = tomllib.loads((ROOT / "pyproject.toml").read_text("utf-8"))["project"]
    extras = project["optional-dependencies"]
    for wanted in words[2:]:
        name, extra = re.match(r"([\w.-]+)(?:\[(\w+)\])?", wanted).groups()  # type: ignore[union-attr]
        if name == "rimspan":
            assert extra in extras
        else:  # named by the project, or told to be left out of it and why
            known = [*project["dependencies"], *(each for held in extras.values() for each in held)]
            said = (ROOT / "DEVELOPERS.md").read_text("utf-8").split("## Layers")[1]
            assert any(each.startswith(name) for each in known) or f"asks {name}" in said


def understood_streamlit(words: list[str], _: pytest.MonkeyPatch) -> None:
    from streamlit import config

    assert (ROOT / words[2]).is_file()
    for option in words[3:]:
        assert config.get_option(option.removeprefix("--").split("=")[0]) is not NotImplemented


def understood_rimspan(words: list[str], _: pytest.MonkeyPatch) -> None:
    told = [STANDS_FOR.get(word, word) for word in words[1:]]
    assert parser().parse_args(told).command == words[1]


def understood_start(words: list[str], _: pytest.MonkeyPatch) -> None:
    assert words[2] in {"demo", "app", "test"}
    assert len(words) == 3


def understood_pytest(words: list[str], _: pytest.MonkeyPatch) -> None:
    assert all((ROOT / word).exists() for word in words[1:])


def understood_elsewhere(words: list[str], _: pytest.MonkeyPatch) -> None:
    assert all(re.fullmatch(r"--[a-z-]+|rimspan", word) for word in words[1:])


UNDERSTOOD: dict[str, Callable[[list[str], pytest.MonkeyPatch], None]] = {
    "rimspan": understood_rimspan,
    "python3": understood_start,
    "python": understood_module,
    "pip": understood_pip,
    "pytest": understood_pytest,
    "streamlit": understood_streamlit,
    "createuser": understood_elsewhere,
    "createdb": understood_elsewhere,
    "initdb": understood_elsewhere,
}


@pytest.mark.parametrize(("name", "line"), all_commands())
def test_every_command_is_understood(name: str, line: str, monkeypatch: pytest.MonkeyPatch) -> None:
    _, words = split(line)
    known = UNDERSTOOD.get(words[0])
    assert known is not None, f"{name} shows {line!r}: run it here, or say why not"
    if words[0] != "rimspan":
        assert why_not_run(words), f"{name} shows {line!r}: say in NOT_RUN why it isn't run"
    known(words, monkeypatch)


def test_a_new_command_can_t_slip_through(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    page = tmp_path / "page.md"
    page.write_text("Try `rimspan conjure`.\n\n```sh\nconjure --now\n```\n", encoding="utf-8")
    lines = lines_of(str(page))
    assert lines == ["rimspan conjure", "conjure --now"]
    for line in lines:
        with pytest.raises((AssertionError, CommandRefusedError)):
            test_every_command_is_understood("page.md", line, monkeypatch)


def test_every_command_of_rimspan_is_in_the_readme() -> None:
    shown = {w[1] for _, w in map(split, lines_of("README.md")) if w[0] == "rimspan"}
    acts = next(each for each in parser()._actions if each.dest == "command").choices
    assert shown == set(acts or ())
