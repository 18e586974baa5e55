"""Drawings of a photo's place among the five, of its card and of whether it is mirrored."""

from __future__ import annotations

from collections.abc import Collection, Sequence
from html import escape

from assess.view_guide import Sight
from assess.view_set import Side, View
from calibration.card import Card
from rimspan.screens.svg import ACCENT, ear_lines, picture, stroke

MISSING_DASH = 'stroke-dasharray="3 3"'


def view_place(view: View, side: Side, there: bool) -> str:
    """Return where the phone goes for a view: filled if a photo is there, else a dashed outline.

    Above as seen from beside, the card upright on the left; below as seen from the top, the card
    across.
    """
    rise_deg, aside_deg = view.sight_deg(side)
    beside = _phone_before_card(10.0, 52.0, -rise_deg, there)
    beside = f'<g transform="translate(0 10) scale(0.8)">{beside}</g>'  # steep ones stay inside
    top = _phone_before_card(10.0, 0.0, -aside_deg, there)
    body = beside + f'<g transform="translate(42 104) rotate(90) scale(0.7)">{top}</g>'
    label = f"the phone's place from beside and from the top, {'taken' if there else 'missing'}"
    return picture(body, 84, 168, label, "width:76px;height:auto")


def _phone_before_card(pivot_x: float, pivot_y: float, turn_deg: float, there: bool) -> str:
    """Return an upright card on the left, and a phone turned about it (clockwise) on the right."""
    reach = 58.0
    fill, ink = (ACCENT, "") if there else ("none", MISSING_DASH)
    phone = (
        f'<g transform="rotate({turn_deg:g} {pivot_x:g} {pivot_y:g})">'
        + stroke(f"M{pivot_x + 6:g} {pivot_y:g} H{pivot_x + reach - 3:g}", 1, MISSING_DASH)
        + f'<rect x="{pivot_x + reach:g}" y="{pivot_y - 13:g}" width="8" height="26" rx="2" '
        f'fill="{fill}" stroke="currentColor" stroke-width="1.5" {ink}/></g>'
    )
    level = stroke(f"M{pivot_x:g} {pivot_y:g} H{pivot_x + reach:g}", 0.7, 'opacity="0.4"')
    return stroke(f"M{pivot_x:g} {pivot_y - 18:g} V{pivot_y + 18:g}", 4) + level + phone


def sights(taken: Sequence[Sight], wanted: Sight | None) -> str:
    """Return where the phone was, as dots, and where it goes next, as a ring, from before the card.

    Up is above, sideways is aside; the cross is square-on, the rings every 20 degrees.
    """
    middle, deg = 60.0, 0.95

    def at(sight: Sight) -> tuple[float, float]:
        return middle + deg * sight.aside_deg, middle - deg * sight.rise_deg

    body = stroke(f"M{middle:g} 8 V112 M8 {middle:g} H112", 0.7, 'opacity="0.5"')
    for ring in (20, 40):
        body += (
            f'<circle cx="{middle:g}" cy="{middle:g}" r="{deg * ring:g}" fill="none" '
            'stroke="currentColor" stroke-width="0.7" opacity="0.5"/>'
        )
    for x, y in map(at, taken):
        body += f'<circle cx="{x:.1f}" cy="{y:.1f}" r="4" fill="{ACCENT}"/>'
    label = f"the phone's places from before the card: {len(taken)} taken"
    if wanted is not None:
        x, y = at(wanted)
        body += (
            f'<circle cx="{x:.1f}" cy="{y:.1f}" r="6" fill="none" stroke="currentColor" '
            f'stroke-width="2" {MISSING_DASH}/>'
        )
        label += ", the next one a dashed ring"
    return picture(body, 120, 120, label, "width:132px;height:auto")


def card_state(card: Card, seen_ids: Collection[int]) -> str:
    """Return a card with the corners that were seen as dots, the others as small crosses."""
    width, height = card.body_mm
    outline = f"M0 0 H{width:g} V{height:g} H0 Z"
    if card.window_mm is not None:
        left, top, right, _ = card.window_mm
        outline = f"M0 0 H{width:g} V{height:g} H{right:g} V{top:g} H{left:g} V{height:g} H0 Z"
    marks = ""
    for corner, (x, y) in zip(card.corner_ids, card.corners_mm(card.corner_ids), strict=True):
        if corner in seen_ids:
            marks += f'<circle cx="{x:g}" cy="{y:g}" r="2.6" fill="{ACCENT}"/>'
        else:
            marks += stroke(f"M{x - 2:g} {y - 2:g} l4 4 m0 -4 l-4 4", 1.2)
    label = f"card with {len(seen_ids)} of {len(card.corner_ids)} corners seen"
    return picture(_framed(stroke(outline, 2) + marks), width + 6, height + 6, label, _WIDE)


def no_card(card: Card) -> str:
    """Return a dashed outline where the card should have been."""
    width, height = card.body_mm
    body = stroke(f"M0 0 H{width:g} V{height:g} H0 Z", 2, 'stroke-dasharray="6 5"')
    return picture(_framed(body), width + 6, height + 6, "no card seen", _WIDE)


def facing(side: str, mirrored: bool) -> str:
    """Return the ear as it faces in the photo, with arrows to and fro if that is mirrored."""
    lines = ear_lines("right" if (side == "left") == mirrored else "left")
    arrows = ""
    if mirrored:
        arrows = stroke("M10 88 H62 M16 83 L10 88 L16 93 M56 83 L62 88 L56 93", 2)
    label = f"{side} ear, the photo is {'' if mirrored else 'not '}mirrored"
    return picture(lines + arrows, 72, 96, escape(label), "width:56px;height:auto")


_WIDE = "width:100%;max-width:110px;height:auto"


def _framed(body: str) -> str:
    return f'<g transform="translate(3 3)">{body}</g>'
