"""The channel today on the Visit page, and which length comes of it now."""

from __future__ import annotations

from collections.abc import Mapping
from functools import partial
from typing import Any

import streamlit as st

from assess.errors import AssessError
from assess.measure import DRAWS
from assess.result import PlacementOut
from assess.steps import U_CALIPER_MM
from assess.visit_measured import By, Downsized
from assess.visit_signs import Sign, asked_by
from calibration.frames import Array
from rimspan.downsizings import channel_today, downsizing_of
from rimspan.screens import recheck_work, state, visit_draft, work
from rimspan.screens.layout import html
from rimspan.screens.store import client_file
from rimspan.screens.visit_draft import keep_value
from rimspan.studio_clock import today
from rimspan.typed import in_html
from rimspan.visits import Piercing

Held = Mapping[str, Any]
BY: Mapping[By, str] = {"calipers": "by calipers", "marks": "as today's photo shows it"}


def today_fields(held: Held) -> None:
    """Draw where the channel is read with calipers today."""
    read, u = st.columns(2)
    for place, name, words, now, least in (
        (read, "caliper_mm", "Channel today, by calipers, mm (optional)", None, 0.1),
        (u, "caliper_u_mm", "its ± u (mm)", U_CALIPER_MM, 0.01),
    ):
        state.set_value(f"visit {name}", held.get(name) or now)
        place.number_input(
            words,
            min_value=least,
            max_value=40.0,
            step=0.1 if now is None else 0.05,
            format="%.2f",
            key=f"visit {name}",
            on_change=partial(keep_value, name, f"visit {name}"),
        )


def downsizing(
    held: Held, piercing: Piercing, placement: PlacementOut, *, kept: bool = False
) -> Downsized | None:
    """Return which length now comes of today's channel; None where it wasn't measured.

    Parameters
    ----------
    placement : as it was measured before the piercing
    kept : with all draws, as it is kept; else with fewer, as the page shows it
    """
    worn = visit_draft.before(held, piercing)
    draws = DRAWS if kept else work.LIVE_DRAWS
    found = None if worn is None else _channel(held, piercing, draws)
    if worn is None or found is None:
        return None
    signs = _signs(held, piercing, draws)
    file = client_file()
    return downsizing_of(file, piercing, placement, worn, found, asked_by(signs), today(file))


def said(found: Downsized) -> None:
    """Draw the lengths side by side."""
    lines = [f"Channel measured {BY[found.by]}.", *found.sentences]
    kinds = ["rim-flag" if found.waits and i == 1 else "rim-quiet" for i in range(len(lines))]
    body = "".join(
        f'<p class="{kind}">{in_html(line)}</p>' for kind, line in zip(kinds, lines, strict=True)
    )
    html(f'<div role="status">{body}</div>')


def _channel(held: Held, piercing: Piercing, draws: int) -> tuple[By, Array] | None:
    reading, u = held.get("caliper_mm"), held.get("caliper_u_mm") or U_CALIPER_MM
    calipers = (float(reading), float(u)) if reading else None
    now = recheck_work.marked_now(held, piercing)

    def found() -> tuple[By, Array] | None:
        try:
            shown = None if now is None else recheck_work.shown(now)
            return channel_today(piercing.label, calipers, shown, draws)
        except AssessError:
            return None

    key = [calipers, None if now is None else [now.marks, now.photos], piercing.label, draws]
    return state.remembered("channel today", key, found, most=3)


def swollen(held: Held, piercing: Piercing, draws: int = work.LIVE_DRAWS) -> bool:
    """Return whether the channel as seen is measurably longer than at the baseline."""
    found = recheck_work.beside_baseline(held, piercing, draws).rechecked
    return found is not None and found.swollen


def _signs(held: Held, piercing: Piercing, draws: int) -> list[Sign]:
    """Return the signs that are seen, and swelling where it is measured."""
    measured: list[Sign] = ["swollen"] if swollen(held, piercing, draws) else []
    return [*visit_draft.signs(held), *measured]
