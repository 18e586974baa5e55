"""A page with nothing but the marking on it, for the tests: ``?case=NAME&photo=FILE``.

What is marked is kept in ``NAME.json`` of the folder that MARKING_BENCH names.
"""

import json
import os
from html import escape
from pathlib import Path

import streamlit as st
from PIL import Image
from streamlit.runtime import get_instance

from rimspan.screens.marking import marking

FOLDER = Path(os.environ["MARKING_BENCH"])
NOTHING = {"rev": 0, "photo": "", "marks": {}}


def read(case: str) -> dict:
    kept = FOLDER / f"{case}.json"
    return json.loads(kept.read_text("utf-8")) if kept.exists() else dict(NOTHING)


@st.fragment
def bench(case: str, name: str) -> None:
    path = FOLDER / name
    with Image.open(path) as opened:
        size = opened.size
    url = get_instance().media_file_mgr.add(path.read_bytes(), "image/png", "marking bench")
    kept = read(case)
    revision = 1000 if st.button("Push from Python") else 0
    marks = {"placements": [{"label": "P", "entry": [10, 10]}]} if revision else kept["marks"]
    sent = marking(url, size, marks, photo=name, key="marking", revision=revision, side="left")
    if sent is not None and sent["photo"] == name and sent != kept:
        (FOLDER / f"{case}.json").write_text(json.dumps(sent), "utf-8")
    st.html(f'<pre id="sent">{escape(json.dumps(sent or NOTHING))}</pre>')


st.set_page_config(layout="wide")
bench(st.query_params.get("case", "none"), st.query_params.get("photo", "photo.png"))
