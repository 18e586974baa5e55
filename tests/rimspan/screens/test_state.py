"""The draft under hurried hands: runs overlap, taps come twice."""

from __future__ import annotations

from typing import Any

from streamlit.testing.v1 import AppTest

from rimspan.screens.store import FORGETTING


def overlapping() -> None:
    """Change the draft from a run that was overtaken while it still held an old one."""
    from rimspan.screens import state
    from rimspan.screens.document import changed

    old = state.document()

    def overtaken(now: dict) -> dict:
        return changed(now, posts=[{"gauge_mm": 1.2, "lengths_mm": [10.0]}])

    state.change(lambda d: changed(d, examined={"1": {"tissue": "firm"}}))
    assert "firm" not in str(old)
    state.change(overtaken)


def tapping() -> None:
    """Tap twice on what was drawn once, then on what is drawn next."""
    import streamlit as st

    from rimspan.screens import state

    number = state.turn("client")
    st.session_state["taps"] = [
        state.once("client", number),
        state.once("client", number),
        state.once("client", state.turn("client")),
    ]


def run(script: Any, visit: Any) -> AppTest:
    at = AppTest.from_function(script)
    at.session_state["client"] = visit.client
    at.session_state["side"] = "left"
    at.run()
    assert not at.exception
    return at


def test_a_run_that_was_overtaken_loses_nothing(measured: Any) -> None:
    run(overlapping, measured)
    draft = measured.draft()
    assert draft["examined"] == {"1": {"tissue": "firm"}}
    assert draft["posts"] == [{"gauge_mm": 1.2, "lengths_mm": [10.0]}]
    assert draft["photos"][0]["file"] == "flat.jpg"


def test_a_second_tap_does_nothing(measured: Any) -> None:
    assert run(tapping, measured).session_state["taps"] == [True, False, True]


def remembering() -> None:
    """Hold on to something dear, as a page does."""
    import streamlit as st

    from rimspan.screens import state

    state.restore()
    made = st.session_state.setdefault("made", [])
    state.remembered("photo", "of a client", lambda: made.append(1))


def test_a_visit_forgets_what_it_held_once_a_client_is_erased(visit: Any) -> None:
    at = AppTest.from_function(remembering).run()
    at.run()
    assert at.session_state["made"] == [1]
    for forget in FORGETTING:
        forget(["0" * 64])
    at.run()
    assert at.session_state["made"] == [1, 1]
    at.run()
    assert at.session_state["made"] == [1, 1]
