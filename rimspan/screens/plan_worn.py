"""Worn things on the plan's page: which photo shows one, where it touches, how near it comes."""

from __future__ import annotations

from collections.abc import Mapping
from functools import partial
from typing import Any

import streamlit as st

from assess.plan_marks import WORN, WORN_FORMAT, PlanMarks
from assess.plan_result import PlanOut
from assess.wear import Thing
from assess.wear_words import WEAR_DEPTH
from rimspan.screens import chair, state, work
from rimspan.screens.document import Document, changed, entry, files, hashes
from rimspan.screens.layout import html
from rimspan.screens.marking import marking
from rimspan.screens.photo_crops import ear_area
from rimspan.screens.photo_routes import preview_url, tiles_of
from rimspan.typed import in_html, in_markdown

THINGS: Mapping[Thing | None, str] = {
    None: "nothing",
    "glasses": "glasses",
    "mask": "a mask",
    "headset": "a headset",
    "helmet": "a helmet",
    "headband": "a headband",
    "hat": "a hat",
    "other": "something else",
}
RAW = "x_worn_marks"
"""What the marking has of such a photo, as far as it has got."""

HOW = (
    "The client puts it on, the card is held as before, and a photo is taken square-on (Photos). "
    "Say here what is worn in it, mark the line where it touches, and the dots of each post."
)


def worn(document: Document, plan: PlanMarks, out: PlanOut | None) -> None:
    """Draw which photos show something worn, and the marking of the one that is chosen."""
    others = [name for name in files(document) if name != plan.photo]
    shown = [name for name in others if WORN in entry(document, name)]
    with st.expander("Worn things: glasses, mask, headset, helmet, hat", expanded=bool(shown)):
        st.write(HOW)
        for name in others:
            key = f"worn in {hashes(document)[name]}"
            state.set_value(key, entry(document, name).get(WORN, {}).get("thing"))
            st.selectbox(
                f"Worn in {in_markdown(name)}",
                list(THINGS),
                format_func=THINGS.__getitem__,
                key=key,
                on_change=_say,
                args=(name, key),
            )
        if not shown:
            return
        name = shown[0]
        if len(shown) > 1:
            name = (
                st.segmented_control(
                    "Photo", shown, default=name, format_func=in_markdown, key=f"worn {shown}"
                )
                or name
            )
        _mark(document, plan, name)
        said = [] if out is None else [each.sentence for each in out.worn if each.file == name]
        html("".join(f'<p class="rim-next">{in_html(line)}</p>' for line in said))
        st.caption(f"{WEAR_DEPTH} All of the spare length is taken to stand out at that end.")


def _say(name: str, key: str) -> None:
    thing = state.value(key)
    state.change(lambda draft: with_thing(draft, name, thing))


def with_thing(document: Mapping[str, Any], name: str, thing: Thing | None) -> Document:
    """Return the draft with what is worn in a photo; None for nothing."""
    return _with_photo(document, name, thing, entry(document, name).get(RAW, {}))


def with_worn_marks(document: Mapping[str, Any], name: str, marks: Mapping[str, Any]) -> Document:
    """Return the draft with where the worn thing of a photo touches, as it was marked."""
    held = entry(document, name).get(WORN)
    return _with_photo(document, name, held["thing"], marks) if held else dict(document)


def _with_photo(
    document: Mapping[str, Any], name: str, thing: Thing | None, marks: Mapping[str, Any]
) -> Document:
    def edit(photo: Mapping[str, Any]) -> Document:
        bare = {n: value for n, value in photo.items() if n not in {WORN, RAW}}
        if photo["file"] != name or thing is None:
            return dict(photo) if photo["file"] != name else bare
        return bare | {WORN: _told(thing, marks), RAW: dict(marks)}

    return changed(document, photos=[edit(photo) for photo in document["photos"]])


def _told(thing: Thing, marks: Mapping[str, Any]) -> Document:
    """Return what can be measured of it: no line of one point, no post without both dots."""
    told: Document = {"format": WORN_FORMAT, "thing": thing}
    if len(marks.get(WORN, ())) > 1:
        told["line"] = marks[WORN]
    told["placements"] = [
        {name: placement[name] for name in ("label", "entry", "exit")}
        for placement in marks.get("placements", ())
        if "entry" in placement and "exit" in placement
    ]
    return told


def _mark(document: Document, plan: PlanMarks, name: str) -> None:
    sha256, reading = hashes(document)[name], work.reading(document, name)
    key = f"worn {state.client_id()} {state.side()} {sha256}"
    chair.SIGN_INS.show(chair.written(), sha256)
    marking(
        preview_url(sha256),
        reading.size,
        entry(document, name).get(RAW, {}),
        photo=name,
        key=key,
        labels=[each.label for each in plan.placements],
        tiles=tiles_of(sha256, reading.size),
        side=state.side() or "",
        area=ear_area(reading),
        several={"offers": [WORN, "entry", "exit"]},
        on_change=partial(_arrived, key, name),
    )


def _arrived(key: str, name: str) -> None:
    sent = (state.value(key) or {}).get("document")
    _, client, side, _ = key.split(" ")
    if sent and sent["photo"] == name and (client, side) == (state.client_id(), state.side()):
        state.change(lambda draft: with_worn_marks(draft, name, sent["marks"]))
