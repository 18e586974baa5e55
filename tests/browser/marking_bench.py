"""A page with nothing but the marking on it, for the tests: ``?case=NAME``.

What is marked is kept in ``NAME.json`` of the folder that MARKING_BENCH names.  With ``&large=``
and the hash of a photo in that folder, its preview and tiles are shown.
"""

from __future__ import annotations

import json
import os
from html import escape
from pathlib import Path
from typing import Any

import streamlit as st
from PIL import Image
from streamlit.runtime import get_instance

from rimspan.screens.marking import marking
from rimspan.screens.photo_routes import preview_url, tiles_of

FOLDER = Path(os.environ["MARKING_BENCH"])
PUSHED = {"placements": [{"label": "P", "entry": [10, 10]}]}


def kept(case: str) -> dict[str, Any]:
    path = FOLDER / f"{case}.json"
    return dict(json.loads(path.read_text("utf-8"))) if path.exists() else {"marks": {}}


def whole(photo: str) -> dict[str, Any]:
    path = FOLDER / photo
    with Image.open(path) as opened:
        size = opened.size
    url = get_instance().media_file_mgr.add(path.read_bytes(), "image/png", "marking bench")
    return {"photo_url": url, "size": size, "photo": photo}


def in_parts(sha256: str) -> dict[str, Any]:
    with Image.open(FOLDER / sha256) as opened:
        size = opened.size
    tiles = tiles_of(sha256, size)
    return {"photo_url": preview_url(sha256), "size": size, "photo": sha256, "tiles": tiles}


@st.fragment
def bench(case: str) -> None:
    other = st.checkbox("Other photo")
    pushed = st.checkbox("Push from Python")
    large = st.query_params.get("large")
    shown = in_parts(large) if large else whole("other.png" if other else "photo.png")
    found = kept(case)
    held = found["marks"] if found.get("photo", shown["photo"]) == shown["photo"] else {}
    sent = marking(
        **shown,
        marks=PUSHED if pushed else held,
        key="marking",
        side="left",
        revision=1000 if pushed else 0,
        area=tuple(json.loads(st.query_params["area"])) if "area" in st.query_params else None,
    )
    if sent is not None and sent["photo"] == shown["photo"] and sent != found:
        (FOLDER / f"{case}.json").write_text(json.dumps(sent), "utf-8")
    st.html(f'<pre id="sent">{escape(json.dumps(sent))}</pre>')


st.set_page_config(layout="wide")
bench(st.query_params.get("case", "none"))
