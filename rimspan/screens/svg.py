"""Small drawings for the pages, as inline SVG: ink follows the page's text colour.

Shapes and words say everything; colour only helps.  Lengths are the drawing's own units.
"""

from __future__ import annotations

import math
from html import escape
from typing import Literal

from calibration.flags import FAR_MM, NEAR_MM

ACCENT = "#3b78bb"
"""At least 4 to 1 on the light and on the dark ground, so it serves both."""

Side = Literal["left", "right"]

GOOD_MM = (NEAR_MM, FAR_MM)
BEST_MM = (250.0, 300.0)
SHOWN_MM = (100.0, 450.0)
"""Distances: the stretch without a warning, what is advised, and what the bar shows."""

PHONES = (
    (0, "square-on"),
    (-22, "20° above"),
    (-38, "35° above"),
    (22, "20° below"),
    (38, "35° below"),
)
"""Where the phone goes for a set of five."""

_RIM = (
    "M21 40 C12 22 20 5 38 5 C55 5 61 22 57 37 C54 51 45 56 42 65 "
    "C39 73 31 76 26 71 C22 67 25 60 24 54"
)
_FOLD = "M28 34 C25 21 30 13 38 13 C48 13 52 24 50 34 C48 44 41 48 38 56"
_TRAGUS = "M24 54 C25 49 17 48 21 40"


def picture(body: str, width: float, height: float, label: str, css: str = "") -> str:
    """Return a whole SVG whose label is read aloud in its stead."""
    return (
        f'<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 {width:g} {height:g}" role="img" '
        f'aria-label="{escape(label)}" style="{css}">{body}</svg>'
    )


def text(x: float, y: float, words: str, size: float = 12, anchor: str = "middle") -> str:
    """Return words at a place; ``y`` is their baseline."""
    return (
        f'<text x="{x:g}" y="{y:g}" font-size="{size:g}" text-anchor="{anchor}" '
        f'fill="currentColor">{escape(words)}</text>'
    )


def stroke(path: str, width: float = 2, extra: str = "") -> str:
    """Return an open line in the page's ink."""
    return (
        f'<path d="{path}" fill="none" stroke="currentColor" stroke-width="{width:g}" '
        f'stroke-linecap="round" stroke-linejoin="round" {extra}/>'
    )


def ear(side: str, height_px: int = 44) -> str:
    """Return a small outline of an ear as it is seen beside the head, the face on its side.

    Seen from beside the head, a left ear has the face to the viewer's left.
    """
    css = f"height:{height_px}px;width:auto;vertical-align:middle"
    return picture(ear_lines(side), 72, 80, f"{side} ear", css)


def ear_lines(side: str) -> str:
    """Return the ear's outline alone, 72 wide and 80 high."""
    lines = stroke(_RIM, 3) + stroke(_FOLD, 2) + stroke(_TRAGUS, 3)
    return lines if side == "left" else f'<g transform="translate(72 0) scale(-1 1)">{lines}</g>'


def phone(tilt_deg: float | None, seen_from: str) -> str:
    """Return a phone drawn at the angle at which it was held before the ear.

    ``seen_from`` is ``above``, ``below``, ``front``, ``behind`` or ``level``; front and behind
    are drawn as one looks down on the head.
    """
    if tilt_deg is None:
        return ""
    down = seen_from in {"below", "behind"}
    turn = tilt_deg if down else -tilt_deg
    swing = math.radians(abs(tilt_deg))
    # As far as the phone's corner swings, and never less than the card's own half.
    room = max(30.0, 91 * math.sin(swing) + 24 * math.cos(swing) + 2)
    middle, height = (30.0, 30 + room + 20) if down else (room, room + 50)
    device = (
        f'<g transform="rotate({turn:.1f} 24 {middle:.1f})">'
        + stroke(f"M32 {middle:.1f} H104", 1, 'stroke-dasharray="3 4"')
        + f'<rect x="106" y="{middle - 24:.1f}" width="9" height="48" rx="3" fill="{ACCENT}"/>'
        + "</g>"
    )
    level = stroke(f"M32 {middle:.1f} H116", 0.7, 'opacity="0.4"')
    card = stroke(f"M24 {middle - 26:.1f} V{middle + 26:.1f}", 4)
    words = {"level": "square-on"}.get(seen_from, f"from {seen_from}")
    label = f"phone {tilt_deg:.0f} degrees {words}"
    caption = text(70, height - 5, f"{tilt_deg:.0f}° {words}", 14)
    drawn = level + card + device + caption
    return picture(drawn, 140, round(height), label, "width:100%;max-width:170px")


def distance(distance_mm: float | None) -> str:
    """Return a bar of distances with the good stretch on it and a pointer at this one."""
    if distance_mm is None:
        return ""
    left, right = 10.0, 210.0

    def x(value_mm: float) -> float:
        low, high = SHOWN_MM
        share = (min(max(value_mm, low), high) - low) / (high - low)
        return left + share * (right - left)

    good = "".join(
        f'<rect x="{x(low):.1f}" y="{y}" width="{x(high) - x(low):.1f}" height="{height}" '
        f'fill="{ACCENT}" opacity="{ink}"/>'
        for (low, high), y, height, ink in ((GOOD_MM, 28, 12, 0.4), (BEST_MM, 31, 6, 0.9))
    )
    frame = (
        f'<rect x="{left:g}" y="28" width="{right - left:g}" height="12" rx="3" fill="none" '
        'stroke="currentColor" stroke-width="1"/>'
    )
    at = x(distance_mm)
    pointer = (
        f'<path d="M{at:.1f} 26 l-6 -9 h12 z" fill="currentColor"/>'
        f'<path d="M{at:.1f} 26 V42" stroke="currentColor" stroke-width="2"/>'
    )
    anchor = "start" if at < 60 else "end" if at > 160 else "middle"
    words = text(at, 13, f"{distance_mm:.0f} mm", 13, anchor)
    ends = text((left + right) / 2, 56, "good 200 to 350, best 250 to 300 mm", 12)
    label = f"{distance_mm:.0f} mm away; good is 200 to 350 mm, best 250 to 300 mm"
    return picture(
        good + frame + pointer + words + ends, 220, 62, label, "width:100%;max-width:260px"
    )


def bar(share: Literal["whole", "half", "empty"], label: str) -> str:
    """Return the verdict's bar: whole, half or empty."""
    filled = {"whole": 116.0, "half": 58.0, "empty": 0.0}[share]
    body = (
        f'<rect x="2" y="2" width="{filled:g}" height="16" fill="{ACCENT}"/>'
        '<rect x="2" y="2" width="116" height="16" rx="2" fill="none" stroke="currentColor" '
        'stroke-width="2"/>'
    )
    return picture(body, 120, 20, label, "height:20px;width:auto;vertical-align:middle")


def where_to_hold() -> str:
    """Return how the frame card is held and where the phone goes, from beside and from above."""
    radius, phones = 118.0, ""
    for angle, name in PHONES:
        x = 60 + radius * math.cos(math.radians(angle))
        y = 100 + radius * math.sin(math.radians(angle))
        fill = ACCENT if angle == 0 else "none"
        phones += (
            f'<g transform="translate({x:.0f} {y:.0f}) rotate({angle})">'
            f'<rect x="-4" y="-13" width="8" height="26" rx="2" fill="{fill}" '
            'stroke="currentColor" stroke-width="1.5"/></g>'
        ) + text(x + 14, y + 4, name, 11, "start")
    card = stroke("M60 66 V134", 4) + text(50, 104, "card", 12, "end")
    return picture(card + phones, 260, 200, "where the phone goes", "width:100%;max-width:340px")
