"""The photo that is planned in: its contours as a rim in mm, and how well it tells lengths."""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from assess.band import contours_of
from assess.band_model import Side
from assess.marks import PhotoMarks, RimPlane
from assess.placing import mark_sigma_px
from assess.reading import PhotoReading
from assess.rim_curve import RimCurve, rim_curve
from assess.usable import PlanView
from calibration.frames import UP


def rim_in_photo(
    photo: PhotoMarks, reading: PhotoReading, plane: RimPlane, side: Side
) -> tuple[RimCurve, PlanView] | None:
    """Return the rim of a photo with both contours, and how well it is known; None without them.

    Parameters
    ----------
    photo : with ``outer_rim`` and ``inner_rim``, and ``head_up`` where it is marked
    reading : what the photo says; without a fit there are no millimetres
    plane : where the rim's plane is
    side : which ear it is
    """
    fit, contours = reading.fit, contours_of(photo)
    if fit is None or contours is None:
        return None
    height = plane.offset_mm
    outer, inner = (fit.on_plane(reading.straight(line), height) for line in contours)
    up = UP
    if photo.head_up is not None:
        start, end = fit.on_plane(reading.straight(np.asarray(photo.head_up, float)), height)
        up = end - start
    sigma_mm = mark_sigma_px(photo, reading, height) * reading.mm_per_px(height)
    rim = rim_curve(outer, inner, up=up, sigma_mm=sigma_mm)
    flat = np.column_stack([rim.outer_mm, np.full(len(rim.outer_mm), -height)])
    x, y, z = fit.centre_mm.tolist()
    view = PlanView(
        side,
        (x, y, z),
        (sigma_mm, sigma_mm),
        height,
        plane.u_offset_mm,
        plane.u_tilt_deg,
        reading.scale.u_common,
        reading.scale.u_axes,
    )
    return replace(rim, seen=fit.project(flat)), view
