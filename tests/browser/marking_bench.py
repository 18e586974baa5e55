"""A page with nothing but the marking on it, for the tests: ``?case=NAME``.

What is marked is kept in ``NAME.json`` of the folder that MARKING_BENCH names.
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

FOLDER = Path(os.environ["MARKING_BENCH"])
PUSHED = {"placements": [{"label": "P", "entry": [10, 10]}]}


def kept(case: str) -> dict[str, Any]:
    path = FOLDER / f"{case}.json"
    return dict(json.loads(path.read_text("utf-8"))) if path.exists() else {"marks": {}}


@st.fragment
def bench(case: str) -> None:
    photo = "other.png" if st.checkbox("Other photo") else "photo.png"
    pushed = st.checkbox("Push from Python")
    path = FOLDER / photo
    with Image.open(path) as opened:
        size = opened.size
    found = kept(case)
    held = found["marks"] if found.get("photo", photo) == photo else {}
    sent = marking(
        get_instance().media_file_mgr.add(path.read_bytes(), "image/png", "marking bench"),
        size,
        PUSHED if pushed else held,
        photo=photo,
        key="marking",
        side="left",
        revision=1000 if pushed else 0,
        area=tuple(json.loads(st.query_params["area"])) if "area" in st.query_params else None,
    )
    if sent is not None and sent["photo"] == photo and sent != found:
        (FOLDER / f"{case}.json").write_text(json.dumps(sent), "utf-8")
    st.html(f'<pre id="sent">{escape(json.dumps(sent))}</pre>')


st.set_page_config(layout="wide")
bench(st.query_params.get("case", "none"))
