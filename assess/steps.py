"""The steps that could settle an undecided verdict: what each costs, what each would leave.

A step is told as a further reading of one quantity: the standard uncertainty that such a
reading would need so that, joined with what is known today, as much variance stays as the step
leaves (1/left = 1/today + 1/u², first order, JCGM 100:2008, 5.1.2).  For calipers and the
depth rod that is the instrument's own u; for a better photo it follows from which lines of the
channel's budget it takes away.
"""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np

from assess.channel import CALIPER_LINES, Channel
from assess.marks import CaliperMarks
from assess.repeatability import U_DEFINITION_MM
from assess.scale import U_UNVERIFIED
from assess.verdict import Decision, Reason
from calibration.frames import Array

COSTS_MIN: Mapping[str, float] = {
    "examine": 1,
    "mark_below": 1,
    "mark_again": 2,
    "check_bars": 2,
    "fold_depth": 2,
    "offset": 2,
    "relief": 2,
    "fold_depth_again": 2,
    "relief_again": 2,
    "calipers": 3,
    "calipers_again": 3,
    "channel": 3,
    "spacing": 3,
    "square_on": 3,
    "views": 8,
}
"""Rough minutes of each step at the chair.  Assumption: common practice, no source."""

MEASURED_BY = {
    "channel": "channel",
    "relief": "relief",
    "cover_front": "fold_depth",
    "cover_behind": "fold_depth",
    "room_below": "mark_below",
    "spacing": "spacing",
    "tissue": "examine",
}
"""The step by which a criterion is measured at all."""

PASSES = 3
"""How often entry and exit are marked in all when they are marked again."""

U_CALIPER_MM = 0.3
"""Of a caliper or depth rod reading not taken yet (assumed; what the screens offer)."""

U_OFFSET_READ_MM = 1.0
"""Of the rim's offset once it is read with a depth rod (assumed)."""

SQUARE_ON_DEG = 5.0
"""What a photo taken anew for being square-on is tilted by (assumed)."""

U_STILL_MM = 0.1
"""What a card that is kept still between several photos leaves open of the channel (assumed)."""

U_BAR_READ = 0.001
"""Relative u of a print whose check bars were read: 0.05 mm on 50 mm."""

MARKS, TILT, OFFSET = "mark of the ", "tilt of the rim", "offset of the rim"
SCALE, BAND = "scale of the print", "visible band"
"""How the lines of the channel's budget begin."""

PHOTO_CRITERIA = ("channel", "room_below", "spacing")
"""What is seen in the photo: one step there bears on all of them."""


@dataclass(frozen=True, slots=True)
class Circumstances:
    """How a placement was measured; from it one knows which steps are still open."""

    tilt_deg: float | None = None
    print_read: bool = True
    u_offset_mm: float = 0.0
    caliper: CaliperMarks | None = None


@dataclass(frozen=True, slots=True)
class Step:
    """A step as a further reading of ``quantity`` ((M,) draws, mm) with its ``u_mm``.

    Where the criterion isn't measured at all there is neither: nobody can say what it will read.
    """

    name: str
    criterion: str
    quantity: Array | None = None
    u_mm: float | None = None

    @property
    def minutes(self) -> float:
        """Return its rough cost."""
        return COSTS_MIN[self.name]


Parts = Mapping[str, float]
"""A budget: its lines and their variances (mm²)."""


def open_steps(decision: Decision, channel: Channel | None, how: Circumstances) -> list[Step]:
    """Return the steps that are still open and bear on a criterion that isn't sure."""
    steps = _unmeasured(decision)
    reasons = {r.criterion: r for r in decision.reasons if _unsure(r, decision)}
    if channel is not None:
        steps += _photo_steps(reasons, channel, how)
        steps += _reading_steps(reasons, decision, how.caliper or CaliperMarks())
    return steps


def _unmeasured(decision: Decision) -> list[Step]:
    missing = [r for r in decision.reasons if r.probability is None and r.found != "soft"]
    firsts: dict[str, Step] = {}
    for reason in missing:
        name = MEASURED_BY[reason.criterion]
        firsts.setdefault(name, Step(name, reason.criterion))
    return list(firsts.values())


def _unsure(reason: Reason, decision: Decision) -> bool:
    """Return whether a measured criterion keeps the verdict from being a yes."""
    if reason.draws is None or reason.probability is None or reason.draws.std() <= 0.0:
        return False
    if reason is decision.deciding:
        return True
    return 1.0 - reason.probability > (1.0 - decision.rule.supports_from) / 5


def _photo_steps(reasons: Mapping[str, Reason], channel: Channel, how: Circumstances) -> list[Step]:
    seen = [reasons[name] for name in PHOTO_CRITERIA if name in reasons]
    if not seen or not any(name.startswith(MARKS) for name in channel.parts_mm2):
        return []
    reason = min(seen, key=lambda r: r.probability or 0.0)
    parts = dict(channel.parts_mm2)
    if reason.criterion != "channel":  # calipers read the channel alone
        parts = {name: part for name, part in parts.items() if name not in CALIPER_LINES}
    today = sum(parts.values())
    readings = {
        name: _as_reading(reason, sum(left.values()) / today)
        for name, left in _after(parts, channel, how).items()
    }
    return [
        Step(name, reason.criterion, reason.draws, u)
        for name, u in readings.items()
        if u is not None
    ]


def _after(parts: Parts, channel: Channel, how: Circumstances) -> dict[str, Parts]:
    """Return the budget that each step with the photos would leave."""
    left: dict[str, Parts] = {"mark_again": _marked_again(parts)}
    if not how.print_read:
        left["check_bars"] = _less(parts, SCALE, (U_BAR_READ / U_UNVERIFIED) ** 2)
    if channel.method == "views":
        return left
    seen = {line: part for line, part in parts.items() if not line.startswith((TILT, OFFSET, BAND))}
    left["views"] = seen | {"card kept still": U_STILL_MM**2}
    if how.tilt_deg is not None and how.tilt_deg > SQUARE_ON_DEG:
        slope = math.tan(math.radians(SQUARE_ON_DEG)) / math.tan(math.radians(how.tilt_deg))
        left["square_on"] = _less(parts, TILT, slope**2)
    if how.u_offset_mm > U_OFFSET_READ_MM:
        left["offset"] = _less(parts, OFFSET, (U_OFFSET_READ_MM / how.u_offset_mm) ** 2)
    return left


def _less(parts: Parts, beginning: str, kept: float) -> Parts:
    return {n: kept * part if n.startswith(beginning) else part for n, part in parts.items()}


def _marked_again(parts: Parts) -> Parts:
    """Return the budget once the marks are means of three: the definition's part stays whole."""
    kept = {n: min(U_DEFINITION_MM**2, p) if n.startswith(MARKS) else p for n, p in parts.items()}
    return {n: kept[n] + (part - kept[n]) / PASSES for n, part in parts.items()}


def _as_reading(reason: Reason, share: float) -> float | None:
    """Return the u (mm) of the reading that leaves this share of the variance, None if all."""
    if reason.draws is None or share > 1.0 - 1e-6:
        return None
    kept = max(share, 4e-3)  # not finer than the bins of the draws
    return float(np.std(reason.draws) * math.sqrt(kept / (1.0 - kept)))


def _reading_steps(
    reasons: Mapping[str, Reason], decision: Decision, read: CaliperMarks
) -> list[Step]:
    steps = []
    if "channel" in reasons:
        name = "calipers" if read.channel_mm is None else "calipers_again"
        u = read.u_channel_mm or U_CALIPER_MM
        steps.append(Step(name, "channel", reasons["channel"].draws, u))
    if "relief" in reasons:
        u = read.u_relief_mm or U_CALIPER_MM
        steps.append(Step("relief_again", "relief", reasons["relief"].draws, u))
    cover = [name for name in ("cover_front", "cover_behind") if name in reasons]
    if cover:
        sides = [r.draws for r in decision.reasons if r.criterion.startswith("cover")]
        fold = np.sum([draws for draws in sides if draws is not None], axis=0)  # less the post
        u = read.u_fold_depth_mm or U_CALIPER_MM
        steps.append(Step("fold_depth_again", cover[0], fold, u))
    return steps
