"""Millimetre rules: limits as a band, the measured interval as a bar on it; posts at scale."""

from __future__ import annotations

import math
from collections.abc import Sequence
from typing import Any

from assess.post_wording import length_words
from assess.result import AgreementOut, PostOptionOut, PostOut
from assess.result_parts import QuantityOut
from assess.wording import chance, number
from rimspan.screens.svg import ACCENT, picture, stroke, text

WIDTH = 480.0
LEFT, RIGHT = 12.0, 468.0

POST_RULE_MM = 20.0
"""Posts are drawn on a stretch this long at least, so that two of them compare."""


class Rule:
    """A rule from 0 to a whole number of millimetres across the drawing's width."""

    def __init__(self, longest_mm: float) -> None:
        self.end_mm = max(4, math.ceil(longest_mm + 0.5))
        self.px_per_mm = (RIGHT - LEFT) / self.end_mm

    def x(self, value_mm: float) -> float:
        """Return where a length ends, never beyond the rule."""
        return LEFT + min(max(value_mm, 0.0), float(self.end_mm)) * self.px_per_mm

    def ticks(self, y: float) -> str:
        """Return the rule itself: its line is at ``y``, its numbers below."""
        drawn = stroke(f"M{LEFT:g} {y:g} H{RIGHT:g}", 1)
        every = 1 if self.end_mm <= 14 else 2 if self.end_mm <= 26 else 5
        for mm in range(self.end_mm + 1):
            length = 8 if mm % 5 == 0 else 5
            drawn += stroke(f"M{self.x(mm):.1f} {y:g} v{length}", 1)
            if mm % every == 0:
                drawn += text(self.x(mm), y + 21, f"{mm}", 12)
        return drawn + text(RIGHT, y - 26, "mm", 12, "end")


def criterion_rule(
    limit: dict[str, Any],
    measured: QuantityOut | None,
    label: str,
    acceptance: dict[str, Any] | None = None,
) -> str:
    """Return a criterion's rule.

    Parameters
    ----------
    limit : the ``low`` and ``high`` sides, mm, either of which may be None
    measured : the interval, or None where nothing is measured: then only the band is drawn
    label : what is read aloud
    acceptance : the limit moved inward by the studio's guard band, drawn dashed
    """
    low, high = limit.get("low"), limit.get("high")
    sides = [side for side in (low, high) if side is not None]
    longest = max([*sides, *([measured.high] if measured else [])])
    rule = Rule(longest if high is not None else longest + 2.0)
    drawn = _band(rule, low, high) + rule.ticks(52)
    for side in (acceptance or {}).values():
        if side is not None:
            drawn += stroke(f"M{rule.x(side):.1f} 26 V52", 1.5, 'stroke-dasharray="3 3"')
    if measured is not None:
        drawn += _interval(rule, measured)
    else:
        drawn += text(LEFT + 4, 22, "not measured", 13, "start")
    return picture(drawn, WIDTH, 78, label, "width:100%;max-width:760px")


def _band(rule: Rule, low: float | None, high: float | None) -> str:
    start = rule.x(low) if low is not None else LEFT
    stop = rule.x(high) if high is not None else RIGHT
    drawn = (
        f'<rect x="{start:.1f}" y="30" width="{stop - start:.1f}" height="22" '
        'fill="currentColor" opacity="0.14"/>'
    )
    for side in (low, high):  # an open side has no edge
        if side is not None:
            drawn += stroke(f"M{rule.x(side):.1f} 26 V52", 2)
    return drawn


def both_rule(agreement: AgreementOut, limit: dict[str, Any] | None, label: str) -> str:
    """Return the channel by photo and by calipers, one below the other on one rule."""
    pair = (("photo", agreement.photo), ("calipers", agreement.caliper))
    low, high = ((limit or {}).get(side) for side in ("low", "high"))
    rule = Rule(max(high or 0.0, *(quantity.high for _, quantity in pair)))
    drawn = rule.ticks(104)
    for top, (name, quantity) in zip((0, 52), pair, strict=True):
        bars = _band(rule, low, high) + _interval(rule, quantity, name)
        drawn += f'<g transform="translate(0 {top})">{bars}</g>'
    return picture(drawn, WIDTH, 130, label, "width:100%;max-width:760px")


MOST_OPTIONS = 5


def chances(options: Sequence[PostOptionOut], chosen: PostOut, label: str) -> str:
    """Return the stock's likeliest lengths, each with a bar as long as its chance."""
    likely = [option for option in options if option.gauge_mm == chosen.gauge_mm][:MOST_OPTIONS]
    drawn = ""
    for i, option in enumerate(sorted(likely, key=lambda each: each.length_mm)):
        y = 28.0 * i
        bold = 'font-weight="700"' if option.length_mm == chosen.length_mm else ""
        drawn += (
            f"<g {bold}>{text(160, y + 18, length_words(option.length_mm), 14, 'end')}"
            f"{text(398, y + 18, chance(option.probability), 14, 'start')}</g>"
            f'<rect x="170" y="{y + 5:g}" width="{max(220 * option.probability, 1):.1f}" '
            f'height="16" rx="2" fill="{ACCENT}"/>'
            f'<rect x="170" y="{y + 5:g}" width="220" height="16" rx="2" fill="none" '
            'stroke="currentColor" opacity="0.4"/>'
        )
    return picture(drawn, WIDTH, 28 * len(likely) + 4, label, "width:100%;max-width:600px")


def _interval(rule: Rule, measured: QuantityOut, name: str = "") -> str:
    start, stop, at = (rule.x(v) for v in (measured.low, measured.high, measured.value))
    words = f"{name} {number(measured.value, measured.u)}".strip()
    side = 30 if not name else 60
    return (
        f'<rect x="{start:.1f}" y="35" width="{max(stop - start, 2.0):.1f}" height="12" rx="3" '
        f'fill="{ACCENT}"/>'
        + stroke(f"M{at:.1f} 32 V50", 3)
        + text(min(max(at, LEFT + side), RIGHT - side), 22, f"{words} mm", 15)
    )


def post_drawing(post: PostOut, channel: QuantityOut, name: str) -> str:
    """Return a post through its channel, at scale: what is left over is its spare length."""
    rule = Rule(max(POST_RULE_MM - 0.5, post.length_mm + 4.0))
    mm = rule.px_per_mm
    start, middle = LEFT + 2.0 * mm, 72.0
    end, skin = start + post.length_mm * mm, start + channel.value * mm
    drawn = (
        _tissue(start, skin - start, middle, mm)
        + f'<rect x="{start:.1f}" y="{middle - post.gauge_mm / 2 * mm:.1f}" '
        f'width="{end - start:.1f}" height="{post.gauge_mm * mm:.1f}" fill="{ACCENT}"/>'
        + _disc(start - 0.8 * mm, middle, mm)
        + _disc(end, middle, mm)
        + text((start + skin) / 2, 14, f"channel {number(channel.value, channel.u)} mm", 13)
    )
    low, high = sorted((skin, end))
    drawn += stroke(f"M{low:.1f} 124 H{high:.1f} M{low:.1f} 119 v10 M{high:.1f} 119 v10", 1.5)
    drawn += text(high + 8, 129, f"spare {number(post.spare.value, post.spare.u)} mm", 13, "start")
    drawn += stroke(
        f"M{RIGHT - 5 * mm:.1f} 20 h{5 * mm:.1f} m0 -4 v8 M{RIGHT - 5 * mm:.1f} 16 v8", 1
    )
    drawn += text(RIGHT, 13, "5 mm", 12, "end")
    return picture(drawn, WIDTH, 136, f"{name}, drawn at scale", "width:100%;max-width:600px")


def _tissue(start: float, width: float, middle: float, mm: float) -> str:
    """Return the rim that the post goes through; only its length along the post is to scale."""
    return (
        f'<rect x="{start:.1f}" y="{middle - 2.2 * mm:.1f}" width="{width:.1f}" '
        f'height="{4.4 * mm:.1f}" rx="12" fill="currentColor" opacity="0.16"/>'
    )


def _disc(x: float, middle: float, mm: float) -> str:
    return (
        f'<rect x="{x:.1f}" y="{middle - 1.5 * mm:.1f}" width="{0.8 * mm:.1f}" '
        f'height="{3 * mm:.1f}" rx="3" fill="{ACCENT}" stroke="currentColor"/>'
    )
