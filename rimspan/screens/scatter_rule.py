"""Scatter on a rule of tenths of a millimetre: an interval, and lengths below each other."""

from __future__ import annotations

import math
from collections.abc import Sequence

from calibration.quantity import Quantity
from rimspan.screens.svg import ACCENT, picture, stroke, text

WIDTH, LEFT, RIGHT = 480.0, 12.0, 462.0
SHORTEST_MM = 0.5
STEPS_MM = (0.1, 0.2, 0.5, 1.0, 2.0, 5.0)
MOST_TICKS = 10
CSS = "width:100%;max-width:620px"


def two_digits(value_mm: float) -> str:
    """Return a scatter with the two digits that few marks support."""
    return f"{value_mm:.2f}" if value_mm < 1.0 else f"{value_mm:.1f}"


class Tenths:
    """A rule from 0 to a whole number of steps that holds the longest length."""

    def __init__(self, longest_mm: float) -> None:
        wanted = max(SHORTEST_MM, longest_mm)
        able = (step for step in STEPS_MM if wanted <= step * MOST_TICKS)
        self.step_mm = next(able, STEPS_MM[-1])
        self.ticks = math.ceil(wanted / self.step_mm - 1e-9)
        self.px_per_mm = (RIGHT - LEFT) / (self.ticks * self.step_mm)

    def x(self, value_mm: float) -> float:
        """Return where a length ends."""
        return LEFT + value_mm * self.px_per_mm

    def drawn(self, y: float) -> str:
        """Return the rule itself: its line is at ``y``, its numbers below."""
        lines = stroke(f"M{LEFT:g} {y:g} H{RIGHT:g}", 1)
        for i in range(self.ticks + 1):
            mm = i * self.step_mm
            unit = " mm" if i == self.ticks else ""
            lines += stroke(f"M{self.x(mm):.1f} {y:g} v6", 1)
            lines += text(self.x(mm), y + 20, f"{mm:.1f}".rstrip("0").rstrip(".") + unit, 12)
        return lines


def scatter_rule(found: Quantity, assumed_mm: float, longest_mm: float, label: str) -> str:
    """Return a piercer's scatter with its interval, and where the assumption stands.

    Parameters
    ----------
    found : the scatter, mm
    assumed_mm : what is assumed without knowing the piercer
    longest_mm : the longest length among all piercers, so that their rules compare
    label : what is read aloud
    """
    rule = Tenths(longest_mm)
    low, at, high, assumed = (rule.x(mm) for mm in (found.low, found.value, found.high, assumed_mm))
    drawn = (
        f'<rect x="{low:.1f}" y="26" width="{max(high - low, 2.0):.1f}" height="14" rx="3" '
        f'fill="{ACCENT}"/>'
        + stroke(f"M{at:.1f} 22 V44", 3)
        + stroke(f"M{assumed:.1f} 18 V50", 1.5, 'stroke-dasharray="4 3"')
        + text(assumed, 13, f"assumed {assumed_mm:g}", 12)
    )
    return picture(drawn + rule.drawn(50), WIDTH, 76, label, CSS)


def scatter_bars(rows: Sequence[tuple[str, float]]) -> str:
    """Return lengths (mm) below each other on one rule, each with its words above it."""
    said = [f"{words}: {two_digits(mm)} mm" for words, mm in rows]
    rule = Tenths(max((mm for _, mm in rows), default=0.0))
    drawn = ""
    for i, (_, mm) in enumerate(rows):
        y = 38 * i + 14
        drawn += text(LEFT + 6, y, said[i], 13, "start")
        drawn += (
            f'<rect x="{LEFT:g}" y="{y + 5:g}" width="{rule.x(mm) - LEFT:.1f}" height="12" '
            f'fill="{ACCENT}"/>'
        )
    bottom = 38 * len(rows) + 4
    drawn += stroke(f"M{LEFT:g} 4 V{bottom:g}", 1)
    return picture(drawn + rule.drawn(bottom), WIDTH, bottom + 26, "; ".join(said), CSS)
