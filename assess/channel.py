"""The channel and its angle: the straight way from entry to exit.

Photos first, calipers joined to them by weighted least squares (the same length measured
twice, weights one over the variance); calipers alone where no photo shows both ends.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Literal

import numpy as np

from assess.budget import Line
from assess.marks import CaliperMarks
from calibration.draws import Draws
from calibration.frames import Array

Method = Literal["views", "one_view", "caliper"]


@dataclass(frozen=True, slots=True)
class Axis:
    """A placement as one view gives it."""

    channel_mm: Array  # (M,)
    room_below_mm: Array | None  # (M,), None where the next structure isn't marked
    angle_deg: Array  # (M,)
    middle_mm: Array  # (M, 3), the middle of the channel, card frame
    parts_mm2: Mapping[str, float]
    lines: tuple[Line, ...] = ()


@dataclass(frozen=True, slots=True)
class Channel:
    """The channel's draws (mm) with the method that weighs most and the variance's parts."""

    draws: Array
    method: Method
    parts_mm2: Mapping[str, float]
    disagreement: tuple[float, float] | None = None
    """Photo minus caliper and its u (mm), where both were read."""


def unwrapped(angle: Array) -> Array:
    """Return draws of an angle without the jump at 180 degrees, about their mean direction."""
    rad = np.deg2rad(angle)
    mean = float(np.rad2deg(np.arctan2(np.sin(rad).mean(), np.cos(rad).mean())))
    return np.asarray(mean + (angle - mean + 180.0) % 360.0 - 180.0)


def caliper_draws(value: float, u: float, draws: Draws, name: str) -> Array:
    """Return a caliper reading's draws (mm): normal, and never below zero."""
    return np.maximum(value + u * draws.normal(f"calipers: {name}"), 0.0)


def combine(
    axis: Axis | None, reading: CaliperMarks | None, label: str, draws: Draws
) -> Channel | None:
    """Return the channel from what there is, or None."""
    if reading is None or reading.channel_mm is None:
        if axis is None:
            return None
        return Channel(axis.channel_mm, "one_view", axis.parts_mm2)
    u = reading.u_channel_mm or 0.0
    caliper = caliper_draws(reading.channel_mm, u, draws, f"channel of {label}")
    if axis is None:
        return Channel(caliper, "caliper", {"calipers": max(u, 1e-9) ** 2})
    u_photo = float(axis.channel_mm.std(ddof=1))
    weight = u**2 / (u**2 + u_photo**2)
    mixed = weight * axis.channel_mm + (1.0 - weight) * caliper
    parts = {name: weight**2 * part for name, part in axis.parts_mm2.items()}
    parts["calipers"] = (1.0 - weight) ** 2 * max(u, 1e-9) ** 2
    gap = float(axis.channel_mm.mean()) - reading.channel_mm
    method: Method = "one_view" if weight > 0.5 else "caliper"
    return Channel(mixed, method, parts, (gap, float(np.hypot(u, u_photo))))
