"""Does the rim support the placement?  A statement of conformity on joint draws.

References
----------
JCGM 106:2012, 7 (conformance probability) and 8 (decision rules).  The joint probability is
the share of draws in which every criterion holds, never the product of the single ones.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from assess.criteria import CRITERION_NAMES, Criteria, Limit
from calibration.frames import Array

Verdict = Literal["supports", "undecided", "does_not_support"]
Tissue = Literal["firm", "soft", "not_examined"]

SUPPORTS_FROM = 0.95
FAILS_TO = 0.05


@dataclass(frozen=True, slots=True)
class Reason:
    """One criterion's part in the verdict; ``probability`` is None where nothing bears on it."""

    criterion: str
    limit: Limit | None
    probability: float | None
    draws: Array | None
    found: str = ""


@dataclass(frozen=True, slots=True)
class Decision:
    """The verdict, its joint probability and its reasons, the deciding one first."""

    verdict: Verdict
    probability: float | None
    reasons: tuple[Reason, ...]


def decide(evidence: Mapping[str, Array | None], tissue: Tissue, criteria: Criteria) -> Decision:
    """Return the verdict on one placement.

    Parameters
    ----------
    evidence : mapping of criterion name to its (M,) draws in mm, or None where nothing bears
        on it.  A criterion that does not apply (spacing of a single post) is left out.
    tissue : what the piercer's hands found
    criteria : the studio's limits
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
    reasons.sort(key=_weight)
    if evidence.get("channel") is None:
        return Decision("undecided", None, tuple(reasons))
    joint = float(np.mean(np.logical_and.reduce(list(holds.values()))))
    return Decision(_rule(joint, reasons), joint, tuple(reasons))


def _weight(reason: Reason) -> tuple[int, float]:
    # Failing criteria decide first, then what is missing, then the least certain.
    if reason.probability is None:
        return (1, 0.0)
    return (0 if reason.probability <= FAILS_TO else 2, reason.probability)


def _rule(joint: float, reasons: list[Reason]) -> Verdict:
    if any(r.probability is not None and r.probability <= FAILS_TO for r in reasons):
        return "does_not_support"
    if all(r.probability is not None for r in reasons) and joint >= SUPPORTS_FROM:
        return "supports"
    return "undecided"
