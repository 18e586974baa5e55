"""Derive the visible band's error from parameter ears: ``python -m benchmarks.band_model``.

For every ear, placement and direction of view: where the rays to the visible edges meet the
rim's plane, against the real ends.  A straight line in the view's elevation takes up what ears
share; what is left is split into between ears and within one.  Each ear counts once, so the
degrees of freedom are those of the ears.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass

import numpy as np

from assess.band_model import BAND_MODEL, BandModel
from benchmarks.ears import EARS, POSITIONS, Site, sites
from calibration.frames import Array
from sample_images.visible import visible_edges

ELEVATIONS_DEG = (-20.0, -15.0, -10.0, -5.0, 0.0, 5.0, 10.0, 15.0, 20.0)
ASIDE_DEG = (-10.0, 0.0, 10.0)
DISTANCE_MM = 275.0


@dataclass(frozen=True, slots=True)
class EdgeErrors:
    """Edge minus end along the axis, outward positive, for one ear."""

    elevation_deg: Array  # (N,)
    error_mm: Array  # (N, 2), entry and exit


def edge_errors(site: Site, centre: Array) -> Array | None:
    """Return how far the edges seen from ``centre`` lie outside the ends, (2,) mm, or None.

    Parameters
    ----------
    site : an ear and a placement on it
    centre : (3,) array, mm
        The camera's centre in the ear's frame.
    """
    edges = visible_edges(site.ear, site.placement, centre)
    if edges is None:
        return None
    entry, exit_ = np.asarray(site.placement.entry), np.asarray(site.placement.exit)
    axis = (entry - exit_) / np.linalg.norm(entry - exit_)
    level = 0.5 * (entry[2] + exit_[2])
    found = []
    for edge, end, outward in zip(edges, (entry, exit_), (axis, -axis), strict=True):
        ray = np.asarray(edge) - centre
        met = centre + ray * (level - centre[2]) / ray[2]
        found.append(float((met - end) @ outward))
    return np.array(found)


def edge_places(site: Site, centre: Array) -> Array | None:
    """Return where the rays to the edges seen from ``centre`` meet the rim's plane, (2, 3) mm."""
    errors = edge_errors(site, centre)
    if errors is None:
        return None
    ends = np.array([site.placement.entry, site.placement.exit], dtype=np.float64)
    axis = (ends[0] - ends[1]) / np.linalg.norm(ends[0] - ends[1])
    return np.asarray(ends + errors[:, None] * np.array([axis, -axis]))


def ear_errors(site_list: Iterable[Site]) -> EdgeErrors:
    """Return the errors over an ear's placements and all directions of view."""
    rows, rises = [], []
    for site in site_list:
        entry, exit_ = np.asarray(site.placement.entry), np.asarray(site.placement.exit)
        axis = (entry - exit_) / np.linalg.norm(entry - exit_)
        side = np.cross(axis, [0.0, 0.0, 1.0])
        for rise in ELEVATIONS_DEG:
            for aside in ASIDE_DEG:
                up, across = np.tan(np.deg2rad([rise, aside]))
                sight = up * axis + across * side + np.array([0.0, 0.0, -1.0])
                centre = (entry + exit_) / 2 + DISTANCE_MM * sight / np.linalg.norm(sight)
                errors = edge_errors(site, centre)
                if errors is not None:
                    rows.append(errors)
                    rises.append(rise)
    return EdgeErrors(np.array(rises), np.array(rows))


def fit_model(by_ear: Mapping[str, EdgeErrors]) -> BandModel:
    """Return the model that these ears give."""
    ears = list(by_ear.values())
    weight = np.concatenate([np.full(len(e.elevation_deg), 1 / len(e.elevation_deg)) for e in ears])
    rise = np.concatenate([e.elevation_deg for e in ears])
    error = np.concatenate([e.error_mm for e in ears])
    design = np.column_stack([np.ones_like(rise), rise])
    root = np.sqrt(weight)[:, None]
    line, *_ = np.linalg.lstsq(design * root, error * root, rcond=None)
    left = [
        e.error_mm - np.column_stack([np.ones(len(e.error_mm)), e.elevation_deg]) @ line
        for e in ears
    ]
    means = np.array([part.mean(axis=0) for part in left])
    count = len(ears)
    between = means.T @ means / (count - 2)
    within = np.mean([np.cov(part.T, bias=True) for part in left], axis=0)
    scale = between * (1 + 1 / count) + within
    return BandModel(
        (float(line[0, 0]), float(line[0, 1])),
        (float(line[1, 0]), float(line[1, 1])),
        ((float(scale[0, 0]), float(scale[0, 1])), (float(scale[1, 0]), float(scale[1, 1]))),
        count - 2,
        count,
    )


def all_errors() -> dict[str, EdgeErrors]:
    """Return the errors of every parameter ear."""
    return {name: ear_errors(sites(name, POSITIONS)) for name in EARS}


def main() -> None:
    """Print the model that the parameter ears give, beside the one in force."""
    model = fit_model(all_errors())
    print(f"derived:  {model}")
    print(f"in force: {BAND_MODEL}")


if __name__ == "__main__":
    main()
