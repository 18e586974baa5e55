"""What people typed, on its way to a page, a sheet or a terminal: text there, and nothing else."""

from __future__ import annotations

import re
import unicodedata
from html import escape

from assess.wording import NO_BREAK

JOINER = "\u2060"
"""Takes no room, and ends what a page would else read as an address or a picture's name."""
_MARKUP = re.compile(r"[\\`*_\[\]<>$~|&]|^[-+=#]|^\d+(?=[.)])")
_READ_TOGETHER = re.compile(r"(?i)[:@](?=\S)|-(?=[->])|<(?=[-=])|>(?==)|www(?=\.)")


def shown(text: str) -> str:
    """Return text in which nothing steers the page: controls and marks that turn it are named."""
    words = re.split(rf"[^\S{NO_BREAK}]+", text.strip())
    return "".join(_shown_character(c) for c in " ".join(words))


def _shown_character(character: str) -> str:
    # Cc and Cf hold the control, format and bidirectional marks; Co and Cn have no meaning.
    if unicodedata.category(character) in {"Cc", "Cf", "Cs", "Co", "Cn"}:
        return f"[U+{ord(character):04X}]"
    return character


def in_markdown(text: str) -> str:
    """Return Markdown that shows a text as it was typed: no link, picture, symbol or emphasis.

    Escaping is not enough: addresses and names of symbols are looked for in what is already
    unescaped, and are broken by a joiner.
    """
    return _MARKUP.sub(_escaped, _apart(shown(text)))


def in_html(text: str) -> str:
    """Return markup that shows a text as it was typed, also where a page draws it as Markdown."""
    return escape(_apart(shown(text)))


def _apart(text: str) -> str:
    return _READ_TOGETHER.sub(lambda found: found[0] + JOINER, text)


def _escaped(found: re.Match[str]) -> str:
    # A number at the beginning is a list's only with its point or bracket right behind.
    return found[0] + JOINER if found[0].isdigit() else "\\" + found[0]
