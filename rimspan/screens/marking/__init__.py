"""Marking on an ear photo: our own component for pointer, touch and keys.

The browser owns the live edit and sends whole documents; what Python keeps comes back with the
next mount, so a reload loses nothing.
"""

from __future__ import annotations

from collections.abc import Mapping
from importlib import resources
from typing import Any

import streamlit as st

HTML = """
<div class="marking">
  <div class="rail" role="toolbar" aria-label="Marks"></div>
  <p class="hint" role="status"></p>
  <div class="box" tabindex="0" role="application"
       aria-label="Photo of the ear. Tab goes from mark to mark, arrow keys move one, Enter adds one in the middle.">
    <canvas class="photo"></canvas>
    <div class="spots"></div>
    <canvas class="loupe" hidden></canvas>
  </div>
</div>
"""


def _script() -> str:
    """Return the parts of the script as one module, in the order of their numbers."""
    folder = resources.files(__package__).joinpath("js")
    parts = sorted((part for part in folder.iterdir()), key=lambda part: part.name)
    return "\n".join(part.read_text("utf-8") for part in parts if part.name.endswith(".js"))


def _style() -> str:
    return resources.files(__package__).joinpath("marking.css").read_text("utf-8")


def _nothing() -> None:
    """Let Streamlit know that the document's changes matter."""


def marking(
    photo_url: str,
    size: tuple[int, int],
    marks: Mapping[str, Any],
    *,
    photo: str,
    key: str,
    label: str = "1",
) -> dict[str, Any] | None:
    """Draw the marking and return what it last sent, or None before it has.

    Parameters
    ----------
    photo_url : where the browser fetches the upright photo
    size : the photo's width and height, px
    marks : what is marked so far, a photo's part of the marks file
    photo : the photo's name; another name starts anew with ``marks``
    key : the component's own, one for each photo
    label : of the first placement

    Returns
    -------
    ``{"rev": int, "photo": str, "marks": {...}}``, points in the marks file's pixels
    """
    component = st.components.v2.component(
        "rimspan_marking", html=HTML, css=_style(), js=_script(), isolate_styles=True
    )
    width, height = size
    held = component(
        key=key,
        data={
            "url": photo_url,
            "width": width,
            "height": height,
            "photo": photo,
            "marks": dict(marks),
            "label": label,
            "rev": len(str(marks)),
        },
        default={"document": None},
        on_document_change=_nothing,
    )
    sent = held.get("document")
    return dict(sent) if sent else None
