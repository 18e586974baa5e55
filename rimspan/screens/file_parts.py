"""The parts of a client's file: consents, photos moved, revisions made void, the way out."""

from __future__ import annotations

from functools import partial

import streamlit as st

from rimspan import studio
from rimspan.clientfile import Client, Person, Revision, StoredPhoto, export_zip
from rimspan.screens import chair, layout, state
from rimspan.screens.acting import act
from rimspan.screens.drafts import move_photo
from rimspan.screens.file_words import (
    ERASE,
    EXPORT,
    MOVE,
    WALK_IN,
    WITHDRAWN,
    consent_row,
    consent_words,
    event_row,
)
from rimspan.screens.store import client_file
from rimspan.typed import in_html, in_markdown, shown


def consents(client: str) -> None:
    """Draw whether photos may be kept, and where the client's word is noted."""
    known = client_file().consents.of(client)
    st.write(consent_words(known))
    if known and not known[-1].given:
        st.write(WITHDRAWN)
    st.text_input("Note (optional): how it was given", key="consent note", max_chars=200)
    with st.container(horizontal=True):
        for given, label in ((True, "Consent given"), (False, "Consent withdrawn")):
            st.button(label, on_click=_consent, args=(client, given))
    if known:
        st.table([consent_row(each) for each in reversed(known)])


def _consent(client: str, given: bool) -> None:
    note = str(state.value("consent note", ""))
    act(
        lambda: studio.consent(client_file(), chair.person(), client, given, note),
        f"Noted: consent {'given' if given else 'withdrawn'}.",
        "consent note",
    )


def photos(client: str) -> None:
    """Draw the photos that are kept, and where one is moved to the right client."""
    kept = client_file().photos(client)
    if not kept:
        st.write("No photo is kept.")
        return
    st.write(MOVE)
    others = [each for each in client_file().clients() if each.id != client]
    with st.form("move", border=True):
        st.selectbox("Photo", kept, format_func=_photo_name, key="move photo")
        st.selectbox("To", others, format_func=lambda each: shown(each.name), key="move to")
        st.text_input("Reason", key="move reason", max_chars=300)
        st.form_submit_button("Move the photo", on_click=_moved)


def _photo_name(photo: StoredPhoto) -> str:
    return f"{shown(photo.filename)}, {photo.side} ear"


def _moved() -> None:
    photo, to = state.value("move photo"), state.value("move to")
    if photo is None or to is None:
        state.say("Choose a photo and the client it belongs to.")
        return
    reason, by = str(state.value("move reason", "")), chair.person()
    act(
        lambda: studio.move_photo(client_file(), by, photo, to.id, reason, move_photo),
        f"{in_markdown(photo.filename)} lies in the file of {in_markdown(to.name)} now.",
        "move reason",
    )


def void(revision: Revision) -> None:
    """Draw where a revision is made void."""
    with st.popover("Make it void"):
        st.write("It stays readable as it was, and counts no more.")
        st.text_input("Reason", key=f"void {revision.id}", max_chars=300)
        st.button("Void, for good", key=f"void it {revision.id}", on_click=_void, args=(revision,))


def _void(revision: Revision) -> None:
    reason = str(state.value(f"void {revision.id}", ""))
    act(
        lambda: studio.void(client_file(), chair.person(), revision.id, reason),
        f"Revision {revision.number} is void.",
    )


def history(client: str) -> None:
    """Draw what was done with the file, the newest first."""
    numbers = {each.id: str(each.number) for each in client_file().revisions(client)}
    events = client_file().history.of(client)
    st.table([event_row(event, numbers) for event in reversed(events)])


def export(client: Client, person: Person) -> None:
    """Draw the download of all that is kept, for whom may hand it out."""
    if not person.role.may_confirm:
        st.write("A piercer hands out what is kept of a client.")
        return
    st.write(EXPORT)
    st.download_button(
        "Download all that is kept (ZIP)",
        data=partial(_exported, client.id, person),
        file_name=f"client-{client.id[:8]}.zip",
        mime="application/zip",
        on_click="ignore",
        key=f"export {client.id}",
    )


def _exported(client: str, person: Person) -> bytes:
    """Return the ZIP; made where the page isn't there to ask who sits at it."""
    studio.may_export(client_file(), person)
    return export_zip(client_file(), client)


def erase(client: Client, person: Person) -> None:
    """Draw where a manager erases the client."""
    st.write(ERASE)
    if not person.role.may_manage:
        st.write("A manager erases a client.")
        return
    layout.html(f'<p class="rim-says">{in_html(client.name)}</p>')
    st.text_input("Type the name as it stands above", key="erase name", max_chars=120)
    st.button("Erase this client for good", on_click=_erased, args=(client.id,))


def _erased(client: str) -> None:
    typed = str(state.value("erase name", ""))
    by = chair.person()
    if act(lambda: studio.erase(client_file(), by, client, typed), "", "erase name"):
        state.open_client(None)
        state.leave_for("clients")
        state.say("The client is erased. Make a backup now: a restore then erases them again.")


def keep_walk_in(client: str) -> None:
    """Draw where a walk-in is kept under a name, or let go."""
    with st.container(border=True):
        st.write(WALK_IN)
        st.text_input("Name or a sign of your own", key="keep name", max_chars=120)
        with st.container(horizontal=True):
            st.button("Keep this client", on_click=_kept, args=(client,))
            st.button("Let go", on_click=_let_go, args=(client,))


def _kept(client: str) -> None:
    name = str(state.value("keep name", "")).strip()
    if not name:
        state.say("The name is empty. Type one and keep the client again.")
        return
    by = state.piercer()
    act(lambda: client_file().keep_walk_in(client, name, by=by), "Kept.", "keep name")


def _let_go(client: str) -> None:
    by = state.piercer()
    if act(lambda: client_file().let_go(client, by=by), "", "keep name"):
        state.open_client(None)
        state.leave_for("clients")
        state.say("The walk-in is let go: nothing of it can be read any more.")
