"""A changed set of limits: always a new version, with a name, a reason, and who set it."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace

from assess.criteria import CRITERION_NAMES, Criteria, Limit

STUDIO_NAME = "this studio's limits"
STUDIO_BASIS = "this studio's own decision, no source"

LIMITED = tuple(name for name in CRITERION_NAMES if name != "tissue")
"""What has a limit that a studio may change; tissue is felt."""
CHOOSING = ("spare_initial", "spare_downsized", "post")
"""Limits that only choose posts."""

MOST_MM = 40.0

Sides = tuple[float | None, float | None]


class CriteriaError(ValueError):
    """A set of limits can't be what is asked: the message says why."""


def changed_criteria(now: Criteria, sides: Mapping[str, Sides], version: int) -> Criteria:
    """Return the next version of a studio's limits; a limit that didn't move keeps its basis.

    Parameters
    ----------
    now : the limits in force
    sides : (low, high) in mm, or None for open, by the name of a limit
    version : the number of the new version

    Raises
    ------
    CriteriaError
        If nothing changes, a limit is unknown or makes no sense, or a side goes open that was set.
    """
    limits = dict(now.limits)
    for name, (low, high) in sides.items():
        if name not in limits:
            raise CriteriaError(f"{name}: is no limit here")
        old = limits[name]
        if (old.low, old.high) == (low, high):
            continue
        _check(name, old, (low, high))
        limits[name] = Limit(low, high, old.unit, STUDIO_BASIS)
    if limits == dict(now.limits):
        raise CriteriaError("nothing was changed; the limits stay as they are")
    return replace(now, name=STUDIO_NAME, version=str(version), limits=limits)


def _check(name: str, old: Limit, sides: Sides) -> None:
    for before, side in zip((old.low, old.high), sides, strict=True):
        if (before is None) != (side is None):
            raise CriteriaError(f"{name}: a side that is set stays set, and one that is open open")
        if side is not None and not 0.0 <= side <= MOST_MM:
            raise CriteriaError(f"{name}: {side:g} mm must lie from 0 to {MOST_MM:g} mm")
    low, high = sides
    if low is not None and high is not None and low >= high:
        raise CriteriaError(f"{name}: {low:g} mm must lie under {high:g} mm")
