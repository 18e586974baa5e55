"""The limits a studio sets: named, versioned data, stored with every assessment.

No published limit was found.  The defaults are assumptions (common practice, no source); a
studio edits them, and a changed set is a new version.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

CRITERION_NAMES = (
    "channel",
    "relief",
    "cover_front",
    "cover_behind",
    "room_below",
    "spacing",
    "tissue",
)
"""What the verdict is made of; the other limits only choose posts."""

BASIS = "assumption: common practice, no source"


@dataclass(frozen=True, slots=True)
class Limit:
    """One limit: at least ``low`` and at most ``high``, either of which may be open."""

    low: float | None
    high: float | None
    unit: str = "mm"
    basis: str = BASIS

    def __post_init__(self) -> None:
        if self.low is None and self.high is None:
            raise ValueError("a limit must have a low or a high side")
        if self.low is not None and self.high is not None and self.low > self.high:
            raise ValueError(f"'low' must not exceed 'high' (got {self.low} > {self.high})")

    def contains(self, value: Any) -> Any:  # noqa: ANN401  (a float or an array of draws)
        """Return whether ``value`` (a number or an array, in ``unit``) keeps the limit."""
        above = True if self.low is None else value >= self.low
        below = True if self.high is None else value <= self.high
        return above & below

    def to_dict(self) -> dict[str, Any]:
        """Return the limit as plain data."""
        return {"low": self.low, "high": self.high, "unit": self.unit, "basis": self.basis}


@dataclass(frozen=True, slots=True)
class Criteria:
    """A studio's limits under a name and a version."""

    name: str
    version: str
    limits: Mapping[str, Limit]

    def to_dict(self) -> dict[str, Any]:
        """Return the criteria as the result file holds them."""
        limits = {name: limit.to_dict() for name, limit in self.limits.items()}
        return {"name": self.name, "version": self.version, "limits": limits}

    @classmethod
    def from_dict(cls, data: Mapping[str, Any]) -> Criteria:
        """Return the criteria that a result file or a studio's settings hold.

        Raises
        ------
        ValueError
            If a limit the program needs is missing or makes no sense.
        """
        limits = {name: Limit(**limit) for name, limit in data["limits"].items()}
        missing = sorted(set(DEFAULT_CRITERIA.limits) - set(limits))
        if missing:
            raise ValueError(f"criteria lack the limits {', '.join(missing)}")
        return cls(str(data["name"]), str(data["version"]), limits)


DEFAULT_CRITERIA = Criteria(
    "assumed defaults",
    "1",
    {
        "channel": Limit(4.5, 10.0),
        "relief": Limit(3.0, None),
        "cover_front": Limit(1.5, None),
        "cover_behind": Limit(1.5, None),
        "room_below": Limit(4.0, None),
        "spacing": Limit(6.0, None),
        "spare_initial": Limit(2.0, 4.0),
        "spare_downsized": Limit(0.3, 1.3),
        "post": Limit(1.2, 1.3),
    },
)
"""Common practice, no source: assumptions that say so on every screen and sheet."""
