"""The marking of a photo with the post in, on the Visit page."""

from __future__ import annotations

from collections.abc import Mapping
from functools import partial
from typing import Any, cast

import streamlit as st

from rimspan.screens import recheck_draft, state, work
from rimspan.screens.document import Document, entry, hashes, marks_of
from rimspan.screens.marking import marking
from rimspan.screens.photo_crops import ear_area
from rimspan.screens.photo_routes import preview_url, tiles_of
from rimspan.screens.sent_marks import held_of, is_new

OFFERS = (
    "outer_rim",
    "inner_rim",
    "entry_end",
    "exit_end",
    "entry",
    "exit",
    "axis_to",
    "axis_from",
)
"""What is marked where a post is in, in this order; the axis where an end is hidden."""


def mark(
    photos: Document,
    which: recheck_draft.Which,
    file: str,
    label: str,
    over: Mapping[str, Any] | None,
) -> None:
    """Draw the marking of one photo.

    Parameters
    ----------
    over : the earlier outlines, (N, 2) px by kind, where the view is refused
    """
    sha256, reading, kept = hashes(photos)[file], work.reading(photos, file), entry(photos, file)
    key = f"recheck {state.client_id()} {state.side()} {which} {sha256}"
    earlier = {kind: line.round(1).tolist() for kind, line in (over or {}).items()}
    nothing = over is not None and not marks_of(kept)
    sent = marking(
        preview_url(sha256),
        reading.size,
        marks_of(kept),
        by=state.piercer(),
        photo=file,
        key=key,
        labels=[label],
        tiles=tiles_of(sha256, reading.size),
        held=held_of(kept),
        side=state.side() or "",
        area=ear_area(reading),
        helped=work.offer_help(photos, file),
        several={"offers": [] if nothing else list(OFFERS), "others": None},
        recheck={"earlier": earlier, "refused": over is not None},
        on_change=partial(arrived, key),
    )
    if sent and is_new(kept, sent):
        _take(key, sent)
        st.rerun()


def arrived(key: str) -> None:
    """Put the marks that a marking has just sent into the visit."""
    sent = (state.value(key) or {}).get("document")
    if sent:
        _take(key, sent)


def _take(key: str, sent: Mapping[str, Any]) -> None:
    _, client, side, which, sha256 = key.split(" ")
    recheck_draft.take(client, side, cast(recheck_draft.Which, which), sha256, sent)
