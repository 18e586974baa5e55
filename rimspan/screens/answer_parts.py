"""The answer on one placement, from the sentence a client understands to the budget."""

from __future__ import annotations

from html import escape
from typing import Literal

import streamlit as st

from assess.result import PlacementOut, PostOut, ReasonOut
from assess.wording import CRITERION_WORDS, VERDICT_WORDS
from rimspan.result_words import METHOD_WORDS, between, post_words
from rimspan.screens import rules, svg
from rimspan.screens.layout import html

Share = Literal["whole", "half", "empty"]
PICTURE = "The ear photo with its marks and what was measured drawn on it"
"""What is read aloud in place of that picture; the numbers stand as text beside it."""

LEGEND = "Grey: the limits. Blue: where the value lies, 95 times in 100."
BAR: dict[str, Share] = {"supports": "whole", "undecided": "half", "does_not_support": "empty"}


def placement(found: PlacementOut, alone: bool) -> None:
    """Draw everything said of one placement."""
    if not alone:
        st.subheader(f"Placement {found.label}", anchor=False)
    headline(found)
    html(f'<p class="rim-quiet">{LEGEND}</p>')
    html(f'<div class="rim-rules">{"".join(_reason(reason) for reason in found.reasons)}</div>')
    posts(found)
    settle(found)


def _reason(reason: ReasonOut) -> str:
    """Return one criterion: its name, its rule, and the sentence that says both in words."""
    said = f'<p class="rim-quiet">{escape(reason.sentence)}</p>'
    name = CRITERION_WORDS[reason.criterion]
    title = f"<p><strong>{escape(name[:1].upper() + name[1:])}</strong></p>"
    if reason.limit is None or not {"low", "high"} & set(reason.limit):
        return f"<section>{title}{said}</section>"
    drawn = rules.criterion_rule(reason.limit, reason.measured, reason.sentence)
    return f"<section>{title}{drawn}{said}</section>"


def headline(found: PlacementOut) -> None:
    """Draw the sentence a client understands and the verdict with its bar."""
    word = VERDICT_WORDS[found.verdict]
    bar = svg.bar(BAR[found.verdict], word)
    html(
        f'<p class="rim-says">{escape(found.headline)}</p>'
        f'<p class="rim-verdict">{bar}<span>{escape(word)}</span></p>'
        f'<p class="rim-quiet">Channel by {METHOD_WORDS[found.method]}.</p>'
    )


def posts(found: PlacementOut) -> None:
    """Draw the posts for the start and for later, with their spare length at scale."""
    st.subheader("Posts", anchor=False)
    chosen = (("To begin with", found.posts.initial), ("Later", found.posts.downsized))
    for place, (name, post) in zip(st.columns(2), chosen, strict=True):
        with place:
            st.markdown(f"**{name}:** {post_words(post)}")
            if isinstance(post, PostOut) and found.channel is not None:
                html(rules.post_drawing(post, found.channel, name))


def settle(found: PlacementOut) -> None:
    """Draw what would settle what is open."""
    lines = [*found.missing, *found.notes]
    if lines:
        st.subheader("What would settle it", anchor=False)
        st.markdown("\n".join(f"- {line}" for line in lines))


def budget(found: PlacementOut) -> None:
    """Draw, folded, what the channel's uncertainty is made of."""
    with st.expander(f"Where the uncertainty comes from: {between(found.channel)}"):
        st.table(
            {
                "input": [row.input for row in found.budget],
                "share of the variance": [f"{row.share:.0%}" for row in found.budget],
            }
        )
