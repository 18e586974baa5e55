"""The documents say what is there."""

from __future__ import annotations

import re
import shlex
import tomllib
from pathlib import Path

import pytest

from rimspan.cli import main

ROOT = Path(__file__).resolve().parents[1]
DOCS = ROOT / "docs"
DOCUMENTS = (
    "README.md",
    "DEVELOPERS.md",
    "CHANGELOG.md",
    *sorted(path.relative_to(ROOT).as_posix() for path in DOCS.glob("*.md")),
)


def text(name: str) -> str:
    return (ROOT / name).read_text(encoding="utf-8")


def commands(name: str) -> list[list[str]]:
    """Return the command lines in a document's code blocks and inline code, comments left out."""
    blocks = re.findall(r"^```\w*\n(.*?)^```", text(name), re.MULTILINE | re.DOTALL)
    lines = [line for block in blocks for line in block.splitlines()]
    lines += re.findall(r"`((?:rimspan|python3 start\.py) [^`]+)`", text(name))
    return [split for line in lines if (split := shlex.split(line, comments=True))]


def test_the_two_commands_of_the_readme_exist() -> None:
    asked = [
        command[2] for command in commands("README.md") if command[:2] == ["python3", "start.py"]
    ]
    assert asked == ["demo", "test"]
    source = text("start.py")
    assert 'choices=("demo", "app", "test")' in source


@pytest.mark.parametrize("name", DOCUMENTS)
def test_links_lead_somewhere(name: str) -> None:
    for target in re.findall(r"\]\((?!https?://)([^)#]+)\)", text(name)):
        assert ((ROOT / name).parent / target).exists(), f"{name} -> {target}"


def test_the_pictures_are_those_that_the_command_makes_each_shown_and_small() -> None:
    from benchmarks.pictures import MOST_BYTES, SHOTS

    kept = {path.name: path.stat().st_size for path in (DOCS / "pictures").iterdir()}
    assert set(kept) == {f"{name}.webp" for name in SHOTS}
    assert max(kept.values()) <= MOST_BYTES
    shown = re.findall(r"!\[[^]]+\]\(pictures/([^)]+)\)", text("docs/story.md"))
    assert sorted(shown) == sorted(kept)


def test_every_dependency_has_its_reason() -> None:
    project = tomllib.loads(text("pyproject.toml"))["project"]
    extras = project["optional-dependencies"].values()
    wanted = [*project["dependencies"], *(name for extra in extras for name in extra)]
    names = {re.split(r"[\[<>=~ ]", requirement)[0] for requirement in wanted} - {"rimspan"}
    table = text("DEVELOPERS.md").split("## Why each dependency")[1]
    assert not {name for name in names if not re.search(rf"\b{re.escape(name)}\b", table)}


def test_the_changelog_puts_changed_results_first() -> None:
    for version in re.split(r"^## ", text("CHANGELOG.md"), flags=re.MULTILINE)[1:]:
        headings = re.findall(r"^### (.+)$", version, re.MULTILINE)
        assert headings[0] == "Changed results"


def test_the_accuracy_in_the_readme_is_the_table_s() -> None:
    """The numbers of the honesty section are printed as they stand in the committed table."""
    section = text("README.md").split("## Honesty")[1].split("## ")[0]
    claims = set(re.findall(r"\d+\.\d+(?= %)", section)) | set(re.findall(r"\b\d{4}\b", section))
    assert len(claims) >= 4
    cells = set(re.findall(r"\d+(?:\.\d+)?", text("benchmarks/coverage.md")))
    assert claims <= cells


def test_the_sources_speak_of_the_project_alone() -> None:
    """No machine's paths in what is shipped."""
    suffixes = {".py", ".typ", ".md", ".toml", ".js", ".css", ".html", ".json"}
    folders = ("calibration", "assess", "rimspan", "sample_images", "benchmarks", "docs")
    files = [p for folder in folders for p in (ROOT / folder).rglob("*") if p.suffix in suffixes]
    assert files
    for path in files:
        assert not re.search(r"/(?:work|home|root)/", path.read_text(encoding="utf-8")), path


def test_the_worked_budget_of_the_method_is_what_the_program_prints(
    capsys: pytest.CaptureFixture[str],
) -> None:
    written = re.search(r"### A worked budget\n.*?```text\n(.*?)```", text("docs/method.md"), re.S)
    assert written is not None
    samples = ROOT / "rimspan" / "demo" / "samples"
    assert main(["measure", str(samples / "three" / "marks-examined.json"), "--budget"]) == 0
    printed = capsys.readouterr().out.replace("\u00a0", " ")
    assert written[1].strip() in printed
    # First-order shares as printed add up, but for what is under 1 %.
    shares = [float(share) for share in re.findall(r"  (\d+) %", written[1])]
    assert 97 <= sum(shares) <= 102
    parts = [float(part) for part in re.findall(r"  (\d\.\d\d)  ", written[1])]
    u = re.search(r"By first order u is (\d\.\d\d) mm", written[1])
    assert u is not None
    assert sum(part**2 for part in parts) ** 0.5 == pytest.approx(float(u[1]), abs=0.01)
    # Of several photos, nearly all is the marks of both ends.
    assert main(["measure", str(samples / "pronounced" / "marks-examined.json"), "--budget"]) == 0
    several = capsys.readouterr().out.replace("\u00a0", " ").split("A: channel")[-1]
    marks = re.findall(r"mark of the (?:entry|exit) .*?  (\d+) %", several)
    assert len(marks) == 2
    assert sum(map(float, marks)) >= 97
    assert not re.search("visible band|^ *tilt|^ *offset", several, re.M)
