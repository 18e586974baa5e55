"""The inputs of one view's measurement model: the whole list, and the same folded for drawing.

The list has each quantity by itself, with its distribution, degrees of freedom and source; the
budget is made from it.  For the draws, lens, pose and marks are folded into one input with
their joint covariance: the same distribution from fewer random numbers.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Literal

import numpy as np

from assess.band_model import ENDS, BandModel
from assess.marks import PhotoMarks, PlacementMarks, RimPlane
from assess.one_view import HEAD_UP, Sight
from assess.view_model import OFFSET, SIGHT, TILT, Ends, ViewModel
from calibration.frames import Array
from calibration.inputs import ASSUMED_DOF, Input

OFFSET_LINE = "offset of the rim from the card"
TILT_LINE = "tilt of the rim against the card"
HAND_POOL = "marks by hand"
"""One assumption stands behind all marks whose u wasn't told."""


@dataclass(frozen=True, slots=True)
class ViewMeasurement:
    """One view's model with its inputs; ``joint`` stands for ``lens`` and ``marks`` together."""

    model: ViewModel
    sight: Sight
    lens: Input
    marks: tuple[Input, ...]
    joint: Input
    others: tuple[Input, ...]

    @property
    def inputs(self) -> tuple[Input, ...]:
        """Return every input by itself, for ``unfolded``."""
        return (self.lens, *self.marks, *self.others)

    @property
    def folded_inputs(self) -> tuple[Input, ...]:
        """Return the inputs for ``folded``: lens, pose and marks as one."""
        return (self.joint, *self.others)

    def unfolded(self, values: Mapping[str, Array]) -> Array:
        """Return the model's outputs for values of ``inputs``, (n, R) each."""
        seen = self.sight.estimate[:, None] + self.sight.by_lens @ values[self.lens.name]
        seen[3:] += np.concatenate([values[mark.name] for mark in self.marks])
        return self.model({**values, SIGHT: seen})

    def folded(self, values: Mapping[str, Array]) -> Array:
        """Return the model's outputs for values of ``folded_inputs``, (n, R) each."""
        return self.model({**values, SIGHT: values[self.joint.name]})


def view_measurement(
    photo: PhotoMarks,
    labels: Sequence[str],
    side: Literal["left", "right"],
    sight: Sight,
    shared: tuple[Input, ...],
    band: BandModel,
) -> ViewMeasurement:
    """Return the measurement of those placements of one photo, both ends of each marked.

    ``shared`` are the inputs of the rim's plane and of the print.
    """
    placements = [p for label in labels if (p := photo.placement(label)) is not None]
    names = list(sight.view.points_px)
    up = [names.index(name) for name in HEAD_UP if name in names]
    model = ViewModel(
        tuple(_ends(placement, names) for placement in placements),
        sight.view.weights(),
        (up[0], up[1]) if up else None,
        1.0 if side == "left" else -1.0,
    )
    edges = [band.place(p.label) for p in placements if _outlined(p)]
    others = (*shared, *((band.ear(side), *edges) if edges else ()))
    hits = tuple(_hit(name, sight, photo) for name in names)
    return ViewMeasurement(model, sight, sight.lens(), hits, sight.joint(), others)


def _ends(placement: PlacementMarks, names: Sequence[str]) -> Ends:
    label, outlined = placement.label, _outlined(placement)
    below = f"{label}/below"
    return Ends(
        label,
        names.index(f"{label}/entry"),
        names.index(f"{label}/exit"),
        names.index(below) if below in names else None,
        (ENDS[0] in outlined, ENDS[1] in outlined),
    )


def _outlined(placement: PlacementMarks) -> tuple[str, ...]:
    return tuple(end for end in ENDS if end in placement.outline)


def _hit(name: str, sight: Sight, photo: PhotoMarks) -> Input:
    """Return a mark as it moves its hit on the card's plane."""
    label, _, point = name.rpartition("/")
    placement = photo.placement(label)
    snapped = placement is not None and point in placement.snapped
    assumed = photo.sigma_px is None and not snapped
    u_px = sight.view.sigma_px[name]
    how = "fit of a pen dot" if snapped else "assumed for marks by hand" if assumed else "as told"
    return Input(
        f"mark: {sight.view.name}: {name}",
        f"mark of the {point}",
        np.zeros(2),
        sight.mark_root(name),
        dof=ASSUMED_DOF if assumed else np.inf,
        basis="assumed" if assumed else "measured",
        source=f"{how}: {u_px:.2g} px on each axis",
        pool=HAND_POOL if assumed else "",
    )


def plane_inputs(plane: RimPlane) -> tuple[Input, Input]:
    """Return offset and tilt of the rim's plane."""
    told = plane.model_fields_set
    read = "u_offset_mm" in told
    offset = Input.scalar(
        OFFSET,
        plane.offset_mm,
        plane.u_offset_mm,
        line=OFFSET_LINE,
        dof=np.inf if read else ASSUMED_DOF,
        basis="measured" if read else "assumed",
        source=f"{'as told' if read else 'not read'}: {plane.u_offset_mm:.2g} mm",
    )
    known = "u_tilt_deg" in told
    tilt = Input(
        TILT,
        TILT_LINE,
        np.zeros(2),
        np.deg2rad(plane.u_tilt_deg) * np.eye(2),
        dof=np.inf if known else ASSUMED_DOF,
        basis="measured" if known else "assumed",
        source=f"{'as told' if known else 'not seen'}: {plane.u_tilt_deg:.2g} deg on each axis",
    )
    return offset, tilt
