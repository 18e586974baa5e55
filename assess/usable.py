"""Where along the rim a post may go: lengths through the rim, and how surely they keep limits.

Before anything is dotted the outer and the inner contour tell the channel's length: a placement
planned there goes from one visible edge to the other.  So its error has what one view has: the
lines' own, and what all placements share, which is the photo's height, tilt and print and the
ear's visible band.  All of them are the inputs of the measurement, by name: what is planned and
what is measured in one photo go wrong together.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np

from assess.band_model import BAND_MODEL, BandModel, Side, powers
from assess.criteria import DEFAULT_CRITERIA, Limit
from assess.rim_curve import RimCurve
from assess.rim_plane import plane_slopes
from assess.scale import SCALE_AXES, SCALE_COMMON, scale_factors
from assess.spacing import Earlier, Laid, Needs, earlier_margin_mm
from assess.view_inputs import OFFSET_LINE, TILT_LINE
from assess.view_model import OFFSET, TILT, elevation_deg
from calibration.draws import Draws
from calibration.first_order import first_order
from calibration.frames import Array
from calibration.inputs import Input
from calibration.monte_carlo import propagate

U_PLACED_MM = 0.2
"""How near to its plan a dot is put, each axis (assumption: common practice, no source)."""


@dataclass(frozen=True, slots=True)
class PlanView:
    """How well the photo tells lengths: what its contours were drawn in, and with which u.

    ``u_line_mm`` of the outer and of the inner contour, across the line; ``camera_mm`` the
    camera's centre, card frame; ``offset_mm`` and ``u_offset_mm`` of the rim's plane,
    ``u_tilt_deg`` of its tilts, ``u_scale`` and ``u_axes`` relative, of the print.
    """

    side: Side
    camera_mm: tuple[float, float, float]
    u_line_mm: tuple[float, float] = (0.2, 0.2)
    offset_mm: float = 0.0
    u_offset_mm: float = 5.0
    u_tilt_deg: float = 5.8
    u_scale: float = 0.006
    u_axes: tuple[float, float] = (0.0, 0.0)
    u_placed_mm: float = U_PLACED_MM
    band: BandModel = BAND_MODEL

    def inputs(self, labels: Sequence[str]) -> tuple[Input, ...]:
        """Return the inputs of those placements: shared ones first, then each one's own."""
        shared = (
            Input.scalar(OFFSET, self.offset_mm, self.u_offset_mm, line=OFFSET_LINE),
            Input(TILT, TILT_LINE, np.zeros(2), np.deg2rad(self.u_tilt_deg) * np.eye(2)),
            Input.scalar(SCALE_COMMON, 0.0, self.u_scale, shared=True),
            Input(SCALE_AXES, SCALE_AXES, np.zeros(2), np.diag(self.u_axes), shared=True),
            self.band.ear(self.side),
        )
        ends = np.diag([*self.u_line_mm, self.u_placed_mm, self.u_placed_mm])
        own = (
            each
            for label in labels
            for each in (
                self.band.place(label),
                Input(line_name(label), "lines and dot", np.zeros(4), ends),
            )
        )
        return (*shared, *own)

    def channels(self, laid: Laid, draws: Draws) -> Array:
        """Return the draws of the channels that these placements would have, (P, M) mm."""
        return propagate(_Lengths(self, laid), self.inputs(laid.labels), draws)

    def channel_u_mm(self, laid: Laid) -> tuple[Array, Array]:
        """Return each channel and its u by first order, (P,) mm: quick, for laying out."""
        found = first_order(_Lengths(self, laid), self.inputs(laid.labels))
        return np.array([each.value for each in found]), np.array([each.u for each in found])


def line_name(label: str) -> str:
    """Return the name of a planned placement's own error: its lines', and its dot's place."""
    return f"planned: {label}"


@dataclass(frozen=True, slots=True)
class _Lengths:
    """The model: values of the inputs -> the channels, (P, R) mm."""

    view: PlanView
    laid: Laid

    def __call__(self, values: Mapping[str, Array]) -> Array:
        ends = self.laid.entry_mm - self.laid.exit_mm
        length = np.hypot(ends[:, 0], ends[:, 1])
        axis = ends / length[:, None]
        camera = np.asarray(self.view.camera_mm)
        level = (values[OFFSET][0] + camera[2]) / (self.view.offset_mm + camera[2])
        slopes = plane_slopes(values[TILT])
        factors = scale_factors(values[SCALE_COMMON], values[SCALE_AXES])
        rows = []
        for i, label in enumerate(self.laid.labels):
            rise = slopes[0] * axis[i, 0] + slopes[1] * axis[i, 1]
            own = values[line_name(label)]
            flat = np.hypot(factors[0] * axis[i, 0], factors[1] * axis[i, 1])
            long = (length[i] * level + own[0] + own[1]) * flat * np.sqrt(1.0 + rise**2)
            rows.append(long - self._edges(i, axis[i], slopes, values))
        return np.asarray(np.maximum(np.array(rows), 0.0))

    def _edges(self, i: int, axis: Array, slopes: Array, values: Mapping[str, Array]) -> Array:
        """Return how far both edges lie outside the real ends together, mm."""
        middle = np.append(self.laid.middle_mm[i], -self.view.offset_mm)
        sight = (np.asarray(self.view.camera_mm) - middle)[:, None]
        rise = slopes[0] * axis[0] + slopes[1] * axis[1]  # the axis lies in the tilted plane
        flat = np.broadcast_to(axis[:, None], (2, len(rise)))
        along = np.vstack([flat, rise]) / np.sqrt(1.0 + rise**2)
        by = powers(elevation_deg(sight, along, slopes))
        ear = values[self.view.band.ear(self.view.side).name]
        own = values[self.view.band.place(self.laid.labels[i]).name]
        curves = np.einsum("nr,nr->r", ear[:3], by) + np.einsum("nr,nr->r", ear[3:], by)
        return np.asarray(curves + own[0] + own[1])


@dataclass(frozen=True, slots=True, eq=False)
class Profile:
    """Along the rim: the channel that an axis there would have, and its margins in their own u.

    ``sure`` is, at each arc position, the least of: channel over its lower limit, under its upper
    one, distance from earlier piercings over what it must be, each over its u; -inf where an axis
    doesn't come out of the rim.
    """

    arc_mm: Array
    lean_deg: Array
    entry_mm: Array
    exit_mm: Array
    channel_mm: Array
    u_mm: Array
    sure: Array
    u_spacing_mm: float

    def stretches(self, sure: float) -> tuple[tuple[float, float], ...]:
        """Return the stretches, mm of arc, where every limit is kept by so many u at least."""
        good = self.sure >= sure
        edges = np.flatnonzero(np.diff(np.concatenate([[0], good.astype(int), [0]])))
        pairs = zip(edges[::2], edges[1::2], strict=True)
        return tuple((float(self.arc_mm[a]), float(self.arc_mm[b - 1])) for a, b in pairs)

    def room(self, sure: float) -> Array:
        """Return how far each place is from the end of such a stretch, (N,) mm; -1 outside."""
        room = np.full(len(self.arc_mm), -1.0)
        for start, end in self.stretches(sure):
            inside = (self.arc_mm >= start) & (self.arc_mm <= end)
            room[inside] = np.minimum(self.arc_mm[inside] - start, end - self.arc_mm[inside])
        return room


def profile(
    rim: RimCurve,
    view: PlanView,
    *,
    upright: bool = False,
    needs: Needs = Needs(),  # noqa: B008  (frozen)
    earlier: Sequence[Earlier] = (),
    channel: Limit = DEFAULT_CRITERIA.limits["channel"],
    ends_mm: tuple[float, float] = (3.0, 3.0),
) -> Profile:
    """Return what a post would find at each place of the rim.

    Parameters
    ----------
    rim, view : the contours, and how well they are known
    upright : whether axes stand upright by the head, else along the inward normals
    needs, earlier : least distances, and what they count from besides the posts
    channel : its limit
    ends_mm : widths of the upper and the lower end
    """
    arc = rim.arc_mm
    lean = rim.lean_of(arc, -rim.up) if upright else np.zeros(len(arc))
    way = rim.direction(arc, lean)
    chord = rim.chord_mm(arc, way)
    there = np.isfinite(chord)
    entry, exit_ = rim.outer_mm, rim.outer_mm + np.nan_to_num(chord, nan=1.0)[:, None] * way
    top, bottom = (np.full(len(arc), end) for end in ends_mm)
    labels = tuple(str(i) for i in range(len(arc)))
    laid = Laid(labels, entry, exit_, top, bottom)
    length, u = _each(view, laid)
    u_spacing = float(np.hypot(np.sqrt(2.0) * view.u_placed_mm, view.u_scale * needs.axes_mm))
    one = Laid(("",), entry[:, None], exit_[:, None], top[:1], bottom[:1])
    beside = earlier_margin_mm(one, 0, needs, earlier) / u_spacing
    low, high = (channel.low or -np.inf), (channel.high or np.inf)
    sure = np.minimum.reduce([(length - low) / u, (high - length) / u, beside])
    sure = np.where(there, sure, -np.inf)
    return Profile(arc, lean, entry, exit_, np.where(there, length, np.nan), u, sure, u_spacing)


def _each(view: PlanView, laid: Laid) -> tuple[Array, Array]:
    """Return the channel and its u at every place, (K,) mm: one placement after the other."""
    found = []
    for i in range(len(laid.labels)):
        ends = laid.entry_mm[i : i + 1], laid.exit_mm[i : i + 1]
        found.append(view.channel_u_mm(Laid(("",), *ends, laid.top_mm[:1], laid.bottom_mm[:1])))
    return np.concatenate([u[0] for u in found]), np.concatenate([u[1] for u in found])
