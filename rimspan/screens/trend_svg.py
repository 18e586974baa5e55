"""A small chart of one number over the visits, each with its interval; the words stand beside."""

from __future__ import annotations

import math
from collections.abc import Callable

from assess.recheck_series import UNIT, WHAT, Followup
from assess.wording import capital, number
from rimspan.screens.svg import ACCENT, picture, stroke, text

WIDTH, HEIGHT = 320.0, 196.0
LEFT, RIGHT, TOP, BOTTOM = 42.0, 308.0, 28.0, 150.0
LEAST_SPAN = 1.0
APART = 24.0
LABEL = 13.0
"""The labels' size: on a phone the chart is drawn a fifth smaller."""
MOST_STEPS = 4


def chart(found: Followup) -> str:
    """Return the chart: the baseline at nothing, each visit as a dot with its 95 % interval."""
    bars = [(found.weeks(seen.on), *seen.interval) for seen in found.seen]
    last = max(bars[-1][0], LEAST_SPAN)
    ticks = round_ticks(min(0.0, *(bar[1] for bar in bars)), max(0.0, *(bar[3] for bar in bars)))
    low, high = ticks[0], ticks[-1]

    def x(weeks: float) -> float:
        return LEFT + 8 + (RIGHT - LEFT - 16) * weeks / last

    def y(value: float) -> float:
        return BOTTOM - (BOTTOM - TOP) * (value - low) / (high - low)

    body = _scale(ticks, y, UNIT[found.followed])
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
    return picture(body, WIDTH, HEIGHT, _aloud(found), "width:100%;max-width:400px")


def round_ticks(low: float, high: float) -> list[float]:
    """Return round numbers that hold a span, nothing among them: the fewest steps up to four."""
    span = max(high - low, LEAST_SPAN)
    rough = span / MOST_STEPS
    ten = 10.0 ** math.floor(math.log10(rough))
    for step in (ten, 2.0 * ten, 5.0 * ten, 10.0 * ten, 20.0 * ten):
        first, after = math.floor(low / step), math.ceil(max(high, low + LEAST_SPAN) / step)
        if after - first <= MOST_STEPS:
            break
    return [round(i * step, 9) for i in range(first, after + 1)]


def _scale(ticks: list[float], y: Callable[[float], float], unit: str) -> str:
    """Return the axis with its round numbers; the line at nothing goes all along."""
    step = ticks[1] - ticks[0]
    decimals = max(0, -math.floor(math.log10(step) + 1e-9))
    drawn = stroke(f"M{LEFT:g} {y(0.0):.1f} H{RIGHT:g}", 1, 'stroke-dasharray="3 4"')
    drawn += stroke(f"M{LEFT:g} {TOP:g} V{BOTTOM:g}", 1)
    for value in ticks:
        words = f"{value:.{decimals}f}" + ("°" if unit == "°" else "")
        drawn += stroke(f"M{LEFT - 4:g} {y(value):.1f} H{LEFT:g}", 1)
        drawn += text(LEFT - 7, round(y(value) + 4.5, 1), words, LABEL, "end")
    return drawn if unit == "°" else drawn + text(LEFT - 7, TOP - 13, unit, LABEL, "end")


def _square(x: float, y: float) -> str:
    return f'<rect x="{x - 4:.1f}" y="{y - 4:.1f}" width="8" height="8" fill="currentColor"/>'


def _weeks(weeks: list[float], x: Callable[[float], float]) -> str:
    """Return the weeks below, those that would touch the one before left out."""
    drawn, taken = "", -math.inf
    for each in weeks:
        if x(each) - taken >= APART:
            drawn += text(round(x(each), 1), BOTTOM + 18, f"{each:.0f}", LABEL)
            taken = x(each)
    return drawn + text(RIGHT, HEIGHT - 8, "weeks since the baseline", LABEL, "end")


def _aloud(found: Followup) -> str:
    """Return what is read aloud: each visit's number with its U, and when it was."""
    unit = "°" if UNIT[found.followed] == "°" else f" {UNIT[found.followed]}"
    said = []
    for seen in found.seen:
        low, value, high = seen.interval
        half = 0.5 * (high - low)
        u = math.hypot(seen.u, seen.u_common)
        words = f"{number(value, u)}{unit} ± {number(half, u)}{unit}"
        said.append(f"{words} at {found.weeks(seen.on):.0f} weeks")
    count = len(found.seen)
    head = f"{capital(WHAT[found.followed])} over {count} visits since the baseline"
    return f"{head}: {'; '.join(said)}"
