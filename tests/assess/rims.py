"""Invented rims for planning: rings between ellipses, and a photo that tells them well."""

from __future__ import annotations

import numpy as np

from assess.grouping import Rim
from assess.rim_curve import RimCurve, rim_curve
from assess.usable import PlanView

CAMERA_MM = (60.0, 45.0, -280.0)


def ring(
    outer: tuple[float, float] = (17.0, 22.0),
    inner: tuple[float, float] = (10.5, 15.5),
    span: tuple[float, float] = (1.0, 1.9),
    shift: tuple[float, float] = (0.0, 0.0),
) -> RimCurve:
    """Return the rim between two ellipses about (60, 60) mm, over ``span`` half turns."""
    angle = np.linspace(np.pi * span[0], np.pi * span[1], 60)
    circle = np.column_stack([np.cos(angle), np.sin(angle)])
    return rim_curve(60.0 + circle * outer, 60.0 + np.asarray(shift) + circle * inner)


def view(**known: float) -> PlanView:
    """Return a left ear's photo from 280 mm, its plane read and its print checked."""
    told = {"u_offset_mm": 2.0, "u_tilt_deg": 3.0, "u_scale": 0.001} | known
    return PlanView("left", CAMERA_MM, **told)


def tapering() -> Rim:
    """Return a rim that is thick enough over a part of its length only."""
    return Rim(ring(shift=(1.6, 0.0)), view())
