"""A post drawn on the photo at true size: outlines in px, from mm by the photo's own camera.

The post lies in the rim's plane and is drawn as it would be seen from the side there: what stands
out, the part inside the rim, and both ends.  One plane is what a photo knows; a ball's own depth
is left out.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Literal

import numpy as np

from assess.ends import End
from calibration.find import unmirror
from calibration.frames import Array
from calibration.pose import PlaneFit

PartName = Literal["upper end", "above", "in the rim", "below", "lower end"]
ROUND = 48
"""Corners of a ball's outline: its area is 0.3 % too small."""


@dataclass(frozen=True, slots=True, eq=False)
class Part:
    """One part of a post: its outline, (N, 2), closed by going back to its first point."""

    name: PartName
    outline: Array


@dataclass(frozen=True, slots=True)
class DrawnPost:
    """What is drawn: where the axis goes through the skin, its post and ends, what stands out, mm.

    ``exposed_mm`` above the entry and below the exit: of the first post, or of the later one.
    """

    entry_mm: tuple[float, float]
    exit_mm: tuple[float, float]
    post_mm: float
    ends: tuple[End, End]
    exposed_mm: tuple[float, float]


def outlines_mm(post: DrawnPost) -> tuple[Part, ...]:
    """Return the parts in the rim's plane, mm, from the upper end down."""
    entry, exit_ = np.asarray(post.entry_mm), np.asarray(post.exit_mm)
    length = float(np.hypot(*(exit_ - entry)))
    if length <= 0.0:
        raise ValueError("entry and exit must lie apart")
    down = (exit_ - entry) / length
    high, low = entry - post.exposed_mm[0] * down, exit_ + post.exposed_mm[1] * down
    return (
        Part("upper end", _end(high, -down, post.ends[0])),
        Part("above", _bar(high, entry, post.post_mm)),
        Part("in the rim", _bar(entry, exit_, post.post_mm)),
        Part("below", _bar(exit_, low, post.post_mm)),
        Part("lower end", _end(low, down, post.ends[1])),
    )


def outlines_px(
    post: DrawnPost, fit: PlaneFit, height_mm: float = 0.0, mirrored_width_px: int | None = None
) -> tuple[Part, ...]:
    """Return the parts as they are seen in the photo, px.

    Parameters
    ----------
    post : in the rim's plane
    fit : the photo's camera and pose
    height_mm : of the rim's plane before the card
    mirrored_width_px : width of the photo if it is stored mirrored, else None
    """
    return tuple(
        Part(part.name, _seen(part.outline, fit, height_mm, mirrored_width_px))
        for part in outlines_mm(post)
    )


def _seen(outline: Array, fit: PlaneFit, height_mm: float, width_px: int | None) -> Array:
    seen = fit.project(np.column_stack([outline, np.full(len(outline), -height_mm)]))
    return seen if width_px is None else unmirror(seen, width_px)


def _bar(start: Array, end: Array, wide_mm: float) -> Array:
    way = end - start
    length = float(np.hypot(*way))
    if length == 0.0:
        return np.tile(start, (4, 1))
    aside = wide_mm / 2.0 * np.array([-way[1], way[0]]) / length
    return np.array([start - aside, start + aside, end + aside, end - aside])


def _end(place: Array, out: Array, end: End) -> Array:
    """Return an end's outline; ``place`` is where its inner face meets the axis."""
    aside = np.array([-out[1], out[0]])
    if end.shape == "ball":
        angle = np.linspace(0.0, 2.0 * np.pi, ROUND, endpoint=False)
        middle = place + end.height_mm / 2.0 * out
        wide = end.width_mm / 2.0 * np.cos(angle)[:, None] * aside
        return np.asarray(middle + wide + end.height_mm / 2.0 * np.sin(angle)[:, None] * out)
    corners: Sequence[tuple[float, float]] = [(-0.5, 0.0), (0.5, 0.0), (0.5, 1.0), (-0.5, 1.0)]
    if end.shape == "pointed":
        corners = [(-0.5, 0.0), (0.5, 0.0), (0.0, 1.0)]
    return np.array(
        [place + w * end.width_mm * aside + h * end.height_mm * out for w, h in corners]
    )
