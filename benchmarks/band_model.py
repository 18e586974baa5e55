"""Derive the visible band's error from parameter ears: ``python -m benchmarks.band_model``.

For every ear, placement and direction of view: where the rays to the visible edges meet the
rim's plane, against the real ends.  A parabola in the view's elevation for each end and ear;
what is left of placements and sides is within an ear.  The ears' parabolas are a sample of ears:
each counts once, and what they tell of one more ear is a t.  Their curves are kept in
``band_ears.csv``.  A benchmark scores an ear by the model of all others (`model_for`).
"""

from __future__ import annotations

import argparse
import csv
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass
from functools import cache
from pathlib import Path

import numpy as np

from assess.band_model import BAND_MODEL, COEFFICIENTS, BandModel, powers
from benchmarks.ears import EARS, POSITIONS, Site, sites
from calibration.frames import Array
from sample_images.visible import visible_edges

ELEVATIONS_DEG = (-20.0, -15.0, -10.0, -5.0, 0.0, 5.0, 10.0, 15.0, 20.0)
ASIDE_DEG = (-10.0, 0.0, 10.0)
DISTANCE_MM = 275.0
CURVES = Path(__file__).with_name("band_ears.csv")
COLUMNS = (
    "ear",
    "views",
    *(f"{end} {power}" for end in ("entry", "exit") for power in ("mm", "mm/10deg", "mm/100deg2")),
    "within entry mm2",
    "within both mm2",
    "within exit mm2",
)


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


@dataclass(frozen=True, slots=True)
class EarCurve:
    """One ear's parabolas in elevation, and what its placements and sides scatter about them."""

    ear: str
    views: int
    coefficients: Array  # (6,) as the model has them
    within_mm2: Array  # (2, 2)


def curve_of(name: str, errors: EdgeErrors) -> EarCurve:
    """Return the parabolas that fit an ear best."""
    design = powers(errors.elevation_deg).T
    found, *_ = np.linalg.lstsq(design, errors.error_mm, rcond=None)
    left = errors.error_mm - design @ found
    within = left.T @ left / (len(left) - COEFFICIENTS)
    return EarCurve(name, len(left), np.asarray(found).T.ravel(), np.asarray(within))


def fit_model(curves: Sequence[EarCurve]) -> BandModel:
    """Return the model of an ear yet unseen.

    Ears are a sample: with n of them the coefficients of one more lie about their mean as a t of
    n - 1 degrees of freedom, scaled by their covariance times 1 + 1/n.  What a place scatters about
    its ear's parabolas is its own.
    """
    found = np.array([curve.coefficients for curve in curves])
    count = len(found)
    scale = np.cov(found.T) * (1 + 1 / count)
    within = np.mean([curve.within_mm2 for curve in curves], axis=0)
    rows = tuple(tuple(round(float(v), 5) for v in row) for row in scale)
    mean = tuple(round(float(v), 4) for v in found.mean(axis=0))
    (a, b), (c, d) = (tuple(round(float(v), 5) for v in row) for row in within)
    return BandModel(mean, rows, count - 1, count, ((a, b), (c, d)), len(POSITIONS))


def derived_curves(names: Iterable[str] = EARS) -> Iterator[EarCurve]:
    """Yield the curves of the named ears, derived anew."""
    for name in names:
        yield curve_of(name, ear_errors(sites(name, POSITIONS)))


@cache
def model_for(ear: str) -> BandModel:
    """Return the model by which an ear is scored: of all ears but itself."""
    return fit_model([curve for curve in kept_curves() if curve.ear != ear])


def write_curves(curves: Iterable[EarCurve], path: Path = CURVES) -> None:
    """Write the ears' curves down, a line each."""
    with path.open("w", encoding="utf-8", newline="") as file:
        out = csv.writer(file, lineterminator="\n")
        out.writerow(COLUMNS)
        for curve in curves:
            within = curve.within_mm2[[0, 0, 1], [0, 1, 1]]
            numbers = [f"{v:.5f}" for v in (*curve.coefficients, *within)]
            out.writerow([curve.ear, curve.views, *numbers])


def kept_curves(path: Path = CURVES) -> list[EarCurve]:
    """Return the curves that were written down."""
    with path.open(encoding="utf-8", newline="") as file:
        rows = list(csv.reader(file))[1:]
    curves = []
    for ear, views, *numbers in rows:
        values = np.array([float(v) for v in numbers])
        within = values[[6, 7, 7, 8]].reshape(2, 2)
        curves.append(EarCurve(ear, int(views), values[:6], within))
    return curves


def main() -> None:
    """Derive the curves, write them down, print the model beside the one in force."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--kept", action="store_true", help="take the curves of the file")
    if not parser.parse_args().kept:
        write_curves(derived_curves())
    print(f"derived:  {fit_model(kept_curves())}")
    print(f"in force: {BAND_MODEL}")


if __name__ == "__main__":
    main()
