"""What is typed into a field arrives before its page is left; Enter goes on to the next field.

Streamlit sends a field's text once the field is left.  A tap on a link leaves the field and the
page at once, and the field's message, which comes second, calls the old page back.
"""

from __future__ import annotations

from functools import cache
from importlib import resources
from typing import TYPE_CHECKING

import streamlit as st

if TYPE_CHECKING:
    from streamlit.components.v2.types import ComponentRenderer


@cache
def _component() -> ComponentRenderer:
    script = resources.files(__package__).joinpath("fields.js").read_text("utf-8")
    return st.components.v2.component("rimspan_fields", js=script, isolate_styles=False)


def keep_fields() -> None:
    """Look after the fields of the page; draws nothing."""
    with st.container(key="fields"):
        _component()(key="fields of the page")
