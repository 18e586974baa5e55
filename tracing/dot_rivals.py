"""What else lies near a spot: another dot, a nearer dark place, or more of the same ink."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np

from calibration.frames import Array
from tracing.dot_places import rivals
from tracing.flat_skin import flattened
from tracing.light import Light, alike
from tracing.rim_places import darker, darkness
from tracing.spot_fit import SpotFit, fit_spot
from tracing.spot_judge import INK, fault, has_hue, is_unclear_gray

WINDOW, CLOSER, CLOSER_MM = (3.2, 3.0), (2.2, 1.5), 1.5
"""How much round a place is looked at, times its scale and px more; where folds, glare or an edge
lie in that, the same closer, for places so near to the tap."""
FLAT_FIRST, FLAT = (1.2, 1.6, 3.0), (1.3, 3.5)
"""Skin about a place is flattened for a spot of so many times its scale, and so much of it looked
at, times the scale and px more; then for the spot so found, by its longer half axis."""
SHADED = 0.9, 0.9
"""Skin beside a spot is flattened only where the spot explains less, or less of it is smooth."""
PART = 1.25
"""How much longer than a spot on flattened skin ink is of which that is a part."""
STROKE = 1.7, 0.95
"""Length (mm) and share explained of what is a stroke however closely it is looked at."""
INKED, INKED_MM = (0.4, 0.85), (0.5, 1.8, 4.5)
"""How dark and how well explained a place is that is ink; its least and most width and length."""
ALIKE = 0.98, 0.5, 0.7
"""Cosine between two inks, share of the darker one's darkness, share that is explained."""
FAR_MM, RIVAL = 1.15, (0.35, 0.3)
"""Few taps lie farther from their dot; then no nearer place may be this share as spot-like, and so
much nearer (mm)."""
VERY_FAR_MM, CLEAR = 1.8, (0.95, 0.8)
"""Hardly a tap lies farther; then the spot must explain so much, on skin so smooth."""
FAR_FROM_MM, SLIVER, HUED_SLIVER, SLIVER_MM, APART_MM = 1.05, 0.35, 0.09, 0.8, 0.35
"""From a tap so far from its dot, a line as much darker than along and inward of it, so near to the
tap and so far outside the dot, may be a dot's sliver that was meant; if the dot has a hue, the line
has at least the third share of it."""
EITHER_MM2, EITHER = 0.5, 0.5
"""Of two dots as clear, taps of sd 0.5 mm mean the nearer e times as often where the squares of
the ways differ by so much; below that neither is taken."""
AROUND, AROUND_ROUND = (0.97, 0.9), 0.8
"""Share that a dot explains within which a place was refused: a long one, a round one (short over
long half axis)."""
OTHER = 0.975, 0.95, 0.85
"""Cosine between inks below which they are not the same pen's; then so clear a dot, on skin so
smooth, was meant."""
TOUCH_MM, INSIDE = 0.2, 0.45
"""Skin between two spots that are told apart; in the logarithm of light a dark spot's border looks
so much of its blur farther inside."""


@dataclass(frozen=True, slots=True, eq=False)
class Nearby:
    """The picture round a tap and the places that look like spots, the nearest first.

    ``light`` (H, W, 3); ``near`` (2,) px, the tap; ``found`` as from ``candidates``.
    """

    light: Light
    near: Array
    mm_per_px: float
    found: list[tuple[Array, float, float]]

    def away_mm(self, place: Array) -> float:
        """Return how far a place, (2,) px, lies from the tap."""
        return float(np.hypot(*(place - self.near))) * self.mm_per_px

    def fitted(self, i: int) -> tuple[SpotFit | None, str | None]:
        """Return the spot at a place and its fault, each None where there is none."""
        fit, why = self._looked(i)
        if fit is None or self.away_mm(self.found[i][0]) > CLOSER_MM or not _is_shaded(fit):
            return fit, why
        flat, still = self._flat(i)
        if flat is None or still or flat.explained < fit.explained:
            return fit, why
        if why is None:  # an edge in front that may hide a part is no shade to be taken off
            return replace(flat, hidden_px=max(fit.hidden_px, flat.hidden_px)), None
        return (fit, why) if _is_part(flat, fit, why, self.mm_per_px) else (flat, None)

    def _looked(self, i: int) -> tuple[SpotFit | None, str | None]:
        """Return the spot at a place and its fault as the picture is, also closer."""
        fit, why = self._seen(i, *WINDOW)
        if fit is None or why is None or self.away_mm(self.found[i][0]) > CLOSER_MM:
            return fit, why
        if 2.0 * fit.half_axes[0] * self.mm_per_px > STROKE[0] and fit.explained > STROKE[1]:
            return fit, why
        closer, still = self._seen(i, *CLOSER)
        return (fit, why) if closer is None or still else (closer, None)

    def _flat(self, i: int) -> tuple[SpotFit | None, str | None]:
        """Return the spot at a place on skin whose curved shading is taken off, and its fault."""
        centre, scale_px, _ = self.found[i]
        others, radius = rivals(self.found, i), float(np.sqrt(2.0) * scale_px)
        half, window = FLAT_FIRST[0] * scale_px, FLAT_FIRST[1] * scale_px + FLAT_FIRST[2]
        flat = flattened(self.light, centre, (half, half), 0.0, 0.0)
        if flat is None:
            return None, None
        first = fit_spot(flat, centre, radius, window, others, self.mm_per_px)
        if first is None or first.half_axes[0] > half + window:
            return None, None
        flat = flattened(self.light, first.centre, first.half_axes, first.turn_rad, first.blur_px)
        if flat is None:
            return None, None
        window = FLAT[0] * first.half_axes[0] + FLAT[1]
        fit = fit_spot(flat, centre, radius, window, others, self.mm_per_px)
        if fit is None:
            return None, None
        fit = replace(fit, flat=True)
        return fit, fault(flat, fit, others, self.mm_per_px)

    def _seen(self, i: int, times: float, more_px: float) -> tuple[SpotFit | None, str | None]:
        centre, scale_px, _ = self.found[i]
        others = rivals(self.found, i)
        radius, window = float(np.sqrt(2.0) * scale_px), times * scale_px + more_px
        fit = fit_spot(self.light, centre, radius, window, others, self.mm_per_px)
        if fit is None:
            return None, None
        return fit, fault(self.light, fit, others, self.mm_per_px)

    def around(self, refused: SpotFit, i: int) -> SpotFit | None:
        """Return the dot that a refused place lies within, or None: ink or skin is uneven there."""
        least = float(np.prod(refused.half_axes))
        for j in range(i + 1, len(self.found)):
            if float(np.hypot(*(self.found[j][0] - refused.centre))) > refused.half_axes[0]:
                continue
            fit, why = self.fitted(j)
            if fit is None or why is not None or float(np.prod(fit.half_axes)) < least:
                continue
            round_one = fit.half_axes[1] > AROUND_ROUND * fit.half_axes[0]
            if fit.explained < AROUND[round_one] or self.is_far_fetched(fit, j):
                continue
            return None if self.other(fit, j) else fit
        return None

    def of_other_ink(self, refused: SpotFit, i: int) -> SpotFit | None:
        """Return a clear dot of another hue than a refused place, which then isn't ink, or None."""
        for j in range(i + 1, len(self.found)):
            fit, why = self.fitted(j)
            if fit is None or why is not None or not has_hue(fit):
                continue
            _, explained, calm = OTHER
            clear = fit.explained > explained and fit.calm > calm
            if clear and is_other_ink(fit.change[0], refused):
                doubtful = self.is_far_fetched(fit, j) or self.other(fit, j)
                return None if doubtful else fit
        return None

    def is_far_fetched(self, fit: SpotFit, i: int) -> bool:
        """Return whether a spot lies so far from the tap that something nearer may be meant."""
        away_mm = self.away_mm(fit.centre)
        if away_mm < FAR_MM:
            return False
        unclear = fit.explained < CLEAR[0] or fit.calm < CLEAR[1]
        return (away_mm > VERY_FAR_MM and unclear) or any(
            strength > RIVAL[0] * self.found[i][2]
            and self.away_mm(place) < away_mm - RIVAL[1]
            and float(np.hypot(*(place - fit.centre))) > fit.half_axes[0]
            for place, _, strength in self.found[:i]
        )

    def other(self, fit: SpotFit, i: int) -> str | None:
        """Return "either" if another dot is about as likely meant, "touch" if one touches it."""
        for j, (place, _, strength) in enumerate(self.found):
            apart = float(np.hypot(*(place - fit.centre)))
            if j == i or apart < 1.2 * fit.half_axes[1] or strength < EITHER * self.found[i][2]:
                continue
            likely = self.is_as_likely(place, fit.centre)
            wide = 2.0 * (fit.half_axes[0] + fit.blur_px)
            if not likely and apart > wide + TOUCH_MM / self.mm_per_px:
                continue
            other, why = self.fitted(j)
            if other is None or why is not None:
                continue
            if _touch(fit, other, self.mm_per_px):
                return "touch"
            if likely and j > i and apart > 1.5 * fit.half_axes[0]:
                return "either"
        return None

    def is_as_likely(self, place: Array, than: Array) -> bool:
        """Return whether a tap may well mean a place where another is nearer to it."""
        return self.away_mm(place) ** 2 - self.away_mm(than) ** 2 < EITHER_MM2


def _is_shaded(fit: SpotFit) -> bool:
    """Return whether what lies beside a spot isn't ground that slopes evenly."""
    return fit.explained < SHADED[0] or fit.calm < SHADED[1]


def _is_part(flat: SpotFit, fit: SpotFit, why: str, mm_per_px: float) -> bool:
    """Return whether a spot on flattened skin is a part of longer ink: its rest was taken off."""
    longer = fit.half_axes[0] > PART * flat.half_axes[0]
    return longer and is_ink(fit, why, mm_per_px)


def _touch(one: SpotFit, other: SpotFit, mm_per_px: float) -> bool:
    """Return whether hardly any skin is between two spots: a dot under a hair, or two in one."""
    way = other.centre - one.centre
    apart, turn = float(np.hypot(*way)), float(np.arctan2(way[1], way[0]))
    halves = []
    for fit in (one, other):
        (long, short), along = fit.half_axes, turn - fit.turn_rad
        half = 1.0 / float(np.hypot(np.cos(along) / long, np.sin(along) / short))
        halves.append(half + INSIDE * fit.blur_px)
    gap_mm = (apart - sum(halves)) * mm_per_px
    return apart > 1.2 * max(halves) and gap_mm < TOUCH_MM


def is_past_a_sliver(light: Light, near: Array, fit: SpotFit, mm_per_px: float) -> bool:
    """Return whether a tap lies far from a spot and close to what may be a dot's dark sliver."""
    if float(np.hypot(*(fit.centre - near))) * mm_per_px < FAR_FROM_MM:
        return False
    height, width = light.shape[:2]
    y, x = np.mgrid[:height, :width]
    close = np.hypot(x - near[0], y - near[1]) * mm_per_px < SLIVER_MM
    room = fit.half_axes[0] + APART_MM / mm_per_px
    outside = np.hypot(x - fit.centre[0], y - fit.centre[1]) > room
    found = darker(darkness(light, mm_per_px), close & outside, mm_per_px) > SLIVER
    if has_hue(fit):  # the same pen's sliver has it too, hair has not
        hue = fit.change[0].mean() - fit.change[0]
        inked = darkness(light, mm_per_px, hue / float(-hue @ fit.change[0]))
        found = darker(inked, found, mm_per_px) > HUED_SLIVER
    return bool(found.any())


def is_ink(fit: SpotFit, why: str, mm_per_px: float) -> bool:
    """Return whether a place that is no dot is ink all the same: then none further off is meant.

    What is narrow may be a sliver of a dot on an edge.
    """
    clear = float(-fit.change[0] @ INK) > INKED[0] and fit.explained > INKED[1]
    long_mm, short_mm = (2.0 * half * mm_per_px for half in fit.half_axes)
    stroke = INKED_MM[0] < short_mm < INKED_MM[1] and long_mm < INKED_MM[2]
    return why in {"two", "long"} and clear and stroke and not is_unclear_gray(fit)


def is_same_ink(fit: SpotFit, refused: SpotFit) -> bool:
    """Return whether a nearer place that was refused looks like the same pen's ink."""
    same = alike(fit.change[0], refused.change[0]) > ALIKE[0]
    dark = float(refused.change[0] @ INK) < ALIKE[1] * float(fit.change[0] @ INK)
    apart = float(np.hypot(*(fit.centre - refused.centre))) > fit.half_axes[0]
    clear = refused.explained > ALIKE[2] and not is_unclear_gray(refused)
    return same and dark and apart and clear


def is_other_ink(takes: Array, refused: SpotFit) -> bool:
    """Return whether what takes so much of the colours, (3,), is other ink than a refused place."""
    return alike(takes, refused.change[0]) < OTHER[0]
