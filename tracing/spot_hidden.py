"""Whether brighter skin in front may hide part of a spot, and how far off its middle then is."""

from __future__ import annotations

import numpy as np

from calibration.frames import Array
from tracing.light import Light, light_at
from tracing.spot_model import Window, axes_of
from tracing.spot_solve import State

BEFORE_MM, BEFORE, BEFORE_HUE = (0.05, 0.4), (0.15, 0.35), 0.37
"""Outside a spot's long side: where skin before it would show; by how much of log light brighter
than the spot's own it must be, and certainly is; by how much its colours may differ in that."""
HIDES = 0.5
"""How often such skin hides part of a dot, rather than that the dot's own turns away to it."""


def hidden_px(light: Light, window: Window, state: State, centre: Array, mm_per_px: float) -> float:
    """Return how far off the middle may be, each axis, because skin before the spot hides a part.

    A round dot of which only the shorter half axis is seen has its centre up to the difference of
    both nearer to what hides it; how much nearer is not known.
    """
    long, short, turn = (float(v) for v in axes_of(state.p))
    normal, run = np.array([-np.sin(turn), np.cos(turn)]), np.array([np.cos(turn), np.sin(turn)])
    blur, middle = float(np.exp(state.p[5])), centre + state.p[:2]
    ways = np.arange(*BEFORE_MM, 0.05) / mm_per_px

    def seen(along: Array, across: Array) -> Array:
        places = along[:, None, None] * run + across[None, :, None] * normal
        return light_at(light, middle + places.reshape(-1, 2)).reshape(len(along), -1, 3)

    most = 0.0
    for side in (-1.0, 1.0):
        x, y = (state.p[:2] + side * (short + blur + ways)[:, None] * normal).T / window.radius_px
        ground = np.column_stack([np.ones_like(x), x, y]) @ state.factors[3:]
        steps = [np.median(seen(np.zeros(1), side * (short + blur + ways))[0] - ground, axis=0)]
        beside = (long + 1.5 * blur + ways) * np.array([[-1.0], [1.0]])
        inner, outer = (
            [np.median(seen(end, side * (short + way)), axis=(0, 1)) for end in beside]
            for way in (-blur - ways, blur + ways)
        )
        ends = [out - into for out, into in zip(outer, inner, strict=True)]
        steps.append(min(ends, key=lambda step: float(step.mean())))
        likely = [float(step.mean()) for step in steps if np.ptp(step) < BEFORE_HUE]
        most = max([most, *likely])
    share = HIDES * float(np.interp(most, BEFORE, (0.0, 1.0)))
    return float(np.sqrt(share / 6.0)) * (long - short)
