"""The studio's time zone: set by a manager, and what stands for it until then."""

from __future__ import annotations

from functools import partial
from zoneinfo import available_timezones

import streamlit as st

from rimspan.screens import chair, state
from rimspan.screens.acting import act
from rimspan.screens.store import client_file
from rimspan.studio_clock import set_zone, zone_of

ABOUT = (
    "Visits are agreed by this clock, and the calendar file keeps it when the clocks change. Until "
    "it is set, that of the screen counts at which a time is agreed."
)


def zone() -> str:
    """Return the studio's time zone, or that of this screen while none is set."""
    own = st.context.timezone
    return zone_of(client_file()) or (own if own in available_timezones() else "UTC")


def clock() -> None:
    """Draw the choice of the studio's time zone."""
    named = sorted(name for name in available_timezones() if "/" in name or name == "UTC")
    now = state.value("zone") or zone()
    state.set_value("zone", now if now in named else "UTC")
    st.selectbox("Time zone of the studio", named, key="zone")
    st.button("Set the time zone", on_click=_set)
    st.write(ABOUT)


def _set() -> None:
    name = str(state.value("zone"))
    act(
        partial(set_zone, client_file(), chair.person(), name),
        f"Visits are agreed by the clock of {name.replace('_', ' ')}.",
    )
