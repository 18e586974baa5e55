"""The pages as such: no script, a style sheet that its policy lets in, contrast, targets."""

from __future__ import annotations

import base64
import hashlib
import re
from html.parser import HTMLParser

import pytest

from rimspan.phone_link import Brought, End
from rimspan.screens.phone import words

PAGES = {
    "form": words.form(),
    "refused": words.form(["a.jpg: The file is empty."]),
    "done": words.done(Brought(("a.jpg",), ("b.jpg: The file is empty.",))),
    **{end.value: words.dead(said) for end, said in words.DEAD.items()},
    "unknown": words.dead(words.UNKNOWN),
    "wait": words.dead(words.WAIT),
}


class Page(HTMLParser):
    """Collects tags, and checks that each that was opened is closed in order."""

    EMPTY = frozenset({"meta", "input"})

    def __init__(self, text: str) -> None:
        super().__init__()
        self.tags: list[tuple[str, dict[str, str | None]]] = []
        self.open: list[str] = []
        self.feed(text)
        self.close()

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self.tags.append((tag, dict(attrs)))
        if tag not in self.EMPTY:
            self.open.append(tag)

    def handle_endtag(self, tag: str) -> None:
        assert self.open.pop() == tag

    def named(self, tag: str) -> list[dict[str, str | None]]:
        return [attributes for name, attributes in self.tags if name == tag]


@pytest.mark.parametrize("name", PAGES)
def test_every_page_is_whole_and_has_no_script(name: str) -> None:
    page = Page(PAGES[name])
    assert page.open == []
    assert page.named("html") == [{"lang": "en"}]
    assert len(page.named("main")) == len(page.named("h1")) == len(page.named("title")) == 1
    assert not {tag for tag, _ in page.tags} & {"script", "img", "link", "iframe"}
    assert not [a for _, attributes in page.tags for a in attributes if a.startswith(("on", "sty"))]


def test_the_style_sheet_is_the_one_that_the_policy_lets_in() -> None:
    for text in PAGES.values():
        (style,) = re.findall(r"<style>(.*?)</style>", text, re.DOTALL)
        digest = base64.b64encode(hashlib.sha256(style.encode()).digest()).decode()
        assert f"'sha256-{digest}'" in words.HEADERS["Content-Security-Policy"]


def test_the_form_offers_the_camera_and_a_chooser() -> None:
    page = Page(words.form())
    take, choose = page.named("input")
    assert take["capture"] == "environment"
    assert "multiple" not in take
    assert "multiple" in choose
    assert "capture" not in choose
    assert {i["accept"] for i in (take, choose)} == {"image/*"}
    assert [label["for"] for label in page.named("label")] == [take["id"], choose["id"]]
    (form,) = page.named("form")
    assert form == {"method": "post", "enctype": "multipart/form-data"}


def test_every_dead_link_says_what_to_do_in_three_sentences() -> None:
    assert set(words.DEAD) == set(End)
    for said in (*words.DEAD.values(), words.UNKNOWN, words.WAIT):
        assert all(sentence.strip().endswith(".") for sentence in (said.seen, said.means, said.do))
        assert "code" in said.do


def test_what_was_typed_elsewhere_is_escaped() -> None:
    brought = Brought(("a",), ('<script>x</script>.jpg: "no"',))
    for text in (words.done(brought), words.form(brought.refused)):
        assert "<script" not in text
        assert "&lt;script&gt;" in text


def luminance(colour: str) -> float:
    channels = [int(colour[i : i + 2], 16) / 255 for i in (1, 3, 5)]
    linear = [c / 12.92 if c <= 0.04045 else ((c + 0.055) / 1.055) ** 2.4 for c in channels]
    return 0.2126 * linear[0] + 0.7152 * linear[1] + 0.0722 * linear[2]


def contrast(one: str, other: str) -> float:
    """Return WCAG 2.2's contrast ratio of two colours."""
    light, dark = sorted((luminance(one), luminance(other)), reverse=True)
    return (light + 0.05) / (dark + 0.05)


def schemes() -> list[dict[str, str]]:
    light, dark = (
        dict(re.findall(r"--([a-z-]+): (#[0-9a-f]{6})", block))
        for block in words.CSS.split("@media (prefers-color-scheme: dark)")
    )
    return [light, dark]


@pytest.mark.parametrize("scheme", schemes(), ids=["light", "dark"])
def test_text_and_lines_stand_out_as_wcag_asks(scheme: dict[str, str]) -> None:
    assert len(scheme) == 5
    assert contrast(scheme["ink"], scheme["ground"]) >= 4.5
    assert contrast(scheme["accent"], scheme["ground"]) >= 4.5
    assert contrast(scheme["on-accent"], scheme["accent"]) >= 4.5
    assert contrast(scheme["line"], scheme["ground"]) >= 3.0
