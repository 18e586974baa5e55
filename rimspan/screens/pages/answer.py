"""Answer: a sentence, the rules, the posts, what would settle it, the picture, the budget."""

from __future__ import annotations

from functools import partial

import streamlit as st

from rimspan.assessment import Assessment
from rimspan.clientfile import Revision
from rimspan.result_words import limits_words
from rimspan.screens import answer_parts, later_parts, layout, saved_answer, signing, work
from rimspan.screens.document import Document
from rimspan.screens.guard import need, opened
from rimspan.screens.layout import html
from rimspan.screens.lens_use import lens_by_photo
from rimspan.typed import in_html, in_markdown


def show() -> None:
    """Draw the page."""
    document = opened()
    if document is None:
        return
    if not document["photos"] and not document["caliper"]:
        layout.title("Can't tell yet")
        need(document, "There is no photo and no caliper reading to answer from.", "photos")
        return
    with st.spinner("Drawing 100,000 times from what is known ..."):
        found = work.answer(document)
    if not isinstance(found, Assessment):
        layout.title("Can't tell yet")
        for line in str(found).splitlines():
            st.write(in_markdown(line))
        need(document, "Once that is done, the answer stands here.", "marks")
        layout.judgement()
        return
    revision = signing.saved(document)
    saved = saved_answer.saved_as(revision, found)
    result = work.result_of(found) if saved is None else work.saved_result(saved)
    html(
        f'<p class="rim-quiet">{in_html(saved_answer.words(revision, same=saved is not None))}</p>'
    )
    alone = len(result.placements) == 1
    for i, placement in enumerate(result.placements):
        beside = partial(_picture, document, saved) if i == 0 and document["photos"] else None
        answer_parts.placement(placement, alone, result.side, beside)
    answer_parts.several_views(result.several_views)
    for placement in result.placements:
        answer_parts.budget(placement, alone)
        later_parts.of_placement(placement, alone=alone)
    st.caption(
        f"Limits: {limits_words(result.criteria)}. "
        f"{result.software}, {result.draws:,} draws, seed {result.seed}."
    )
    layout.judgement()
    layout.onward("sign", "Go on to sign")


def _picture(document: Document, saved: Revision | None) -> None:
    with st.spinner("Drawing the picture ..."):
        drawn = None if saved is None else work.saved_picture(saved)
        caption = "What was marked, as it was measured."
        st.image(drawn or work.picture(document), caption=caption, alt=answer_parts.PICTURE)
    for line in lens_by_photo(document, work.photo).values():
        st.caption(in_markdown(line))
