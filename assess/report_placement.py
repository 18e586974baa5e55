"""A placement's draws and decision -> its part of the result file."""

from __future__ import annotations

from dataclasses import dataclass

from assess import wording
from assess.budget import shares
from assess.channel import Axis, Channel, unwrapped
from assess.criteria import Criteria
from assess.marks import PostStock
from assess.posts import NoPost, PostChoice, choose_post
from assess.result import (
    BudgetRow,
    NoPostOut,
    PlacementOut,
    PostOut,
    PostsOut,
    QuantityOut,
    ReasonOut,
)
from assess.verdict import Decision
from calibration.frames import Array
from calibration.quantity import Quantity


@dataclass(frozen=True, slots=True)
class Found:
    """Everything found on one placement."""

    label: str
    photo: str | None
    axis: Axis | None
    channel: Channel | None
    relief: Array | None
    decision: Decision
    refusals: tuple[str, ...]


def placement_out(found: Found, stock: tuple[PostStock, ...], criteria: Criteria) -> PlacementOut:
    """Return the placement as the result file holds it."""
    channel = _mm(found.channel.draws) if found.channel else None
    decision = found.decision
    rows = (
        [BudgetRow.model_validate(row) for row in shares(found.channel.parts_mm2)]
        if (found.channel)
        else []
    )
    return PlacementOut(
        label=found.label,
        channel=QuantityOut.of(channel) if channel else None,
        angle=_angle(found),
        relief=QuantityOut.of(_mm(found.relief)) if found.relief is not None else None,
        method=found.channel.method if found.channel else None,
        verdict=decision.verdict,
        probability=decision.probability,
        headline=wording.headline(decision.verdict, decision.reasons, channel),
        reasons=_reasons(decision),
        posts=_posts(found.channel, stock, criteria),
        budget=tuple(rows),
        missing=_missing(found),
        notes=_notes(found),
        photo=found.photo,
    )


def _mm(draws: Array) -> Quantity:
    return Quantity.from_draws(draws, "mm")


def _angle(found: Found) -> QuantityOut | None:
    if found.axis is None:
        return None
    quantity = Quantity.from_draws(unwrapped(found.axis.angle_deg), "deg")
    value = quantity.value
    turns = 360.0 if value <= -180.0 else -360.0 if value > 180.0 else 0.0
    return QuantityOut(
        value=value + turns,
        u=quantity.u,
        low=quantity.low + turns,
        high=quantity.high + turns,
        unit="deg",
    )


def _reasons(decision: Decision) -> tuple[ReasonOut, ...]:
    out = []
    for reason in decision.reasons:
        measured = _mm(reason.draws) if reason.draws is not None else None
        out.append(
            ReasonOut(
                criterion=reason.criterion,
                limit=reason.limit.to_dict() if reason.limit else {"wanted": "firm"},
                probability=reason.probability,
                sentence=wording.reason_sentence(reason, measured),
                measured=QuantityOut.of(measured) if measured else None,
            )
        )
    return tuple(out)


def _posts(channel: Channel | None, stock: tuple[PostStock, ...], criteria: Criteria) -> PostsOut:
    if channel is None:
        none = NoPostOut(none=wording.NO_CHANNEL_FOR_POSTS, order_length_mm=None)
        return PostsOut(initial=none, downsized=none)
    limits = criteria.limits
    first, later = (
        _post_out(choose_post(channel.draws, stock, limits[window], limits["post"]))
        for window in ("spare_initial", "spare_downsized")
    )
    return PostsOut(initial=first, downsized=later)


def _post_out(choice: PostChoice | NoPost) -> PostOut | NoPostOut:
    if isinstance(choice, NoPost):
        return NoPostOut(
            none=wording.no_post_sentence(choice), order_length_mm=choice.order_length_mm
        )
    return PostOut(
        gauge_mm=choice.gauge_mm,
        length_mm=choice.length_mm,
        spare=QuantityOut.of(_mm(choice.spare_draws)),
        probability=choice.probability,
    )


def _missing(found: Found) -> tuple[str, ...]:
    names = [
        reason.criterion
        for reason in found.decision.reasons
        if reason.probability is None and reason.found != "soft"
    ]
    return (*found.refusals, *(wording.missing_sentence(name) for name in names))


def _notes(found: Found) -> tuple[str, ...]:
    if found.channel is None or found.channel.disagreement is None:
        return ()
    sentence = wording.disagreement_sentence(*found.channel.disagreement)
    return (sentence,) if sentence else ()
