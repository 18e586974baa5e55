"""The demo clients, opened from the start page: rendered ears, invented people."""

from __future__ import annotations

from rimspan.demo.client import CONFIRMED, fill_client_file
from rimspan.demo.lay_out import samples
from rimspan.screens import state
from rimspan.screens.store import client_file


def open_demo_client() -> None:
    """Open the demo client whose assessment is confirmed; made first if it isn't there."""
    fill_client_file(client_file(), samples())
    client = next(c for c in client_file().clients() if c.name == CONFIRMED)
    side = next((ear for ear in state.SIDES if client_file().draft(client.id, ear)), None)
    state.open_client(client.id, side)
    state.want("timeline")
