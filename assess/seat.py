"""The seat: the angle between the axis and the skin's normal at each end; does a disc lie flush.

It has two parts.  *Along the rim*: a contour's tangent in the rim's plane is nearly square to the
skin's normal there, so one photo with both contours gives it; how the rim runs in space, which
several give, tells what is left.  *Across*, outward or toward the head: the
contour of a round rim lies elsewhere in each photo, and in each its line of sight touches the
skin.  Three and more such tangents, and the dot itself, give the circle that the rim's section
is near the entry, and with it the normal at the dot.  The fold's contour is an edge, not a
round: of the exit the part across can't be had from photos.

What the uncertainty leaves out: skin that the disc presses flat.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field

import numpy as np
from scipy.optimize import least_squares

from assess.edge_line import REACH_MM, EdgeLine, edge_line
from assess.outlines import Outline, spread_enough
from calibration.draws import Draws
from calibration.frames import TOWARD_VIEWER, Array
from calibration.pose import PlaneFit

U_ALONG_DEG = {"entry": 2.1, "exit": 3.5}
"""How far a contour's tangent is off that of the skin at the end, as one photo shows it."""
U_RUN_DEG = {"entry": 1.1, "exit": 2.6}
"""The same where the rim's run in space is known too, and the skin's lean.  Standard deviations, as
those below by `benchmarks.seat_model`: 60 ears drawn from the ranges, marked without error."""
EXIT_LEAN, U_EXIT_LEAN = 0.29, 0.25
"""How the skin over the exit leans toward the viewer (tangent): what is known of it beforehand."""
U_ROUND_DEG = 2.9
"""How far off a circle is in place of the rim's section: skin is uneven."""
RADIUS_MM, U_LN_RADIUS = 2.5, 0.3
"""What is known of that circle's radius beforehand: so it is on the 14 parameter ears."""


@dataclass(frozen=True, slots=True)
class EndSeat:
    """One end: how far the axis leans against the skin's normal, draws (M,) in deg.

    ``along`` is positive toward the face, ``across`` outward, toward the viewer.  Of the whole
    angle, which is never negative and so read too large where it is near nothing, only a bound
    is told: ``within_deg`` holds it in 95 of 100 cases.  None: not measured.
    """

    along_deg: Array | None = None
    across_deg: Array | None = None
    within_deg: float | None = None


@dataclass(frozen=True, slots=True)
class Seat:
    """Both ends of a placement."""

    entry: EndSeat = field(default_factory=EndSeat)
    exit: EndSeat = field(default_factory=EndSeat)


@dataclass(frozen=True, slots=True)
class Run:
    """The rim's run in space: its slope away from the viewer along a tangent, and the skin's lean.

    ``lean`` is the tangent of the skin's normal toward the viewer, draws (M,).
    """

    slope: float
    lean: Array


def along_rim(
    axis_xy: Array, tangent: EdgeLine, face: float, inputs: tuple[Draws, str, str], run: Run | None
) -> Array:
    """Return how far an axis leans along the rim against the skin's normal, (M,) deg.

    The skin's normal is square to the rim's run in space.  Where that isn't known, it is taken
    to be square to the contour's tangent as seen, which a slanting skin on a sloping rim isn't.

    Parameters
    ----------
    axis_xy : (2, M) array
        From exit to entry, in the card's plane.
    tangent : the contour's, in the same plane
    face : +1 where the face lies to the left of up as seen (a left ear), else -1
    inputs : the draws, the placement's label, and which end
    run : the rim's along the tangent, if several photos tell it
    """
    draws, label, end = inputs
    turned = np.arctan2(tangent.along[1], tangent.along[0])
    u = np.hypot(tangent.u_turn, np.deg2rad((U_ALONG_DEG if run is None else U_RUN_DEG)[end]))
    turned = turned + u * draws.normal(f"seat: contour at the {end} of {label}")
    normal = np.stack([np.sin(turned), -np.cos(turned)])
    normal *= np.sign(np.sum(normal * axis_xy, axis=0))
    if run is not None:
        aside = np.clip(run.slope * run.lean, -0.7, 0.7)
        along = np.stack([np.cos(turned), np.sin(turned)])
        normal = np.sqrt(1.0 - aside**2) * normal + aside * along
    aside = normal[0] * axis_xy[1] - normal[1] * axis_xy[0]
    lean = np.arctan2(aside, np.sum(normal * axis_xy, axis=0))
    return np.asarray(-face * np.rad2deg(lean))


def tangent_in(
    camera: PlaneFit, contour_px: Array, end: Array, axis: Array, sigma_px: float
) -> EdgeLine | None:
    """Return a contour's tangent at an end, in the plane parallel to the card through that end.

    Parameters
    ----------
    camera : before the card
    contour_px : (N, 2) array
    end : (3,) array, mm
    axis : (3,) array
        From exit to entry.
    sigma_px : u of a vertex, each axis
    """
    height = float(-end[2])
    flat = camera.on_plane(contour_px, height)
    depth = float(np.linalg.norm(end - camera.centre_mm))
    return edge_line(flat, end[:2], axis[:2], sigma_px * depth / camera.camera.fx, REACH_MM)


@dataclass(frozen=True, slots=True)
class _Touch:
    """A tangent of the rim's section: its unit normal (2,), its way from the dot, and u, mm."""

    normal: Array
    off_mm: float
    u_mm: float
    photo: str


def across_rim(
    outlines: Sequence[Outline], entry: Array, normal_xy: Array, draws: Draws
) -> Array | None:
    """Return how far the skin's normal at the entry leans outward, (M,) rad; None if unknown.

    Parameters
    ----------
    outlines : of several photos
    entry : (3, M) array
        The dot, mm.
    normal_xy : (2,) array
        The outer contour's unit normal in the card's plane, pointing out.
    draws : Draws
    """
    at = entry.mean(axis=1)
    plane = np.stack([np.array([*normal_xy, 0.0]), TOWARD_VIEWER])  # (2, 3)
    touches = [t for o in outlines if (t := _touch(o, at, plane)) is not None]
    rises = [np.arctan2(*t.normal[::-1]) for t in touches]
    if not spread_enough(rises):
        return None
    off = np.array([t.off_mm for t in touches])
    here = plane @ (entry - at[:, None])  # (2, M)
    u_dot = float(np.sqrt(here.var(axis=1).mean()))
    best = _lean(touches, off, np.zeros(2), u_dot)
    if best is None:
        return None
    found = np.full(draws.count, best)
    inputs = [
        (t.u_mm * draws.normal(f"seat: outline of {t.photo}"), k) for k, t in enumerate(touches)
    ]
    for delta, k in [*inputs, (here[0], -2), (here[1], -1)]:
        slope = _slope(touches, off, k, u_dot)
        if slope is None:
            return None
        found += slope * delta
    return np.asarray(found + np.deg2rad(U_ROUND_DEG) * draws.normal("seat: round"))


def _touch(outline: Outline, at: Array, plane: Array) -> _Touch | None:
    """Return the tangent of the section that a photo's outline gives; None where it shows none."""
    touching = outline.touching(at, plane[0, :2])
    if touching is None:
        return None
    normal, line = touching
    flat = plane @ normal
    size = float(np.linalg.norm(flat))
    if flat[0] < 0.2 * size:
        return None
    off = float(normal @ (outline.camera.centre_mm - at)) / size
    return _Touch(flat / size, off, line.u_across / outline.px_mm(at), outline.photo)


def _lean(touches: Sequence[_Touch], off: Array, dot: Array, u_dot: float) -> float | None:
    """Return the normal's lean at the dot, rad, on the circle that all tangents touch."""
    normals = np.array([t.normal for t in touches])
    u = np.maximum([t.u_mm for t in touches], 1e-3)

    def gaps(x: Array) -> Array:
        radius, reach = RADIUS_MM * np.exp(x[2]), float(np.hypot(*(dot - x[:2])))
        ends = [(reach - radius) / max(u_dot, 1e-3), x[2] / U_LN_RADIUS]
        return np.concatenate([(normals @ x[:2] + radius - off) / u, ends])

    solved = least_squares(gaps, [-RADIUS_MM, 0.0, 0.0], method="lm", xtol=1e-10)
    if not solved.success:
        return None
    away = dot - solved.x[:2]
    return float(np.arctan2(away[1], away[0]))


def _slope(touches: Sequence[_Touch], off: Array, k: int, u_dot: float) -> float | None:
    """Return what the lean does by an outline's place, or by the dot's (k = -2, -1), rad/mm."""
    step, ends = 0.02, []
    for sign in (1.0, -1.0):
        moved, dot = off.copy(), np.zeros(2)
        if k < 0:
            dot[k] = sign * step
        else:
            moved[k] += sign * step
        ends.append(_lean(touches, moved, dot, u_dot))
    if ends[0] is None or ends[1] is None:
        return None
    return (ends[0] - ends[1]) / (2.0 * step)


def whole_angle(axis: Array, along_deg: Array, lean: Array) -> tuple[Array, Array]:
    """Return the part across and the whole angle of the axis to the skin's normal, (M,) deg.

    Parameters
    ----------
    axis : (3, M) array
        Pointing out of the skin.
    along_deg : (M,) array
        The part along the rim.
    lean : (M,) array
        Of the skin's normal toward the viewer, rad.
    """
    flat = np.hypot(axis[0], axis[1])
    rise = np.arctan2(TOWARD_VIEWER @ axis, flat)
    across = rise - lean
    along = np.deg2rad(along_deg)
    # The axis in the frame of rim's run, contour's normal and the way to the viewer.
    square = np.cos(rise) * np.cos(along) * np.cos(lean) + np.sin(rise) * np.sin(lean)
    return np.rad2deg(across), np.rad2deg(np.arccos(np.clip(square, -1.0, 1.0)))
