"""The answer in short, beside the signature: all that is said of a placement, without drawings."""

from __future__ import annotations

from html import escape

import streamlit as st

from assess.result import PlacementOut
from rimspan.result_words import posts_words
from rimspan.screens import answer_parts
from rimspan.screens.layout import html
from rimspan.typed import in_markdown


def short_answer(found: PlacementOut, alone: bool) -> None:
    """Draw a placement's sentence, every criterion's, the posts, and what is still missing."""
    if not alone:
        st.subheader(f"Placement {in_markdown(found.label)}", anchor=False)
    answer_parts.headline(found)
    answer_parts.notes(found)
    said = "".join(f"<li>{escape(reason.sentence)}</li>" for reason in found.reasons)
    html(f'<ul class="rim-short">{said}</ul>')
    for name, _, words in posts_words(found):
        html(f"<p><strong>{escape(name)}:</strong> {escape(words)}</p>")
    answer_parts.settle(found)
