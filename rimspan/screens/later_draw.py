"""The drawing of what a channel allows later: a straight post, the tightest bar, the smallest ring.

Each is drawn at one scale beside the channel; the rim's tissue as half an ellipse.  A ring that is
too large for the drawing shows the part of it that goes through the channel.
"""

from __future__ import annotations

import math

from assess.later_table import Allowed
from calibration.quantity import Quantity
from rimspan.screens.svg import ACCENT, picture, stroke, text

WIDTH, HEIGHT, MIDDLE = 480.0, 210.0, 100.0
PX_PER_MM = 9.0
DASHED = 'stroke-dasharray="3 3"'
PLACES = (80.0, 240.0, 400.0)
MOST_MM = 10.0
"""What is longer than this is drawn smaller, all three alike."""
LARGEST_PX, SHOWN_PX = 70.0, 75.0
"""The largest ring's radius that is drawn whole, and half of what is shown of a larger one."""


def later_svg(told: Allowed) -> str:
    """Return the drawing; what is read aloud says the same figures."""
    ring = told.least.ring_inner
    scale = PX_PER_MM * min(1.0, MOST_MM / max(told.channel_mm, 1.0))
    body = _straight(told, scale, PLACES[0]) + _curved(told, scale, PLACES[1])
    body += _ring(told, ring, scale, PLACES[2])
    return picture(body, WIDTH, HEIGHT, _label(told), "width:100%;max-width:640px;height:auto")


def _label(told: Allowed) -> str:
    ring = told.least.ring_inner
    said = f"A channel of {told.channel_mm:.1f} mm; the tightest bend has a radius of about "
    said += f"{told.least.radius.value:.0f} mm"
    return said if ring is None else f"{said}, the smallest ring {ring.value:.0f} mm inside"


def _rim(told: Allowed, scale: float, x: float) -> str:
    """Return the channel's wall and the tissue beside it."""
    half = told.channel_mm * scale / 2.0
    deep = (told.tissue_mm if told.tissue_mm is not None else told.channel_mm / 2.0) * scale
    top, bottom = MIDDLE - half, MIDDLE + half
    skin = f"M{x:g} {top:.1f} A{deep:.1f} {half:.1f} 0 0 1 {x:g} {bottom:.1f}"
    dashed = "" if told.tissue_mm is not None else 'stroke-dasharray="2 4"'
    return stroke(skin, 1.5, dashed) + stroke(f"M{x:g} {top:.1f} V{bottom:.1f}", 1)


def _wire(path: str, told: Allowed, scale: float) -> str:
    width = told.wire_mm * scale
    return (
        f'<path d="{path}" fill="none" stroke="{ACCENT}" stroke-width="{width:.1f}" '
        'stroke-linecap="round" opacity="0.75"/>'
    )


def _straight(told: Allowed, scale: float, x: float) -> str:
    half = told.channel_mm * scale / 2.0 + 4.0
    drawn = _wire(f"M{x:g} {MIDDLE - half:.1f} V{MIDDLE + half:.1f}", told, scale)
    return _rim(told, scale, x) + drawn + text(x, HEIGHT - 8.0, "straight", 13)


def _curved(told: Allowed, scale: float, x: float) -> str:
    drawn = _rim(told, scale, x)
    radius = told.least.radius
    half = told.channel_mm * scale / 2.0 + 4.0
    for value in (radius.low, radius.high):
        drawn += stroke(_arc(x, half, value * scale), 1, DASHED)
    drawn += _wire(_arc(x, half, radius.value * scale), told, scale)
    return drawn + text(x, HEIGHT - 8.0, f"radius {radius.value:.0f} mm or more", 13)


def _arc(x: float, half: float, radius: float) -> str:
    bent = max(radius, half)
    return f"M{x:g} {MIDDLE - half:.1f} A{bent:.1f} {bent:.1f} 0 0 1 {x:g} {MIDDLE + half:.1f}"


def _ring(told: Allowed, ring: Quantity | None, scale: float, x: float) -> str:
    left = x - 30.0
    drawn = _rim(told, scale, left)
    if ring is None:
        return drawn + text(x, HEIGHT - 8.0, "ring: can't tell", 13)
    half = told.channel_mm * scale / 2.0
    for value, wide in ((ring.low, 0.0), (ring.high, 0.0), (ring.value, 1.0)):
        radius = max((value + told.wire_mm) * scale / 2.0, half)
        if (ring.high + told.wire_mm) * scale / 2.0 > LARGEST_PX:
            part = _arc(left, min(SHOWN_PX, radius), radius)
            drawn += _wire(part, told, scale) if wide else stroke(part, 1, DASHED)
            continue
        centre = left + math.sqrt(max(radius**2 - half**2, 0.0))
        around = (
            f"M{centre - radius:.1f} {MIDDLE:g} "
            f"a{radius:.1f} {radius:.1f} 0 1 1 {2 * radius:.1f} 0 "
            f"a{radius:.1f} {radius:.1f} 0 1 1 {-2 * radius:.1f} 0"
        )
        drawn += _wire(around, told, scale) if wide else stroke(around, 1, DASHED)
    return drawn + text(x, HEIGHT - 8.0, f"ring {ring.value:.0f} mm inside or more", 13)
