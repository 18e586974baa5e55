"""The plan on its photo: our own component, with posts at true size that a hand moves.

The browser owns the live edit and sends the whole plan each time, so a skipped run loses nothing;
what Python draws anew replaces it once Python has heard the last of it.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from functools import cache
from importlib import resources
from typing import TYPE_CHECKING, Any

import streamlit as st

from rimspan.drawing import BAND, CAUTION, INK, LIGHT, Colour

if TYPE_CHECKING:
    from streamlit.components.v2.types import ComponentRenderer

COLOURS: Mapping[str, Colour] = {"ink": INK, "light": LIGHT, "band": BAND, "caution": CAUTION}
"""What a plan is drawn in; shapes and words say the same."""


def script() -> str:
    """Return the script's parts as one module, in the order of their numbers."""
    folder = resources.files(__package__).joinpath("js")
    parts = sorted(folder.iterdir(), key=lambda part: part.name)
    return "\n".join(part.read_text("utf-8") for part in parts if part.name.endswith(".js"))


def _asset(name: str) -> str:
    return resources.files(__package__).joinpath(name).read_text("utf-8")


@cache
def _component() -> ComponentRenderer:
    return st.components.v2.component(
        "rimspan_planning",
        html=_asset("planning.html"),
        css=_asset("planning.css"),
        js=script(),
        isolate_styles=True,
    )


def planning(
    drawn: Mapping[str, Any], *, key: str, on_change: Callable[[], None]
) -> dict[str, Any] | None:
    """Draw the plan and return what was last sent, or None before it has.

    Parameters
    ----------
    drawn : what :func:`rimspan.screens.plan_view.drawn` returns
    key : the component's own, and the same in every run
    on_change : called before the run in which a change arrives

    Returns
    -------
    ``{"hand", "n", "posts": [{"label", "arc", "lean"}], "earlier": [{"name", "places"}]}``
    """
    colours = {name: "#{:02x}{:02x}{:02x}".format(*ink[:3]) for name, ink in COLOURS.items()}
    data = {**drawn, "colours": colours}
    shown = _component()(
        key=key, data=data, default={"document": None}, on_document_change=on_change
    )
    return dict(shown.get("document") or {}) or None
