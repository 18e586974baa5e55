"""The parts of the Outcomes page that say which limits are in force, and change them."""

from __future__ import annotations

from functools import partial

import streamlit as st

from assess.changed_criteria import CHOOSING, LIMITED, MOST_MM, Sides
from assess.criteria import Criteria
from assess.day_words import in_words
from assess.wording import CRITERION_WORDS, capital, limit_words
from rimspan import studio_limits
from rimspan.screens import chair, state
from rimspan.screens.acting import act
from rimspan.screens.layout import html
from rimspan.screens.store import client_file
from rimspan.studio_clock import day_of
from rimspan.typed import in_html, in_markdown

NAMES = CRITERION_WORDS | {
    "spare_initial": "spare length at first",
    "spare_downsized": "spare length after downsizing",
    "post": "thickness of the post",
}
SIDE_NAMES = ("at least", "at most")


def in_force(criteria: Criteria) -> None:
    """Draw the limits in force, and what each rests on."""
    said = f"{criteria.name}, version {criteria.version}"
    html(f'<p class="rim-live">{in_html(said)}</p>')
    rows = [
        {
            "Limit": capital(NAMES[name]),
            "Wanted": limit_words(criteria.limits[name]),
            "Rests on": criteria.limits[name].basis,
        }
        for name in (*LIMITED, *CHOOSING)
    ]
    st.table(rows)
    for version in studio_limits.versions(client_file()):
        at = in_words(day_of(client_file(), version.at))
        words = f"Version {version.criteria.version}, {at}, by {version.by}: {version.why}"
        st.write(in_markdown(words))


def change(criteria: Criteria) -> None:
    """Draw where a manager sets another version."""
    person = chair.person()
    if person is None or not person.role.may_manage:
        st.write("A manager changes the limits.")
        return
    with st.expander("Change the limits: a new version, from now on"):
        st.write(
            "Every assessment that isn't saved yet is measured against the new limits; saved ones "
            "keep those they were made with."
        )
        number = state.turn("limits")
        for name in (*LIMITED, *CHOOSING):
            limit = criteria.limits[name]
            low, high = st.columns(2)
            for place, side, words in zip(
                (low, high), (limit.low, limit.high), SIDE_NAMES, strict=True
            ):
                if side is not None:
                    place.number_input(
                        f"{capital(NAMES[name])}, {words}, mm",
                        min_value=0.0,
                        max_value=MOST_MM,
                        value=side,
                        step=0.1,
                        key=_key(name, words, criteria),
                    )
        st.text_input("Why they change", key="limits why", max_chars=300)
        st.button("Set the limits", on_click=_set, args=(criteria, number))


def _key(name: str, side: str, criteria: Criteria) -> str:
    return f"limit {name} {side} {criteria.name} {criteria.version}"


def _set(criteria: Criteria, number: int) -> None:
    sides: dict[str, Sides] = {}
    for name in (*LIMITED, *CHOOSING):
        limit = criteria.limits[name]
        low, high = (
            None if side is None else float(state.value(_key(name, words, criteria), side))
            for side, words in zip((limit.low, limit.high), SIDE_NAMES, strict=True)
        )
        sides[name] = (low, high)
    token = state.token("limits", number)
    done = act(
        partial(
            studio_limits.set_criteria,
            client_file(),
            chair.person(),
            sides,
            str(state.value("limits why", "")),
            token,
        ),
        "The new limits are in force.",
        "limits why",
    )
    if done:
        state.once("limits", number)
