"""The parts of the Wording page: a text beside the built-in one, and the field to change it."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence

import streamlit as st

from assess.talk.catalogue import sentences
from assess.talk.rewording import LONGEST, faults
from rimspan.client_papers import full_sheet_fits
from rimspan.clientfile import ClientFileError, RefusedError
from rimspan.languages import built_in
from rimspan.screens import chair, state
from rimspan.screens.layout import html
from rimspan.screens.store import client_file
from rimspan.screens.wording_words import CAUTION, DROPPED, TOO_LONG, became, hint, who
from rimspan.studio_clock import zone_of
from rimspan.studio_words import Reworded, changes_of, reword
from rimspan.typed import in_html

OPEN, REFUSED = "wording open", "wording refused"


def texts(names: Iterable[str], code: str, own: Mapping[str, str], *, may: bool) -> None:
    """Draw some texts, and the field for the one that is being changed."""
    base, changes, zone = built_in(code), changes_of(client_file(), code), zone_of(client_file())
    for name in [name for name in names if name in base]:
        with st.container(border=True, key=f"text-{name.replace('.', '-')}"):
            _text(name, base[name], own.get(name), code, changes.get(name, ()), zone)
            if not may:
                continue
            if state.value(OPEN) == (code, name):
                _editor(name, base[name], own.get(name), code)
            else:
                label = f"Change: {_beginning(base[name])}"
                key = f"change {code} {name}"
                st.button(label, key=key, on_click=_opened, args=(code, name))


def _beginning(text: str) -> str:
    words = text.split()
    return text if len(words) < 6 else f"{' '.join(words[:5])} ..."


def _text(
    name: str, base: str, own: str | None, code: str, past: Sequence[Reworded], zone: str
) -> None:
    sentence = sentences().get(name)
    tag = f" <span>{CAUTION}</span>" if sentence is not None and sentence.caution else ""
    said = f'<p lang="{code}">{in_html(own or DROPPED)}</p>' if own is not None else ""
    lines = "".join(
        f"<li>{in_html(became(each))} ({in_html(who(each, zone))})</li>" for each in past
    )
    stale = faults(name, own, code) if own is not None else []
    flags = "".join(f'<p class="rim-flag">{in_html(_not_used(f.what))}</p>' for f in stale)
    html(
        f'<div class="rim-words"><div><small>Built in{tag}</small><p lang="{code}">'
        f"{in_html(base)}</p></div><div>"
        f"<small>{'The studio says' if own is not None else 'In use as it is'}</small>{said}{flags}"
        + (
            f"<details><summary>Changed {len(past)} times</summary><ul>{lines}</ul></details>"
            if len(past) > 1
            else ""
        )
        + (f'<p class="rim-quiet">{in_html(who(past[0], zone))}</p>' if past else "")
        + "</div></div>"
    )


def _not_used(why: str) -> str:
    return f"Not used any more, the built-in text stands: {why}."


def _editor(name: str, base: str, own: str | None, code: str) -> None:
    key = f"words {code} {name}"
    if state.value(key) is None:
        state.set_value(key, base if own is None else own)
    st.text_area("The studio's words", key=key, max_chars=LONGEST)
    if said := hint(name, base):
        st.caption(said)
    if refused := state.value(REFUSED):
        html(f'<div class="rim-flag" role="alert">{in_html(str(refused))}</div>')
    with st.container(horizontal=True):
        st.button("Keep these words", type="primary", on_click=_kept, args=(code, name))
        if own is not None:
            st.button("Back to the built-in text", on_click=_back, args=(code, name))
        st.button("Leave it as it is", on_click=_closed, args=(code, name))


def _opened(code: str, name: str) -> None:
    state.set_value(OPEN, (code, name))
    state.set_value(REFUSED, None)
    state.set_value(f"words {code} {name}", None)


def _closed(code: str, name: str) -> None:
    _opened(code, name)
    state.set_value(OPEN, None)


def _kept(code: str, name: str) -> None:
    _set(code, name, str(state.value(f"words {code} {name}") or ""))


def _back(code: str, name: str) -> None:
    _set(code, name, None)


def _set(code: str, name: str, text: str | None) -> None:
    """Keep words, or say beside them why they are refused; what was typed stays then."""
    file = client_file()
    try:
        if text and not full_sheet_fits(file, code, {name: text}):
            raise RefusedError(TOO_LONG)
        reword(file, chair.person(), code, name, text)
    except ClientFileError as refused:
        said = str(refused)
        state.set_value(REFUSED, f"Nothing was changed. {said[:1].upper()}{said[1:].rstrip('.')}.")
        return
    _closed(code, name)
    state.say("The built-in text stands again." if text is None else "Kept.")
