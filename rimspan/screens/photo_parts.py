"""The parts of the Photos page: which ear, the five views, one photo beside what its card says."""

from __future__ import annotations

from collections.abc import Sequence
from functools import partial
from html import escape

import streamlit as st

from assess.reading import PhotoReading
from assess.view_set import VIEWS, Side, missing_views
from calibration.card import FRAME, card_by_id
from rimspan.screens import layout, photo_crops, photo_svg, several, state, svg
from rimspan.screens.check_bars import NAMES
from rimspan.screens.document import Document, changed, without_photo
from rimspan.screens.guide_words import (
    HEADBAND,
    MOVE,
    STRAIGHT,
    alone_words,
    gain_words,
    lacking_words,
    next_words,
)
from rimspan.screens.photo_words import (
    VIEW_WORDS,
    card_corners,
    card_words,
    flag_html,
    flags_shown,
    mirrored_words,
    seen_from,
    sharpness_words,
    view_of_words,
    views_words,
)
from rimspan.typed import in_html, in_markdown


def how() -> None:
    """Say how the photos are taken."""
    st.write(
        "One photo square-on, 250 to 300 mm away, the card flat round the ear. The client sits "
        "still, the phone moves, nothing presses the ear. Pen dots at entry and exit help."
    )
    st.write(
        "Then four from round about, far to the side: from above and from behind the ear, which "
        "show the entry; from the face side and from below, which show the exit. Dots seen in two "
        "photos are measured in space. Dots on crest and floor, and three spare ones on the ear, "
        "tie the photos together."
    )


def which_ear() -> None:
    """Draw whose ear the photos are of, and the way to the other."""
    side = state.side() or "left"
    other = next(ear for ear in state.SIDES if ear != side)
    with st.container(horizontal=True, vertical_alignment="center"):
        layout.html(f'<div class="rim-where">{svg.ear(side)} Photos of the {side} ear</div>')
        st.button(
            f"{other.capitalize()} ear instead",
            key="other ear",
            on_click=partial(state.open_client, state.client_id(), other),
        )


def five_views(readings: Sequence[PhotoReading], side: Side) -> None:
    """Draw where the phone goes for each of an ear's five views, and which are missing."""
    missing = {view.name for view in missing_views(readings, side)}
    figures = ""
    for view in VIEWS:
        name, degrees, more = VIEW_WORDS[view.name]
        word = "missing" if view.name in missing else "there"
        figures += (
            f"<figure>{photo_svg.view_place(view, side, view.name not in missing)}"
            f"<figcaption>{name}<br>{degrees} {more}<br><strong>{word}</strong>"
            "</figcaption></figure>"
        )
    layout.html(
        f'<div class="rim-views">{figures}</div><p>{views_words(readings, side)} '
        "Each is drawn from beside and, under it, from the top.</p>"
    )


def guide(document: Document) -> None:
    """Draw which photo to take next and what it brings, and which dots lack a second photo."""
    found, alone_mm = several.guide_of(document)
    lines = [
        gain_words(found),
        STRAIGHT if found.straight else "",
        alone_words(found, alone_mm),
        lacking_words(found),
        MOVE if found.next else "",
    ]
    said = "".join(f"<p>{escape(line)}</p>" for line in lines if line)
    drawing = photo_svg.sights(found.taken, found.next)
    layout.html(
        f'<div class="rim-guide">{drawing}<div><p><strong>{escape(next_words(found))}</strong>'
        f"</p>{said}</div></div>"
    )
    st.checkbox(
        HEADBAND,
        value=document.get("card_shift") == FIXED,
        key="headband",
        on_change=_fixed,
    )


FIXED = {"u_mm": 0.0}


def _fixed() -> None:
    on = bool(state.value("headband"))
    state.change(lambda document: changed(document, card_shift=FIXED if on else None))


def one(document: Document, reading: PhotoReading, lens: str) -> None:
    """Draw a photo beside what its card says, and which lens profile it is measured with."""
    with st.container(border=True):
        picture, drawings, words = st.columns([5, 4, 4])
        seen = photo_crops.shown(document, reading)
        if seen is not None:
            picture.image(
                seen,
                caption=in_markdown(reading.file),
                width="stretch",
                alt=f"The ear in {reading.file}",
            )
        with drawings:
            _drawings(document, reading)
            close = (
                photo_crops.crop(document, reading, photo_crops.SHARP_PX) if reading.fit else None
            )
            if close is not None:
                st.image(
                    close,
                    caption=sharpness_words(reading),
                    output_format="PNG",
                    alt=f"Part of {reading.file}, pixel for pixel",
                )
        with words:
            _words(reading, document["side"])
            if lens:
                st.caption(in_markdown(lens))
            st.button(
                "Take this photo out",
                key=f"remove {reading.file}",
                on_click=partial(_removed, reading.file),
            )


def _drawings(document: Document, reading: PhotoReading) -> None:
    """Draw how the phone was held, how far away, what of the card is seen, and if mirrored."""
    card = card_by_id(document.get("card", {}).get("id", FRAME.id))
    corners, state_of_card, facing = f"{NAMES[card.id]} not seen", photo_svg.no_card(card), ""
    if reading.seen is not None:
        corners = card_corners(reading.seen)
        state_of_card = photo_svg.card_state(reading.seen.card, reading.seen.corner_ids.tolist())
        facing = photo_svg.facing(document["side"], reading.mirrored)
    layout.html(
        '<div class="rim-says-card">'
        f"<div>{svg.phone(reading.tilt_deg, seen_from(reading))}</div>"
        f"<figure>{state_of_card}<figcaption>{corners}</figcaption></figure>"
        f"<figure>{facing}<figcaption>{mirrored_words(reading)}</figcaption></figure>"
        f'<div class="rim-wide">{svg.distance(reading.distance_mm)}</div></div>'
    )


def _words(reading: PhotoReading, side: Side) -> None:
    if reading.refusal:
        st.markdown("**This photo can't be measured yet.**")
        layout.html(f'<div class="rim-flag">{in_html(reading.refusal)}</div>')
        return
    st.markdown(f"**{view_of_words(reading, side)}** {card_words(reading)}")
    layout.html("".join(flag_html(flag) for flag in flags_shown(reading, side)))


def _removed(file: str) -> None:
    state.change(lambda document: without_photo(document, file))
