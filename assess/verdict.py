"""Does the rim support the placement?  A statement of conformity on joint draws.

References
----------
JCGM 106:2012, 7 (conformance probability), 8 (decision rules, guard bands), 9 (consumer's and
producer's risks).  The joint probability is the share of draws in which every criterion
holds, never the product of the single ones.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any, Literal

import numpy as np
from numpy.typing import NDArray

from assess.criteria import CRITERION_NAMES, DEFAULT_RULE, Criteria, DecisionRule, Limit
from calibration.frames import Array
from calibration.quantity import Quantity

Verdict = Literal["supports", "undecided", "does_not_support"]
Tissue = Literal["firm", "soft", "not_examined"]


@dataclass(frozen=True, slots=True)
class Reason:
    """One criterion's part in the verdict; ``probability`` is None where nothing bears on it."""

    criterion: str
    limit: Limit | None
    probability: float | None
    draws: Array | None
    found: str = ""

    @property
    def measured(self) -> Quantity | None:
        """Return what was measured, or None."""
        return None if self.draws is None else Quantity.from_draws(self.draws, "mm")


@dataclass(frozen=True, slots=True)
class Decision:
    """The verdict, its joint probability and its reasons, the deciding one first."""

    verdict: Verdict
    probability: float | None
    reasons: tuple[Reason, ...]
    rule: DecisionRule = DEFAULT_RULE

    @property
    def deciding(self) -> Reason:
        """Return the criterion that decides: what fails, else what is missing or least sure."""
        return self.reasons[0]

    @property
    def complete(self) -> bool:
        """Return whether every criterion was measured and the tissue is firm."""
        return all(reason.probability is not None for reason in self.reasons)

    @property
    def risk_wrong_yes(self) -> float | None:
        """Return how probably a yes would be wrong (specific consumer's risk).

        It is the least it can be where :attr:`complete` is false.
        """
        return None if self.probability is None else 1.0 - self.probability

    @property
    def risk_wrong_no(self) -> float | None:
        """Return how probably a no would be wrong (specific producer's risk).

        It is the most it can be where :attr:`complete` is false.
        """
        return self.probability


def decide(evidence: Mapping[str, Array | None], tissue: Tissue, criteria: Criteria) -> Decision:
    """Return the verdict on one placement.

    Parameters
    ----------
    evidence : mapping of criterion name to its (M,) draws in mm, or None where nothing bears
        on it.  A criterion that does not apply (spacing of a single post) is left out.
    tissue : what the piercer's hands found
    criteria : the studio's limits and decision rule
    """
    holds: dict[str, NDArray[np.bool_]] = {}
    reasons: list[Reason] = []
    for name in CRITERION_NAMES:
        if name not in evidence:
            continue
        draws, limit = evidence[name], criteria.limits[name]
        if draws is None:
            reasons.append(Reason(name, limit, None, None))
            continue
        holds[name] = limit.contains(draws)
        reasons.append(Reason(name, limit, float(np.mean(holds[name])), draws))
    firm = 1.0 if tissue == "firm" else None
    reasons.append(Reason("tissue", None, firm, None, tissue))
    reasons.sort(key=lambda reason: _weight(reason, criteria.rule))
    if evidence.get("channel") is None:
        return Decision("undecided", None, tuple(reasons), criteria.rule)
    joint = float(np.mean(np.logical_and.reduce(list(holds.values()))))
    verdict = _verdict(joint, reasons, criteria.rule)
    return Decision(verdict, joint, tuple(reasons), criteria.rule)


def _weight(reason: Reason, rule: DecisionRule) -> tuple[int, float]:
    # Failing criteria decide first, then what is missing, then the least certain.
    if reason.probability is None:
        return (1, 0.0)
    return (0 if reason.probability <= rule.fails_to else 2, reason.probability)


def _verdict(joint: float, reasons: Sequence[Reason], rule: DecisionRule) -> Verdict:
    measured = [r for r in reasons if r.draws is not None and r.limit is not None]
    single = np.array([r.probability for r in measured], dtype=np.float64)
    value = np.array([r.draws.mean() for r in measured if r.draws is not None])
    u = np.array([r.draws.std(ddof=1) for r in measured if r.draws is not None])
    limits = [r.limit for r in measured if r.limit is not None]
    yes, no = ruled(joint, single, value, u, limits, rule)
    if no:
        return "does_not_support"
    complete = all(r.probability is not None for r in reasons)
    return "supports" if yes and complete else "undecided"


def ruled(
    joint: Any,  # noqa: ANN401  (a number or an array of shape K)
    single: Array,
    value: Array,
    u: Array,
    limits: Sequence[Limit],
    rule: DecisionRule,
) -> tuple[Any, Any]:
    """Return whether the rule says yes, and whether it says no; never both.

    Parameters
    ----------
    joint : (...) array or number
        Probability that all criteria hold.
    single : (..., C) array
        Probability of each.
    value, u : (..., C) arrays, mm
        Estimate of each and its standard uncertainty, for the guard bands.
    limits : C limits
    rule : the studio's
    """
    failing = single <= rule.fails_to
    yes = joint >= rule.supports_from
    if rule.guard_factor > 0.0:
        for i, limit in enumerate(limits):
            guard = rule.guard(u[..., i])
            yes = yes & limit.contains_by(value[..., i], guard)
            failing[..., i] &= limit.excludes_by(value[..., i], guard)
    no = failing.any(axis=-1)
    return yes & ~no, no
