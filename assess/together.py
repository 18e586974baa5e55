"""How probably several placements keep all their limits together, from the same draws.

Shared inputs (print, height, tilt, the ear's visible band) have one draw for all placements, so
the joint probability is the share of draws in which every limit of every placement is kept: never
the product, and never more than any part of it.

References
----------
JCGM 106:2012, 7 (conformance probability), on joint draws.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from assess.criteria import Criteria
from assess.plan import Plan, lay
from assess.rim_curve import RimCurve
from assess.scale import SCALE_AXES, SCALE_COMMON, scale_factors
from assess.spacing import Earlier, Laid, Needs, clearances
from assess.usable import PlanView, line_name
from assess.verdict import Decision, Tissue
from calibration.draws import Draws
from calibration.frames import Array


@dataclass(frozen=True, slots=True)
class Together:
    """Placements together: the joint probability, each one's and each limit's, what is lacking.

    ``probability`` is None where nothing was measured at all.  ``limits`` by (label, criterion).
    ``missing`` are limits on which nothing bears: without them no yes is possible.
    """

    probability: float | None
    each: Mapping[str, float]
    limits: Mapping[tuple[str, str], float]
    missing: tuple[tuple[str, str], ...]

    @property
    def least(self) -> tuple[str, str] | None:
        """Return the label and the limit that is kept least probably."""
        return min(self.limits, key=lambda key: self.limits[key], default=None)

    def supports(self, criteria: Criteria) -> bool:
        """Return whether all of them together reach the studio's probability for a yes."""
        enough = self.probability is not None and self.probability >= criteria.rule.supports_from
        return enough and not self.missing


def together(decisions: Mapping[str, Decision]) -> Together:
    """Return what measured placements do together, from their decisions on the same draws.

    Raises
    ------
    ValueError
        If they were not made with equally many draws.
    """
    holds: dict[tuple[str, str], NDArray[np.bool_]] = {}
    missing: list[tuple[str, str]] = []
    for label, decision in decisions.items():
        for reason in decision.reasons:
            key = (label, reason.criterion)
            if reason.draws is not None and reason.limit is not None:
                holds[key] = np.asarray(reason.limit.contains(reason.draws))
            elif reason.probability is None:
                missing.append(key)
    return _together(holds, missing)


def planned_together(
    plan: Plan,
    rim: RimCurve,
    view: PlanView,
    criteria: Criteria,
    draws: Draws,
    *,
    needs: Needs = Needs(),  # noqa: B008  (frozen)
    earlier: Sequence[Earlier] = (),
    tissue: Tissue = "not_examined",
    cover_mm: Array | None = None,
) -> Together:
    """Return how probably a plan keeps its limits, by what the contours and the hands tell.

    Parameters
    ----------
    plan, rim, view : what is planned, where, and how well the photo tells lengths
    criteria : the studio's; of its limits those on channel, spacing and cover
    needs, earlier : least distances, and what was pierced before
    tissue : how firmly the rim holds, by the piercer's hands
    cover_mm : (M,) draws of the tissue left beside a post where the rim is thinnest, by calipers

    A placement whose axis doesn't come out of the rim has probability 0.
    """
    laid = lay(plan, rim)
    if not isinstance(laid, Laid):
        gone = {(label, "channel"): np.zeros(draws.count, bool) for label in laid.labels}
        return _together(gone, [])
    holds: dict[tuple[str, str], NDArray[np.bool_]] = {}
    lengths = view.channels(laid, draws)
    apart = spacing_holds(laid, view, needs, earlier, draws)
    for label, length in zip(laid.labels, lengths, strict=True):
        holds[label, "channel"] = np.asarray(criteria.limits["channel"].contains(length))
        if label in apart:
            holds[label, "spacing"] = apart[label]
        if cover_mm is not None:
            holds[label, "cover"] = np.asarray(criteria.limits["cover_front"].contains(cover_mm))
    hands = [] if tissue == "firm" else ["tissue"]
    lacking = [*hands, *(["cover"] if cover_mm is None else [])]
    return _together(holds, [(label, name) for label in laid.labels for name in lacking])


def spacing_holds(
    laid: Laid, view: PlanView, needs: Needs, earlier: Sequence[Earlier], draws: Draws
) -> dict[str, NDArray[np.bool_]]:
    """Return, by label, in which draws every distance of a placement is kept, (M,) each.

    Distances move with the print's scale and with how near to its plan each dot is put.
    """
    inputs = {entry.name: entry for entry in view.inputs(laid.labels)}
    factors = scale_factors(inputs[SCALE_COMMON].draw(draws), inputs[SCALE_AXES].draw(draws))[:2]
    shift = {label: inputs[line_name(label)].draw(draws)[2:] for label in laid.labels}
    place = {label: laid.middle_mm[i] for i, label in enumerate(laid.labels)}
    kept: dict[str, NDArray[np.bool_]] = {}
    for each in clearances(laid, needs, earlier):
        moved = np.zeros((2, draws.count))
        for label, sign in ((each.first, 1.0), (each.second, -1.0)):
            moved += sign * shift.get(label, np.zeros((2, draws.count)))
        way = _way(each.first, each.second, place, earlier)
        # Along the line between them the distance moves as the ends do, and as the print's scale.
        scale = np.hypot(*(factors * way[:, None]))
        holds = each.distance_mm * scale + way @ moved >= each.needed_mm
        for label in {each.first, each.second} & set(place):
            kept[label] = kept[label] & holds if label in kept else holds
    return kept


def _way(first: str, second: str, place: Mapping[str, Array], earlier: Sequence[Earlier]) -> Array:
    """Return the unit vector from the second to the first, (2,)."""
    there = {e.name: (np.asarray(e.start) + np.asarray(e.end)) / 2.0 for e in earlier}
    way = place[first] - (place[second] if second in place else there[second])
    length = float(np.hypot(*way))
    return way / length if length > 0.0 else np.array([1.0, 0.0])


def _together(
    holds: Mapping[tuple[str, str], NDArray[np.bool_]], missing: Sequence[tuple[str, str]]
) -> Together:
    each: dict[str, NDArray[np.bool_]] = {}
    for (label, _), kept in holds.items():
        each[label] = each[label] & kept if label in each else kept
    joint = float(np.mean(np.logical_and.reduce(list(each.values())))) if each else None
    return Together(
        joint,
        {label: float(kept.mean()) for label, kept in each.items()},
        {key: float(kept.mean()) for key, kept in holds.items()},
        tuple(missing),
    )
