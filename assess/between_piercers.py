"""Scatter within and between piercers who marked the same points: one-way random effects.

For one coordinate of one point the model is y = m + L + e: m the coordinate, L what one piercer
puts to it (variance s_L²), e what is new in every pass (variance s_r²).  A piercer is what
ISO 5725-2 calls a laboratory, a coordinate of a point what it calls a level.  Each point has
its own L: where one piercer sees the rim's edge further out, another point may go the other way.

References
----------
ISO 5725-2:1994, 7.4 (repeatability, between-laboratory and reproducibility variance; a negative
between-laboratory variance counts as zero); JCGM 100:2008, H.5 (analysis of variance).
"""

from __future__ import annotations

import math
from collections import defaultdict
from collections.abc import Iterable, Sequence
from dataclasses import dataclass

import numpy as np

from assess.repeatability import MarkSample
from calibration.frames import Array

Level = Sequence[Array]
"""One coordinate of one point: for each piercer, the values of the passes, (n,) mm."""


@dataclass(frozen=True, slots=True)
class Precision:
    """Standard deviations of one mark, each axis, in the values' unit.

    ``s_r`` is one piercer's from pass to pass, ``s_L`` that between piercers, ``s_R`` that of
    one mark by any piercer.
    """

    s_r: float
    s_L: float  # noqa: N815  (the standard's own letters)
    s_R: float  # noqa: N815
    dof_within: int
    dof_between: int


@dataclass(frozen=True, slots=True)
class BetweenPiercers:
    """The precision on the points that several piercers marked, mm, and what stands behind it."""

    precision: Precision
    photos: int
    points: int
    piercers: int


def one_way(levels: Iterable[Level]) -> Precision | None:
    """Return the precision by one-way analysis of variance, pooled over levels.

    With one level this is ISO 5725-2's own calculation: s_r² the mean square within, and
    s_L² = (mean square between - s_r²) / n0 with n0 = (N - sum n² / N) / (p - 1), which is
    the number of passes where all have the same.  Over levels the sums of squares, their
    degrees of freedom and the divisors are added before the division, so a level counts by
    what it tells.  Cells of different size are allowed; the estimates stay unbiased, but for
    the zero that replaces a negative s_L².

    Parameters
    ----------
    levels : cells of each level; a level with one cell is left out

    Returns
    -------
    Precision, or None where no level has two cells or no cell two values
    """
    within = between = divisor = 0.0
    dof_within = dof_between = 0
    for cells in levels:
        filled = [np.asarray(cell, dtype=np.float64) for cell in cells if len(cell)]
        if len(filled) < 2:
            continue
        counts = np.array([len(cell) for cell in filled])
        means = np.array([cell.mean() for cell in filled])
        total = int(counts.sum())
        grand = float(counts @ means) / total
        within += sum(float(((cell - cell.mean()) ** 2).sum()) for cell in filled)
        between += float(counts @ (means - grand) ** 2)
        divisor += total - float(counts @ counts) / total
        dof_within += total - len(filled)
        dof_between += len(filled) - 1
    if dof_within == 0 or dof_between == 0:
        return None
    r2 = within / dof_within
    l2 = max((between - dof_between * r2) / divisor, 0.0)
    return Precision(math.sqrt(r2), math.sqrt(l2), math.sqrt(r2 + l2), dof_within, dof_between)


def between_piercers(samples: Iterable[MarkSample]) -> BetweenPiercers | None:
    """Return the scatter within and between piercers on the points that several marked.

    Parameters
    ----------
    samples : marks by any piercers; points that only one has marked are left out

    Returns
    -------
    BetweenPiercers, or None where no point was marked by two piercers, one of them twice
    """
    places: dict[tuple[str, str, str], dict[str, list[MarkSample]]] = defaultdict(
        lambda: defaultdict(list)
    )
    for sample in samples:
        places[sample.place][sample.by].append(sample)
    shared = {place: by for place, by in places.items() if len(by) >= 2}
    levels = [
        [np.array([getattr(sample, axis) for sample in cell]) for cell in by.values()]
        for by in shared.values()
        for axis in ("x_mm", "y_mm")
    ]
    precision = one_way(levels)
    if precision is None:
        return None
    piercers = {name for by in shared.values() for name in by}
    photos = {photo for photo, _, _ in shared}
    return BetweenPiercers(precision, len(photos), len(shared), len(piercers))
