"""Posts: gauges, lengths, and which of the stock leaves the wanted spare length.

Gauge numbers and the trade's rounded millimetres are two different things (16 gauge is
1.2908 mm, posts sold as 1.2 mm are 1.2 mm), so one is never silently turned into the other.

References
----------
ASTM B258: diameter of gauge number n is 0.005 in x 92^((36 - n)/39).
The inch is 25.4 mm exactly.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from fractions import Fraction

import numpy as np

from assess.criteria import Limit
from assess.marks import PostStock
from calibration.frames import Array

INCH_MM = 25.4
STEP_IN = Fraction(1, 32)
"""The finest step in which post lengths are made (common practice, no source)."""

DEFAULT_GAUGE_MM = 1.2


def gauge_mm(number: int) -> float:
    """Return the exact diameter (mm) of an American wire gauge number, by ASTM B258."""
    return float(0.005 * INCH_MM * 92.0 ** ((36 - number) / 39))


def inches_mm(length_in: Fraction) -> float:
    """Return a length given as a fraction of an inch in mm, exactly 25.4 mm to the inch."""
    return float(length_in * Fraction(254, 10))


def inch_name(length_mm: float) -> str:
    """Return the inch fraction of a length that is a multiple of 1/32 in, else ``""``."""
    steps = length_mm / (INCH_MM * float(STEP_IN))
    whole = round(steps)
    if abs(steps - whole) > 1e-6:
        return ""
    fraction = whole * STEP_IN
    over = fraction - int(fraction)
    parts = [str(int(fraction))] if fraction >= 1 else []
    return " ".join([*parts, str(over)] if over else parts) + " in"


def default_stock() -> tuple[PostStock, ...]:
    """Return 1.2 mm posts from 1/4 to 3/4 in by 1/32 in."""
    lengths = tuple(inches_mm(n * STEP_IN) for n in range(8, 25))
    return (PostStock(gauge_mm=DEFAULT_GAUGE_MM, lengths_mm=lengths),)


CLEAR_FROM = 0.8
"""A length is clearly right from this probability on (assumption: common practice, no source)."""


@dataclass(frozen=True, slots=True)
class PostOption:
    """A post of the stock and how probably the spare length it leaves lies in the window."""

    gauge_mm: float
    length_mm: float
    probability: float


@dataclass(frozen=True, slots=True)
class PostChoice:
    """The post of the stock that suits best, its spare length's draws (mm), and the others.

    ``options`` are all of the stock that may be used, this one among them, the best first.
    """

    gauge_mm: float
    length_mm: float
    spare_draws: Array
    probability: float
    window: Limit
    options: tuple[PostOption, ...]

    @property
    def clear(self) -> bool:
        """Return whether this length is clearly right; by whole per cent, as it is told."""
        return round(self.probability, 2) >= CLEAR_FROM

    @property
    def runner_up(self) -> PostOption | None:
        """Return the best post of another length, if there is one that may suit at all."""
        others = [option for option in self.options if option.length_mm != self.length_mm]
        return next((option for option in others if option.probability > 0.0), None)


@dataclass(frozen=True, slots=True)
class NoPost:
    """No post of the stock suits; why, which length to order (mm), how probably that suits."""

    reason: str
    order_length_mm: float
    order_probability: float
    options: tuple[PostOption, ...] = ()


def _probability(length_mm: float, channel_draws: Array, window: Limit) -> float:
    return float(np.mean(window.contains(length_mm - channel_draws)))


def choose_post(
    channel_draws: Array, stock: Iterable[PostStock], window: Limit, post: Limit
) -> PostChoice | NoPost:
    """Return the stock's post of highest probability, if its mean spare lies in the window.

    Parameters
    ----------
    channel_draws : (M,) array, mm
    stock : posts by gauge
    window : Limit
        The wanted spare length, mm.
    post : Limit
        Which diameters may be used, mm.
    """
    usable = [s for s in stock if post.contains(s.gauge_mm)]
    if not usable:
        return _none("no post of the wanted diameter is in stock", channel_draws, window, ())
    options = [
        PostOption(s.gauge_mm, length, _probability(length, channel_draws, window))
        for s in usable
        for length in s.lengths_mm
    ]
    channel, middle = float(channel_draws.mean()), _middle(window)
    options.sort(key=lambda o: (-o.probability, abs(o.length_mm - channel - middle)))
    best = options[0]
    spare = best.length_mm - channel_draws
    if not window.contains(float(spare.mean())):
        reason = "no length in stock leaves the wanted spare length"
        return _none(reason, channel_draws, window, tuple(options))
    return PostChoice(
        best.gauge_mm, best.length_mm, spare, best.probability, window, tuple(options)
    )


def _none(
    reason: str, channel_draws: Array, window: Limit, options: tuple[PostOption, ...]
) -> NoPost:
    order = _order_length(channel_draws, window)
    return NoPost(reason, order, _probability(order, channel_draws, window), options)


def _middle(window: Limit) -> float:
    sides = [side for side in (window.low, window.high) if side is not None]
    return sum(sides) / len(sides)


def _order_length(channel_draws: Array, window: Limit) -> float:
    """Return the multiple of 1/32 in that most probably leaves the wanted spare length."""
    wanted = float(channel_draws.mean()) + _middle(window)
    nearest = round(wanted / (INCH_MM * float(STEP_IN)))
    lengths = [inches_mm(n * STEP_IN) for n in range(max(1, nearest - 3), nearest + 4)]
    return max(
        lengths,
        key=lambda length: (
            _probability(length, channel_draws, window),
            -abs(length - wanted),
        ),
    )
