"""The rim of a later photo laid on the baseline's, both in their rectified planes.

Rigid: a turn and a shift.  The tissue near the piercing is left out, as it swells.  Offset and tilt
of either visit's rim are unknowns too, with what is told of them.  An outline seen from another
side is another line on the rim; how far it lies off comes from the parameter ears.
"""

from __future__ import annotations

from collections.abc import Mapping

import numpy as np
from scipy.linalg import block_diag

from assess.recheck_carry import (
    DRAWN_OUT,
    PLANE_OF,
    SHEARED,
    TURN_MM,
    UNKNOWNS,
    Pair,
    baseline_places,
    carried,
    carry_slopes,
    input_moves,
    turning,
)
from assess.recheck_lines import SmoothLine
from assess.recheck_outline import (
    HEIGHT_MM,
    LEFT_OUT_MM,
    by_height,
    depth_root,
    seen_change,
    shape_root,
    swelling,
)
from assess.recheck_registration import Registered, Rows, register
from assess.recheck_view import LINES
from calibration.frames import Array

LEAST_FEET = 8
"""Fewer vertices beside the baseline's outlines register nothing."""

STARTS_DEG, STARTS_MM = (-10.0, 0.0, 10.0), (-6.0, 0.0, 6.0)
STARTS_KEPT, APART_MM, RIVAL = 3, 1.5, 1.3
STARTING_STEPS, STARTING_MM = 6, 0.7
STARTING_STRAIN = 0.02
"""Of a start's foreshortening, whichever way: standard deviation."""
REMATCHED = 3
FREE, STARTING = slice(0, 3), [0, 1, 2, 9, 10, 11]


def register_in_plane(pair: Pair) -> Registered | None:
    """Return how the later rim lies on the baseline's; None where too little of both is marked."""
    lines = {
        kind: SmoothLine(pair.baseline.places[pair.baseline.line(kind)])
        for kind in LINES
        if pair.baseline.line(kind) and pair.now.line(kind)
    }
    if not lines:
        return None
    priors: dict[str, tuple[slice, float]] = {}
    for which, plane in zip(("baseline", "now"), pair.planes, strict=True):
        offset, tilt = PLANE_OF[which]
        priors |= {
            f"{which}: rim offset": (offset, plane.u_offset_mm),
            f"{which}: rim tilt": (tilt, plane.u_tilt_rad),
        }
    tilts = [plane.u_tilt_rad for plane in pair.planes]
    squares = float(np.hypot(tilts[0] ** 2, tilts[1] ** 2))
    priors["now: foreshortening"] = DRAWN_OUT, squares / np.sqrt(2.0)
    priors["now: foreshortening across"] = SHEARED, squares / 2.0
    settled = [_settled(pair, lines, start, priors) for start in _starts(pair, lines)]
    found = [each for each in settled if each is not None]
    return min(found, key=lambda each: each.chi_squared / each.used, default=None)


def _settled(
    pair: Pair,
    lines: Mapping[str, SmoothLine],
    start: Array,
    priors: Mapping[str, tuple[slice, float]],
) -> Registered | None:
    """Return where a start leads; None where too little lies beside the outlines there."""
    found, at = None, start
    for _ in range(REMATCHED):  # which vertices lie beside the outlines hangs on where they lie
        rows = _Matched(pair, lines, at)
        if rows.count < LEAST_FEET:
            return None
        found = register(rows, at, priors, FREE)
        at = found.unknowns
    return found


def _starts(pair: Pair, lines: Mapping[str, SmoothLine]) -> list[Array]:
    """Return where to begin: of turns and slides along the rim the few that fit best.

    By roughly marked outlines two ways of sliding fit nearly alike; the whole fit tells them apart.
    """
    along = _along_rim(lines)
    tried = []
    for turn in STARTS_DEG:
        for slide in STARTS_MM:
            start = np.zeros(UNKNOWNS)
            start[0] = np.deg2rad(turn) * TURN_MM
            start[1:3] = slide * along
            matched = _Matched(pair, lines, start)
            if matched.count >= LEAST_FEET:
                tried.append(_roughly_laid(matched, lines, start))
    kept: list[Array] = []
    least = min((cost for cost, _ in tried), default=0.0)
    for cost, start in sorted(tried, key=lambda each: each[0]):
        if cost <= RIVAL * least and all(
            float(np.linalg.norm(start[FREE] - other[FREE])) > APART_MM for other in kept
        ):
            kept.append(start)
    return kept[:STARTS_KEPT]


def _roughly_laid(
    matched: _Matched, lines: Mapping[str, SmoothLine], start: Array
) -> tuple[float, Array]:
    """Return how far off a start stays on average, mm, and where it comes to lie."""
    stiff = np.diag([1e-3] * 3 + [(0.5 * STARTING_MM / STARTING_STRAIN) ** 2] * 3)
    for _ in range(STARTING_STEPS):
        gap, slope = matched.roughly(start, lines)
        w = 1.0 / (1.0 + (gap / STARTING_MM) ** 2)
        normal = (slope.T * w) @ slope + stiff
        step = np.linalg.solve(normal, (slope.T * w) @ gap + stiff @ start[STARTING])
        start[STARTING] -= step
    gap, _ = matched.roughly(start, lines)
    return float(np.mean(np.minimum(np.abs(gap), 3 * STARTING_MM))), start


def _along_rim(lines: Mapping[str, SmoothLine]) -> Array:
    line = next(iter(lines.values()))
    way = line.spline(line.length_mm) - line.spline(0.0)
    return np.asarray(way / max(float(np.linalg.norm(way)), 1e-9))


class _Matched:
    """The residuals of a fixed choice of vertices, at any unknowns."""

    def __init__(self, pair: Pair, lines: Mapping[str, SmoothLine], start: Array) -> None:
        self.pair = pair
        at, first = carried(pair, start), baseline_places(pair, start)
        ends = first[_post(pair.baseline.names)]
        self.kept: dict[str, list[int]] = {}
        for kind, line in lines.items():
            index = np.array(pair.now.line(kind), dtype=np.int64)
            beside = line.feet(at[index], by_vertices=False).beside
            kept = index[beside & (_away(at[index], ends) > LEFT_OUT_MM)].tolist()
            self.kept |= {kind: kept} if kept else {}

    @property
    def count(self) -> int:
        """Return how many vertices take part."""
        return sum(len(index) for index in self.kept.values())

    def roughly(self, unknowns: Array, lines: Mapping[str, SmoothLine]) -> tuple[Array, Array]:
        """Return the gaps and their slopes by turn, shift and foreshortening, (N,) and (N, 6)."""
        at = carried(self.pair, unknowns)
        feet = [lines[k].feet(at[index], by_vertices=False) for k, index in self.kept.items()]
        normal = np.concatenate([foot.normal for foot in feet])
        index = [i for some in self.kept.values() for i in some]
        _, later = carry_slopes(self.pair, unknowns)
        slope = np.einsum("ni,nip->np", normal, later[index][:, :, STARTING])
        return np.concatenate([foot.gap for foot in feet]), slope

    def __call__(self, unknowns: Array) -> Rows:
        pair, turn_rad = self.pair, float(unknowns[0] / TURN_MM)
        at, base_at = carried(pair, unknowns), baseline_places(pair, unknowns)
        gap, normal, depth, high, turns = [], [], [], [], []
        shape, swollen = [], []
        ends = base_at[_post(pair.baseline.names)]
        shares = np.zeros((self.count, len(base_at)))
        done = 0
        for kind, index in self.kept.items():
            base = pair.baseline.line(kind)
            feet = SmoothLine(base_at[base]).feet(at[index])
            shares[done : done + len(index), base] = feet.vertex
            gap.append(feet.gap)
            high.append(np.full(len(index), HEIGHT_MM[kind]))
            normal.append(feet.normal)
            across = np.einsum("ni,kim->nkm", feet.normal, pair.baseline.by_mark[base])
            turns.append((feet.turns[:, :, None] * across).reshape(len(index), -1))
            depth.append(depth_root(pair, kind, feet, turn_rad))
            shape.append(shape_root(feet))
            swollen.append(swelling(_away(at[index], ends)))
            done += len(index)
        across = np.concatenate(normal)
        index = [i for some in self.kept.values() for i in some]
        first, later = carry_slopes(pair, unknowns)
        slope = np.einsum("ni,nip->np", across, later[index])
        slope -= _by_baseline(shares, across, first)
        aside = np.concatenate(high)[:, None] * across
        gap.append(aside @ seen_change(pair, unknowns))
        slope += by_height(aside, turn_rad)
        turned = across @ turning(turn_rad)  # what a move in the later plane does across the line
        own = np.linalg.norm(np.einsum("ni,nim->nm", turned, pair.now.by_mark[index]), axis=1)
        named = _named(pair, shares, across, turned, index)
        for what, parts in (("depth", depth), ("shape", shape), ("swelling", swollen)):
            rows = zip(self.kept, _blocks(parts), strict=True)
            named |= {f"{what} of the {kind} line": part for kind, part in rows}
        moved = gap.pop()
        along = np.column_stack([-across[:, 1], across[:, 0]])
        slid = np.einsum("ni,nip->np", along, later[index])
        return Rows(np.concatenate(gap) + moved, slope, own, named, (slid, block_diag(*turns)))


def _post(names: tuple[str, ...]) -> list[int]:
    return [i for i, name in enumerate(names) if "/" not in name]


def _away(points: Array, ends: Array) -> Array:
    """Return each point's distance from the post's middle line, mm."""
    middle = ends.mean(axis=0)
    if len(ends) < 2:
        return np.asarray(np.linalg.norm(points - middle, axis=1))
    axis = ends[0] - ends[1]
    across = np.array([-axis[1], axis[0]]) / np.linalg.norm(axis)
    return np.asarray(np.abs((points - middle) @ across))


def _by_baseline(shares: Array, across: Array, moves: Array) -> Array:
    """Return what moves of the baseline's places, (K, 2, m), do to the feet, (N, m)."""
    return np.asarray(np.einsum("nk,ni,kim->nm", shares, across, moves, optimize=True))


def _named(
    pair: Pair, shares: Array, across: Array, turned: Array, index: list[int]
) -> dict[str, Array]:
    """Return what the baseline's marks, both lenses and the print move of the gaps, (N, m) each."""
    base, now = pair.baseline, pair.now
    lines = [i for i, name in enumerate(base.names) if "/" in name]
    by_line = -np.einsum("nk,ni,kim->nkm", shares, across, base.by_mark, optimize=True)
    found = {"baseline: outlines": by_line[:, lines].reshape(len(across), -1)}
    parts = [
        *(
            (pair.key("baseline", name), -_by_baseline(shares, across, moves))
            for name, moves in input_moves(base, pair.prints[0]).items()
        ),
        *(
            (pair.key("now", name), np.einsum("ni,nim->nm", turned, moves[index]))
            for name, moves in input_moves(now, pair.prints[1]).items()
        ),
    ]
    for name, part in parts:  # the same print is one input of both visits
        found[name] = found[name] + part if name in found else part
    return found


def _blocks(parts: list[Array]) -> list[Array]:
    """Return square blocks, each in all rows."""
    total, done, out = sum(len(part) for part in parts), 0, []
    for part in parts:
        whole = np.zeros((total, part.shape[1]))
        whole[done : done + len(part)] = part
        out.append(whole)
        done += len(part)
    return out
