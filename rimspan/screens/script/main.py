"""The script that Streamlit runs at every step of a visit: head, then the page that is open."""

from __future__ import annotations

import streamlit as st

from rimspan.clientfile import ClientFileError, LockedError
from rimspan.screens import chair, layout, navigation, other_chair, sign_in_page, state
from rimspan.screens.store import client_file

CANNOT = "can't be opened"


def run() -> None:
    """Draw the page that is open, or the sign-in."""
    st.set_page_config(page_title="Rimspan", layout="wide", initial_sidebar_state="collapsed")
    try:
        client_file()
    except ClientFileError as error:
        locked = isinstance(error, LockedError)
        st.title(f"The client file {'is locked' if locked else CANNOT}", anchor=False)
        st.text(str(error))
        return
    page = st.navigation(navigation.every_page(), position="hidden")
    seat = chair.seat(used=True)
    if seat is None or seat.locked:
        layout.style()
        sign_in_page.show(seat)
        return
    state.sit_down(seat)
    state.restore()
    state.publish()
    wanted = state.wanted()
    if wanted and wanted != (page.url_path or navigation.HOME):
        navigation.go(wanted)
    st.set_page_config(page_title=f"{page.title} · Rimspan")
    state.at_page(page.url_path or navigation.HOME)
    layout.style()
    layout.head(page.url_path or navigation.HOME)
    state.look_at_ear()
    if (document := state.open_document()) is not None:
        other_chair.notice(document)
    page.run()


run()
