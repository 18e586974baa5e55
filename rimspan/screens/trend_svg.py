"""A small chart of one number over the visits, each with its interval; the words stand beside."""

from __future__ import annotations

import math
from collections.abc import Callable

from assess.recheck_series import UNIT, WHAT, Followup
from assess.wording import capital
from rimspan.screens.svg import ACCENT, picture, stroke, text

WIDTH, HEIGHT = 300.0, 132.0
LEFT, RIGHT, TOP, BOTTOM = 44.0, 288.0, 12.0, 104.0
LEAST_SPAN = 1.0
APART = 18.0


def chart(found: Followup) -> str:
    """Return the chart: the baseline at nothing, each visit as a dot with its 95 % interval."""
    bars = [(found.weeks(seen.on), *seen.interval) for seen in found.seen]
    last = max(bars[-1][0], LEAST_SPAN)
    low = min(0.0, *(bar[1] for bar in bars))
    high = max(0.0, *(bar[3] for bar in bars))
    if high - low < LEAST_SPAN:
        high = low + LEAST_SPAN

    def x(weeks: float) -> float:
        return LEFT + 8 + (RIGHT - LEFT - 16) * weeks / last

    def y(value: float) -> float:
        return BOTTOM - (BOTTOM - TOP) * (value - low) / (high - low)

    unit = UNIT[found.followed]
    body = stroke(f"M{LEFT:g} {y(0.0):.1f} H{RIGHT:g}", 1, 'stroke-dasharray="3 4"')
    body += stroke(f"M{LEFT:g} {TOP:g} V{BOTTOM:g}", 1)
    for value in {low, 0.0, high}:
        body += text(LEFT - 5, y(value) + 4, f"{value:.1f}".replace("-0.0", "0.0"), 11, "end")
    body += text(LEFT - 5, TOP - 2, unit, 10, "end") if unit != "°" else ""
    if found.trend is not None and found.trend.said and found.drift_end is not None:
        end = found.drift_end
        body += stroke(f"M{x(0.0):.1f} {y(0.0):.1f} L{x(last):.1f} {y(end):.1f}", 1.6)
    body += _square(x(0.0), y(0.0))
    for weeks, below, middle, above in bars:
        body += stroke(f"M{x(weeks):.1f} {y(below):.1f} V{y(above):.1f}", 2)
        for at in (below, above):
            body += stroke(f"M{x(weeks) - 4:.1f} {y(at):.1f} h8", 2)
        body += (
            f'<circle cx="{x(weeks):.1f}" cy="{y(middle):.1f}" r="4.5" fill="{ACCENT}" '
            'stroke="currentColor" stroke-width="1"/>'
        )
    body += _weeks([0.0, *(bar[0] for bar in bars)], x)
    label = f"{capital(WHAT[found.followed])} over {len(bars)} visits since the baseline"
    return picture(body, WIDTH, HEIGHT, label, "width:100%;max-width:340px")


def _square(x: float, y: float) -> str:
    return f'<rect x="{x - 4:.1f}" y="{y - 4:.1f}" width="8" height="8" fill="currentColor"/>'


def _weeks(weeks: list[float], x: Callable[[float], float]) -> str:
    """Return the weeks below, those that would touch the one before left out."""
    drawn, taken = "", -math.inf
    for each in weeks:
        if x(each) - taken >= APART:
            drawn += text(x(each), BOTTOM + 15, f"{each:.0f}", 11)
            taken = x(each)
    return drawn + text(RIGHT, HEIGHT - 2, "weeks since the baseline", 10, "end")
