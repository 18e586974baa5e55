"""The answer on one placement, from the sentence a client understands to the budget."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from html import escape
from typing import Literal

import streamlit as st

from assess.result import PlacementOut, PostOut, ReasonOut
from assess.wording import CRITERION_WORDS, IF_LIMITS_RIGHT, VERDICT_WORDS, capital
from rimspan.result_words import (
    METHOD_WORDS,
    between,
    budget_table,
    first_order_words,
    posts_words,
    risk_words,
    seat_words,
    steps_table,
    to_settle,
)
from rimspan.screens import rules, svg
from rimspan.screens.layout import html
from rimspan.two_sides import caption
from rimspan.two_sides_draw import sides_svg
from rimspan.typed import in_html, in_markdown

Share = Literal["whole", "half", "empty"]
PICTURE = "The ear photo with its marks and what was measured drawn on it"
"""What is read aloud in place of that picture; the numbers stand as text beside it."""

LEGEND = "Grey: what is wanted. Blue: where the value lies, 95 times in 100. What decides is first."
GUARDED = " Dashed: the limits with the studio's guard band."
BAR: dict[str, Share] = {"supports": "whole", "undecided": "half", "does_not_support": "empty"}


def placement(
    found: PlacementOut, alone: bool, side: str, picture: Callable[[], None] | None = None
) -> None:
    """Draw everything said of one placement, beside its answer the picture if there is one."""
    if not alone:
        st.subheader(f"Placement {in_markdown(found.label)}", anchor=False)
    said, seen = st.columns([3, 2]) if picture is not None else (st.container(), None)
    with said:
        headline(found)
        notes(found)
        guarded = any(reason.acceptance for reason in found.reasons)
        html(f'<p class="rim-quiet">{LEGEND}{GUARDED if guarded else ""}</p>')
        html(f'<div class="rim-rules">{"".join(_reason(each) for each in found.reasons)}</div>')
        seat(found)
    if seen is not None and picture is not None:
        with seen:
            picture()
    see_it(found, side)
    posts(found)
    settle(found)


def see_it(found: PlacementOut, side: str) -> None:
    """Draw the placement from two sides at true proportion, where a photo shows both ends."""
    drawn = sides_svg(found, side)
    if drawn:
        st.subheader("See it", anchor=False)
        html(drawn)
        html(f'<p class="rim-quiet">{escape(caption(found))}</p>')


def seat(found: PlacementOut) -> None:
    """Draw how the post stands to the skin at each end, in words."""
    if found.channel is not None and seat_words(found):
        said = "".join(f"<p>{escape(line)}</p>" for line in seat_words(found))
        html(f'<div class="rim-quiet">{said}</div>')


def _reason(reason: ReasonOut) -> str:
    """Return one criterion: its name, its rule, and the sentence that says both in words."""
    said = f'<p class="rim-quiet">{escape(reason.sentence)}</p>'
    title = f"<p><strong>{escape(capital(CRITERION_WORDS[reason.criterion]))}</strong></p>"
    if reason.limit is None or not {"low", "high"} & set(reason.limit):
        return f"<section>{title}{said}</section>"
    drawn = rules.criterion_rule(reason.limit, reason.measured, reason.sentence, reason.acceptance)
    return f"<section>{title}{drawn}{said}</section>"


def headline(found: PlacementOut) -> None:
    """Draw the sentence a client understands, the verdict with its bar, and how it may be wrong."""
    word = VERDICT_WORDS[found.verdict]
    bar = svg.bar(BAR[found.verdict], word)
    risk = f'<p class="rim-next">{escape(risk_words(found))}</p>' if risk_words(found) else ""
    html(
        f'<p class="rim-says">{escape(found.headline)}</p>'
        f'<p class="rim-verdict">{bar}<span>{escape(word)}</span></p>{risk}'
        f'<p class="rim-quiet">Channel by {METHOD_WORDS[found.method]}.{_lean(found)}</p>'
    )


def _lean(found: PlacementOut) -> str:
    return f" The axis leans outward by {between(found.lean)}." if found.lean is not None else ""


def several_views(said: tuple[str, ...]) -> None:
    """Draw what is to be said of photos that were measured together, folded."""
    if said:
        with st.expander("What the photos say together"):
            st.markdown("\n".join(f"- {in_markdown(line)}" for line in said))


def notes(found: PlacementOut) -> None:
    """Draw what doesn't fit together; photo and calipers on one rule where they disagree."""
    for note in found.notes:
        html(f'<p class="rim-flag">{in_html(note)}</p>')
    if found.agreement is not None and not found.agreement.agrees:
        limit = next(r.limit for r in found.reasons if r.criterion == "channel")
        html(rules.both_rule(found.agreement, limit, "The channel by photo and by calipers"))


def posts(found: PlacementOut) -> None:
    """Draw the posts for the start and for later, with their spare length at scale."""
    st.subheader("Posts", anchor=False)
    for place, (name, post, words) in zip(st.columns(2), posts_words(found), strict=True):
        with place:
            st.markdown(f"**{name}:** {words}")
            if isinstance(post, PostOut) and found.channel is not None:
                html(rules.post_drawing(post, found.channel, name))
                if post.options:
                    said = f"Chance that the spare length is as wanted, {IF_LIMITS_RIGHT}:"
                    html(f'<p class="rim-quiet">{said}</p>')
                    html(rules.chances(post.options, post, f"{name}: {said}"))


def settle(found: PlacementOut) -> None:
    """Draw what would settle what is open, the best step first."""
    lines = to_settle(found)
    if lines:
        st.subheader("What would settle it", anchor=False)
        st.markdown("\n".join(f"1. {in_markdown(line)}" for line in lines))
        if found.settle:
            st.caption("Minutes are rough: common practice, no source.")


def budget(found: PlacementOut, alone: bool = True) -> None:
    """Draw, folded, the exact terms and what the channel's uncertainty is made of."""
    of = "" if alone else f", placement {in_markdown(found.label)}"
    if found.exact:
        with st.expander(f"In exact terms{of}"):
            st.markdown("\n".join(f"- {in_markdown(line)}" for line in found.exact))
            steps = steps_table(found)
            if steps:
                st.markdown(f"What each step promises, {IF_LIMITS_RIGHT}:")
                html(table(steps))
    with st.expander(f"Where the uncertainty comes from{of}: {between(found.channel)}"):
        html(table(budget_table(found)))
        if first_order_words(found):
            st.write(first_order_words(found))


def table(columns: Mapping[str, Sequence[str]]) -> str:
    """Return columns as a table whose rows become blocks where there is no room for them."""
    head = "".join(f'<th scope="col">{escape(name)}</th>' for name in columns)
    rows = ""
    for cells in zip(*columns.values(), strict=True):
        named = zip(columns, cells, strict=True)
        row = "".join(f'<td data-of="{escape(name)}">{escape(cell)}</td>' for name, cell in named)
        rows += f"<tr>{row}</tr>"
    return f'<table class="rim-table"><thead><tr>{head}</tr></thead><tbody>{rows}</tbody></table>'
