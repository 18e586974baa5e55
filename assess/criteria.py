"""The limits a studio sets: named, versioned data, stored with every assessment.

No published limit was found.  The defaults are assumptions (common practice, no source); a
studio edits them, and a changed set is a new version.  How sure one must be before saying yes
or no belongs to them: it is the studio's decision rule.

References
----------
JCGM 106:2012, 8 (decision rules; guard bands of width w = r U).
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import asdict, dataclass
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

    def moved_in(self, margin: float) -> dict[str, float | None]:
        """Return the acceptance limits: these ones moved inward by a guard band."""
        low = None if self.low is None else self.low + margin
        return {"low": low, "high": None if self.high is None else self.high - margin}

    def contains_by(self, value: Any, margin: Any) -> Any:  # noqa: ANN401  (numbers or arrays)
        """Return whether ``value`` lies inside by ``margin`` at least: guarded acceptance.

        Examples
        --------
        >>> limit = Limit(3.0, None)
        >>> bool(limit.contains_by(3.4, 0.5)), bool(limit.contains_by(3.6, 0.5))
        (False, True)
        """
        above = True if self.low is None else value - margin >= self.low
        below = True if self.high is None else value + margin <= self.high
        return above & below

    def excludes_by(self, value: Any, margin: Any) -> Any:  # noqa: ANN401
        """Return whether ``value`` lies outside by ``margin`` at least: guarded rejection."""
        under = False if self.low is None else value + margin <= self.low
        over = False if self.high is None else value - margin >= self.high
        return under | over


@dataclass(frozen=True, slots=True)
class DecisionRule:
    """How sure a yes or a no must be.

    ``supports_from``: a yes needs this joint probability.  ``fails_to``: a no needs one
    criterion that holds with this probability at most.  ``guard_factor`` r: a yes needs every
    estimate inside its limit by w = r U besides, a no the failing one outside by as much, with
    U = 2 u; 0 is no guard band.
    """

    supports_from: float = 0.95
    fails_to: float = 0.05
    guard_factor: float = 0.0

    def __post_init__(self) -> None:
        if not 0.0 <= self.fails_to < self.supports_from <= 1.0:
            got = f"{self.fails_to} and {self.supports_from}"
            raise ValueError(f"'fails_to' must be under 'supports_from', both 0 to 1 (got {got})")
        if self.guard_factor < 0.0:
            raise ValueError(f"'guard_factor' must be at least 0 (got {self.guard_factor})")

    def guard(self, u: Any) -> Any:  # noqa: ANN401  (a number or an array)
        """Return the guard band w = r U = 2 r u (JCGM 106:2012, 8)."""
        return 2.0 * self.guard_factor * u


DEFAULT_RULE = DecisionRule()


@dataclass(frozen=True, slots=True)
class Criteria:
    """A studio's limits and decision rule under a name and a version."""

    name: str
    version: str
    limits: Mapping[str, Limit]
    rule: DecisionRule = DEFAULT_RULE

    def to_dict(self) -> dict[str, Any]:
        """Return the criteria as the result file holds them."""
        limits = {name: limit.to_dict() for name, limit in self.limits.items()}
        return {
            "name": self.name,
            "version": self.version,
            "limits": limits,
            "rule": asdict(self.rule),
        }

    @classmethod
    def from_dict(cls, data: Mapping[str, Any]) -> Criteria:
        """Return the criteria that a result file or a studio's settings hold.

        Criteria kept before they had a rule get the one that was in force: the default.

        Raises
        ------
        ValueError
            If a limit the program needs is missing, or a limit or the rule makes no sense.
        """
        limits = {name: Limit(**limit) for name, limit in data["limits"].items()}
        missing = sorted(set(DEFAULT_CRITERIA.limits) - set(limits))
        if missing:
            raise ValueError(f"criteria lack the limits {', '.join(missing)}")
        rule = DecisionRule(**data.get("rule", {}))
        return cls(str(data["name"]), str(data["version"]), limits, rule)


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
