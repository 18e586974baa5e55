"""The demo clients, opened from the start page: rendered ears, invented people."""

from __future__ import annotations

import streamlit as st

from rimspan.demo.client import CONFIRMED, fill_client_file
from rimspan.demo.lay_out import samples
from rimspan.screens import state
from rimspan.screens.layout import html
from rimspan.screens.store import client_file

INVENTED = "Rendered ears and invented people, to try things on."
INTO_THIS = "They go into this client file; a manager can erase them."


def offer() -> None:
    """Offer the demo client; never to bring it into a studio's own file that has clients in it."""
    file = client_file()
    known = [client.name for client in file.clients()]
    if file.sealed and known and CONFIRMED not in known:
        return
    st.button("Open the demo client", on_click=_open)
    said = f"{INVENTED} {INTO_THIS}" if file.sealed else INVENTED
    html(f'<p class="rim-quiet">{said}</p>')


def _open() -> None:
    """Open the demo client whose assessment is confirmed; made first if it isn't there."""
    fill_client_file(client_file(), samples())
    client = next(c for c in client_file().clients() if c.name == CONFIRMED)
    side = next((ear for ear in state.SIDES if client_file().draft(client.id, ear)), None)
    state.open_client(client.id, side)
    state.want("timeline")
