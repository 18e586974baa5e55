"""The Visit page's comparison: today's photo, both markings, what changed since the baseline."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

import streamlit as st

from assess.errors import AssessError
from assess.recheck_change import NotComparable
from assess.recheck_result import (
    about_sentences,
    considered_of,
    first_of,
    measured_sentences,
)
from assess.recheck_series import points_of
from assess.recheck_visit import Rechecked
from assess.recheck_words import first_sentences
from calibration.photo import PhotoError
from rimspan.clientfile import ClientFileError
from rimspan.post_marks import lacking
from rimspan.rechecks import Baseline
from rimspan.screens import (
    chair,
    recheck_bench,
    recheck_draft,
    recheck_work,
    state,
    trend_parts,
    visit_draft,
    work,
)
from rimspan.screens.document import Document, files
from rimspan.screens.layout import html
from rimspan.screens.phone.arrival import kept_name, plain_name
from rimspan.screens.recheck_words import (
    baseline_words,
    lacks_words,
    later_words,
    photo_html,
    view_words,
)
from rimspan.screens.recheck_work import BesideBaseline
from rimspan.screens.store import client_file
from rimspan.typed import in_html, in_markdown
from rimspan.visits import Piercing

Held = Mapping[str, Any]
TYPES = ["jpg", "jpeg", "png", "heic", "heif", "hif"]


def recheck(held: Held, piercing: Piercing) -> None:
    """Draw where today's photo is brought, what it says once it is there, and the trend."""
    st.subheader("What changed", anchor=False)
    seen = recheck_work.beside_baseline(held, piercing)
    held_against = baseline_words(seen.base, marked_today=seen.against is not None)
    html(f'<p class="rim-quiet">{in_html(held_against)}</p>')
    state.set_value("recheck drawn", _drawn(seen))
    if recheck_draft.photos_of(held, "now") is None:
        _uploader(piercing)
    else:
        _bench(piercing.label)
    trend_parts.trend(recheck_work.over_visits(piercing, seen))


def _uploader(piercing: Piercing) -> None:
    count = int(state.value("recheck photos", 0))
    st.file_uploader(
        "Today's photo with the card, the post in, as the baseline was taken (optional)",
        type=TYPES,
        key=f"recheck photo {count}",
        on_change=_brought,
        args=(piercing.revision.side, count),
    )


def _brought(side: str, count: int) -> None:
    upload = state.value(f"recheck photo {count}")
    if upload is not None:
        state.set_value("recheck photos", count + 1)
        photo_came(side, str(upload.name), upload.getvalue())


def photo_came(side: str, name: str, data: bytes) -> None:
    """Keep a photo in the client's file and put it into the open visit."""
    client, person, plain = state.client_id(), chair.person(), plain_name(name)
    if client is None or person is None:
        return
    try:
        kept = client_file().add_photo(client, data, kept_name(plain, data), side, by=person.name)
    except (PhotoError, ClientFileError) as error:
        state.say(in_markdown(f"{plain}: {error}"))
        return
    recheck_draft.add_photo(kept.filename, kept.sha256, side)
    held = visit_draft.held_in(state.document())
    piercing = visit_draft.piercing_of(held)
    base = None if piercing is None else recheck_work.baseline_of(piercing)
    if base is not None and base.kept is None:
        _mark_baseline(base, side)


def _mark_baseline(base: Baseline, side: str) -> None:
    recheck_draft.keep("baseline", lambda old: old or recheck_draft.begun(base, side))


def _drawn(seen: BesideBaseline) -> object:
    """Return what the rest of the page was drawn by: once it differs, the page is drawn anew."""
    if seen.rechecked is None:
        return seen.against is not None
    return [(point.followed, round(point.value, 6)) for point in points_of(seen.rechecked)]


@st.fragment
def _bench(label: str) -> None:
    """Draw the photo that is marked, and what it says; every change of its marks is kept."""
    state.check_open()
    held = visit_draft.held_in(state.document())
    piercing = visit_draft.piercing_of(held)
    now = recheck_draft.photos_of(held, "now")
    if piercing is None or piercing.label != label or now is None:
        return
    seen = recheck_work.beside_baseline(held, piercing)
    base, first = seen.base, recheck_draft.photos_of(held, "baseline")
    which, file = _chosen(now, first)
    photos = first if which == "baseline" and first is not None else now
    with st.spinner("Looking for the card ..."):
        reading = work.reading(photos, file)
    look = None
    if which == "now":
        look = recheck_work.look(seen.against, now, file, label)
    html(photo_html(reading, look))
    with st.container(horizontal=True):
        if which == "now":
            st.button("Another photo instead", on_click=recheck_draft.take_out, args=(file,))
        if base is not None and first is None:
            st.button(
                "Mark the baseline anew",
                on_click=_mark_baseline,
                args=(base, piercing.revision.side),
            )
    place = st.container()
    if which == "baseline":
        html(f'<p class="rim-quiet">{in_html(later_words(base))}</p>')
    _answer(held, piercing, now, seen)
    with place:  # last: what reaches the marking tells it that the number is out
        over = None if which == "baseline" else _over(now, file, label, seen)
        if reading.fit is not None:
            recheck_bench.mark(photos, which, file, label, over)
    if _drawn(seen) != state.value("recheck drawn"):
        st.rerun()


def _chosen(now: Document, first: Document | None) -> tuple[recheck_draft.Which, str]:
    """Return the photo to mark: of today, or of the baseline."""
    places: dict[str, tuple[recheck_draft.Which, str]] = {
        f"Today: {name}": ("now", name) for name in files(now)
    }
    if first is not None:
        places |= {f"Baseline: {name}": ("baseline", name) for name in files(first)}
    names = list(places)
    if len(names) == 1:
        return places[names[0]]
    picked = st.segmented_control(
        "Which photo is marked",
        names,
        default=names[0],
        format_func=in_markdown,
        key=f"recheck which {names}",
        label_visibility="collapsed",
    )
    return places[picked or names[0]]


def _over(now: Document, file: str, label: str, seen: BesideBaseline) -> dict[str, Any] | None:
    """Return the earlier outline where this photo's view is refused."""
    if seen.rechecked is not None:
        change = seen.rechecked.change
        refused = isinstance(change, NotComparable) and change.why == "view"
        return dict(seen.rechecked.outline_px) if refused else None
    look = recheck_work.look(seen.against, now, file, label)
    return dict(look.outline_px) if look is not None and look.refused is not None else None


def _answer(held: Held, piercing: Piercing, now: Document, seen: BesideBaseline) -> None:
    """Draw what changed, or what is lacking first."""
    if seen.rechecked is not None:
        worn = visit_draft.before(held, piercing)
        _changed(seen.rechecked, None if worn is None else worn.length_mm)
        return
    lines = [str(seen.found)] if isinstance(seen.found, AssessError) else []
    if seen.base is not None and seen.against is None:
        lines.append("Mark the baseline's photo too: choose it above.")
    looks = [recheck_work.look(seen.against, now, file, piercing.label) for file in files(now)]
    lines += [view_words(look) for look in looks if look is not None]
    if not all(look is not None and look.refused is not None for look in looks):
        lines.append(lacks_words(lacking(now, piercing.label), alone=seen.base is None))
    body = "".join(f'<p class="rim-flag">{in_html(line)}</p>' for line in lines if line)
    html(f'<div role="status">{body}</div>')


def _changed(found: Rechecked, length_mm: float | None) -> None:
    """Draw what comes first, what was measured, what a piercer considers, what holds of it all."""
    first = first_sentences(first_of(found, length_mm))
    body = "".join(f'<p class="rim-flag" role="alert">{in_html(s)}</p>' for s in first)
    quiet = f"From {work.LIVE_DRAWS:,} draws, for a first look; what is kept is from 100,000."
    refused = isinstance(found.change, NotComparable)
    for kind, said in (
        ("rim-flag" if refused else "rim-change", measured_sentences(found)),
        ("rim-considered", considered_of(found)),
        ("rim-quiet", (*about_sentences(found), quiet)),
    ):
        body += "".join(f'<p class="{kind}">{in_html(line)}</p>' for line in said)
    html(f'<div role="status">{body}</div>')
