"""What people typed is shown as text, on every way out."""

from __future__ import annotations

import json
from pathlib import Path

import pytest
from markdown_it import MarkdownIt

from rimspan.cli import main
from rimspan.clientfile import ClientFile, export_client
from rimspan.typed import JOINER, in_markdown, shown

HOSTILE = [
    "<script>alert(1)</script>",
    "<img src=x onerror=alert(1)>",
    "[click](javascript:alert(1))",
    "![x](https://elsewhere.example/x.png)",
    "https://elsewhere.example www.elsewhere.example a@elsewhere.example",
    "**bold** _it_ ~~gone~~ `code` $x^2$ :smile: :material/home: :red[x]",
    "=HYPERLINK(1) +1 -1 @SUM(1)",
    "# head",
    "1. one",
    "12) twelve",
    "- item",
    "> said",
    "&lt;b&gt; \\ a|b",
    "../../../etc/passwd",
    "C:\\Windows\\x",
    "x" * 65_536,
]


@pytest.mark.parametrize("typed", HOSTILE, ids=lambda typed: typed[:20])
def test_a_reader_of_markdown_finds_nothing_but_the_text(typed: str) -> None:
    """By markdown-it, another implementation of CommonMark, with tables and strikethrough."""
    reader = MarkdownIt("commonmark", {"html": True}).enable(["table", "strikethrough"])
    for block in ("{}", "# {}", "Confirmed by {}, measured by {}."):
        tokens = reader.parse(block.replace("{}", in_markdown(typed)))
        assert {token.type for token in tokens} <= {
            *("paragraph_open", "inline", "paragraph_close", "heading_open", "heading_close")
        }
        parts = [part for token in tokens for part in token.children or []]
        assert {part.type for part in parts} <= {"text", "text_special"}
        read = "".join(part.content for part in parts).replace(JOINER, "")
        assert read == block.removeprefix("# ").replace("{}", typed)


def test_what_steers_a_page_is_named() -> None:
    assert shown("a\u202eb\u2066c\x1b[31md\x00\n\ne") == (
        "a[U+202E]b[U+2066]c[U+001B][31md[U+0000] e"
    )
    assert shown("Ana María Ωmega 李 עברית") == "Ana María Ωmega 李 עברית"


def test_names_steer_no_terminal(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    monkeypatch.setenv("RIMSPAN_STORE", str(tmp_path / "store"))
    with ClientFile.open(tmp_path / "store") as file:
        made = file.create_client("Bad\x1b]0;title\x07\n00000000  Other \u202e(invented)")
    assert main(["file", "clients"]) == 0
    (line,) = capsys.readouterr().out.splitlines()
    assert line == f"{made.id}  Bad[U+001B]]0;title[U+0007] 00000000 Other [U+202E](invented)"


def test_an_export_takes_no_file_name_from_what_was_typed(
    tmp_path: Path, flat_photo: bytes
) -> None:
    out = tmp_path / "out"
    with ClientFile.open(tmp_path / "store") as file:
        client = file.create_client("../../up (invented)", "n" * 65_536).id
        file.add_photo(client, flat_photo, "../../../up.jpg", "left")
        export_client(file, client, out)
    assert {p.name for p in tmp_path.iterdir()} == {"store", "out"}
    assert not [p for p in tmp_path.rglob("*") if p.name.startswith("up")]
    held = json.loads((out / "client.json").read_text("utf-8"))
    assert (held["name"], len(held["note"])) == ("../../up (invented)", 65_536)
