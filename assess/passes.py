"""A photo that was marked again: its passes -> samples in mm, and the entry that is measured.

A draft keeps a photo's passes under ``x_passes``: ``[{"by": NAME, "placements": [...]}, ...]``,
each ``placements`` as in the marks file, the first pass being the original marks.  What is
measured is plain ``rimspan-marks/1``: the mean of the passes for each point, and for the photo
the ``sigma_px`` of such a mean.

Points that were snapped are found in the picture, not put there by a hand: they tell nothing
about repeatability, and keep their place and ``u_px``.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any

import numpy as np

from assess.marks import PlacementMarks
from assess.reading import PhotoReading
from assess.repeatability import MarkSample, MarkUncertainty

PASSES = "x_passes"

Place = tuple[str, str]
"""A placement's label and the name of one of its points."""

Places = dict[Place, tuple[float, float]]
"""Points marked by hand, px of the photo as stored."""


def by_hand(placements: Sequence[Mapping[str, Any]]) -> Places:
    """Return the points that a hand has put, px; those that were snapped are left out."""
    marked = [PlacementMarks.model_validate(placement) for placement in placements]
    return {
        (placement.label, name): point
        for placement in marked
        for name, point in placement.points().items()
        if name not in placement.snapped
    }


def piercers(photo: Mapping[str, Any]) -> tuple[str, ...]:
    """Return who has marked the photo, in the order in which they began."""
    names = [str(each["by"]).strip() for each in photo.get(PASSES, ())]
    return tuple(dict.fromkeys(name for name in names if name))


def _passes_of(photo: Mapping[str, Any], by: str) -> list[Places]:
    passes = [each for each in photo.get(PASSES, ()) if str(each["by"]).strip() == by]
    return [by_hand(each["placements"]) for each in passes]


def mark_samples(
    photo: Mapping[str, Any], reading: PhotoReading, *, name: str, offset_mm: float = 0.0
) -> tuple[MarkSample, ...]:
    """Return where each pass put each point, mm.

    Parameters
    ----------
    photo : a photo's part of a draft, with its passes; those without a name are left out
    reading : what the same photo says; without a fit there are no millimetres and no samples
    name : by what the samples call the photo
    offset_mm : height of the plane in which the millimetres count, toward the viewer: the
        rim's, so that a pixel is worth there what it is in the measurement

    Returns
    -------
    samples in the card's frame; numbers count each piercer's passes from 1
    """
    if reading.fit is None:
        return ()
    samples = []
    for by in piercers(photo):
        for number, places in enumerate(_passes_of(photo, by), start=1):
            if not places:
                continue
            straight = reading.straight(np.array(list(places.values())))
            at = reading.fit.on_plane(straight, offset_mm)
            samples += [
                MarkSample(by, name, label, point, number, float(x), float(y))
                for (label, point), (x, y) in zip(places, at, strict=True)
            ]
    return tuple(samples)


def measured_entry(
    photo: Mapping[str, Any],
    reading: PhotoReading,
    uncertainty: MarkUncertainty,
    *,
    offset_mm: float = 0.0,
) -> dict[str, Any]:
    """Return the photo's entry of the marks file: mean points and the ``sigma_px`` they have.

    The passes of whoever made the first marks are averaged; another piercer's are for
    comparison.  A point that was moved after its first pass counts as marked once, where it is
    now.  ``sigma_px`` is one number for the photo, so it is that of the point with the fewest
    passes: u of the mean (random part over the root of n) joined with the definition's part,
    which is never divided.  A photo marked once by somebody of whom nothing is known keeps the
    entry it has: the assumption of 0.2 mm stands for both parts.

    ``sigma_px`` also counts for the photo's lines, which are marked once: ``u_ties_px`` is
    therefore set to what one mark has, where the photo has ties and says nothing of them; rim
    contours and ``head_up`` have no name for an uncertainty of their own.

    Parameters
    ----------
    photo : a photo's part of a draft
    reading : what the same photo says
    uncertainty : of one mark of the piercer who made the first marks, by
        :func:`assess.repeatability.mark_uncertainty`
    offset_mm : height of the rim's plane before the card

    Returns
    -------
    a new entry without ``x_passes``
    """
    entry = {key: value for key, value in photo.items() if key != PASSES}
    again = repeats(photo)
    fewest = min((len(points) for points in again.values()), default=0)
    if reading.fit is None or fewest == 0 or (fewest == 1 and uncertainty.learned is None):
        return entry
    entry["placements"] = [_averaged(each, again) for each in photo["placements"]]
    mm_per_px = reading.mm_per_px(offset_mm)
    entry["sigma_px"] = uncertainty.of_mean(fewest) / mm_per_px
    if entry.get("ties") and "u_ties_px" not in entry:
        entry["u_ties_px"] = uncertainty.of_mean(1) / mm_per_px
    return entry


def repeats(photo: Mapping[str, Any]) -> dict[Place, list[tuple[float, float]]]:
    """Return, for each point that a hand has put, its marks that count, px: one at least.

    They are those of whoever made the first marks; of a point that was moved after its first
    pass only the place where it is now.
    """
    names = piercers(photo)
    passes = _passes_of(photo, names[0]) if names else []
    now = by_hand(photo.get("placements", ()))
    return {place: _repeats(place, point, passes) for place, point in now.items()}


def _repeats(
    place: Place, now: tuple[float, float], passes: Sequence[Places]
) -> list[tuple[float, float]]:
    """Return the marks of a point, px: of all passes while its first mark still stands."""
    if not passes or passes[0].get(place) != now:
        return [now]
    return [each[place] for each in passes if place in each]


def _averaged(
    placement: Mapping[str, Any], again: Mapping[Place, Sequence[tuple[float, float]]]
) -> dict[str, Any]:
    means = {
        name: [float(v) for v in np.mean(again[place], axis=0)]
        for name in placement
        if (place := (placement["label"], name)) in again
    }
    return {**placement, **means}
