"""A placement's draws and decision -> its part of the result file."""

from __future__ import annotations

from dataclasses import dataclass, field
from math import isinf, sqrt

from assess import caliper_wording, post_wording, wording
from assess.budget import effective_dof, shares
from assess.channel import ALPHA, Agreement, Axis, Channel, unwrapped
from assess.criteria import Criteria, Limit
from assess.marks import PostStock
from assess.posts import NoPost, PostOption, choose_post
from assess.result import (
    AgreementOut,
    BudgetRow,
    FirstOrderOut,
    NoPostOut,
    PlacementOut,
    PostOptionOut,
    PostOut,
    PostsOut,
    ReasonOut,
    RiskOut,
    StepOut,
)
from assess.result_parts import QuantityOut, SeatEndOut, SeatOut, SidesOut
from assess.seat import EndSeat, Seat
from assess.seat_wording import seat_sentences
from assess.settle import Outlook, settle
from assess.space import SpacePlacement
from assess.space_wording import loose_sentence
from assess.steps import Circumstances
from assess.two_sides import TwoSides
from assess.verdict import Decision
from calibration.first_order import expanded
from calibration.frames import Array
from calibration.quantity import Quantity

COVERAGE = 0.95


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
    how: Circumstances
    space: SpacePlacement | None = None
    seat: Seat = field(default_factory=Seat)
    sides: TwoSides | None = None
    low_confidence: bool = False
    """Whether the photo that measured it has its scale from an ID-1 card or a ruler."""


def placement_out(found: Found, stock: tuple[PostStock, ...], criteria: Criteria) -> PlacementOut:
    """Return the placement as the result file holds it."""
    channel = _mm(found.channel.draws) if found.channel else None
    decision = found.decision
    outlooks = settle(decision, found.channel, found.how)
    agreement = found.channel.agreement if found.channel else None
    return PlacementOut(
        label=found.label,
        channel=QuantityOut.of(channel) if channel else None,
        angle=_angle(found),
        relief=QuantityOut.of(_mm(found.relief)) if found.relief is not None else None,
        method=found.channel.method if found.channel else None,
        verdict=decision.verdict,
        probability=decision.probability,
        headline=wording.headline(
            decision, channel, outlooks, agreement, low_confidence=found.low_confidence
        ),
        low_confidence=found.low_confidence,
        reasons=_reasons(decision),
        posts=_posts(found.channel, stock, criteria),
        budget=_budget(found.channel),
        first_order=_first_order(found.channel),
        missing=_missing(found),
        notes=_notes(found),
        photo=found.photo,
        risk=_risk(decision),
        settle=tuple(_step(outlook) for outlook in outlooks),
        agreement=_agreement(agreement) if agreement else None,
        exact=wording.exact_terms(decision, agreement),
        lean=_lean(found.space),
        seat=_seat(found.seat),
        sides=None if found.sides is None else SidesOut.of(found.sides),
        seen_in={name: list(files) for name, files in found.space.seen_in.items()}
        if found.space
        else {},
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


def _lean(space: SpacePlacement | None) -> QuantityOut | None:
    if space is None or space.lean_deg is None:
        return None
    return QuantityOut.of(Quantity.from_draws(space.lean_deg, "deg"))


def _seat(seat: Seat) -> SeatOut:
    said = seat_sentences(seat)
    return SeatOut(entry=_end(seat.entry, said[0]), exit=_end(seat.exit, said[1]))


def _end(end: EndSeat, said: str) -> SeatEndOut:
    parts = (
        None if part is None else QuantityOut.of(Quantity.from_draws(part, "deg"))
        for part in (end.along_deg, end.across_deg)
    )
    along, across = parts
    return SeatEndOut(along=along, across=across, within_deg=end.within_deg, sentence=said)


def _reasons(decision: Decision) -> tuple[ReasonOut, ...]:
    out = []
    for reason in decision.reasons:
        measured = reason.measured
        guard = decision.rule.guard(measured.u) if measured else 0.0
        guarded = reason.limit.moved_in(guard) if reason.limit and guard > 0.0 else None
        out.append(
            ReasonOut(
                criterion=reason.criterion,
                limit=reason.limit.to_dict() if reason.limit else {"wanted": "firm"},
                probability=reason.probability,
                sentence=wording.reason_sentence(reason, decision.rule),
                measured=QuantityOut.of(measured) if measured else None,
                acceptance=guarded,
            )
        )
    return tuple(out)


def _budget(channel: Channel | None) -> tuple[BudgetRow, ...]:
    if channel is None:
        return ()
    return tuple(
        BudgetRow(
            input=line.name,
            share=share,
            u_mm=line.u_mm,
            distribution=line.distribution,
            dof=None if isinf(line.dof) else line.dof,
            basis=line.basis,
            source=line.source,
        )
        for line, share in shares(channel.lines)
    )


def _first_order(channel: Channel | None) -> FirstOrderOut | None:
    if channel is None:
        return None
    u = sqrt(sum(line.variance for line in channel.lines))
    dof = effective_dof(channel.lines)
    return FirstOrderOut(
        u=u,
        dof=None if isinf(dof) else dof,
        expanded=expanded(u, dof, COVERAGE),
        coverage=COVERAGE,
    )


def _risk(decision: Decision) -> RiskOut | None:
    yes, no = decision.risk_wrong_yes, decision.risk_wrong_no
    if yes is None or no is None:
        return None
    return RiskOut(wrong_yes=yes, wrong_no=no, sentence=wording.risk_sentence(decision))


def _step(outlook: Outlook) -> StepOut:
    return StepOut(
        step=outlook.step.name,
        criterion=outlook.step.criterion,
        minutes=outlook.step.minutes,
        sentence=wording.step_sentence(outlook),
        helps=outlook.helps,
        expected_probability=outlook.expected_probability,
        chance_of_definite=outlook.chance_of_definite,
        risk_wrong_yes=outlook.risk_wrong_yes,
        risk_wrong_no=outlook.risk_wrong_no,
    )


def _agreement(agreement: Agreement) -> AgreementOut:
    return AgreementOut(
        photo=QuantityOut.of(agreement.photo),
        caliper=QuantityOut.of(agreement.caliper),
        difference_mm=agreement.difference_mm,
        u_difference_mm=agreement.u_difference_mm,
        chi_squared=agreement.chi_squared,
        critical=agreement.critical,
        alpha=ALPHA,
        agrees=agreement.agrees,
    )


def _posts(channel: Channel | None, stock: tuple[PostStock, ...], criteria: Criteria) -> PostsOut:
    if channel is None:
        none = NoPostOut(none=post_wording.NO_CHANNEL_FOR_POSTS, order_length_mm=None)
        return PostsOut(initial=none, downsized=none)
    limits = criteria.limits
    first, later = (
        _post(channel.draws, stock, limits[window], limits["post"], later=later)
        for window, later in (("spare_initial", False), ("spare_downsized", True))
    )
    return PostsOut(initial=first, downsized=later)


def _post(
    channel: Array, stock: tuple[PostStock, ...], window: Limit, post: Limit, *, later: bool
) -> PostOut | NoPostOut:
    choice = choose_post(channel, stock, window, post)
    options = tuple(_option(option) for option in choice.options)
    if isinstance(choice, NoPost):
        return NoPostOut(
            none=post_wording.no_post_sentence(choice, later=later),
            order_length_mm=choice.order_length_mm,
            order_probability=choice.order_probability,
            options=options,
        )
    second = choice.runner_up
    return PostOut(
        gauge_mm=choice.gauge_mm,
        length_mm=choice.length_mm,
        spare=QuantityOut.of(_mm(choice.spare_draws)),
        probability=choice.probability,
        clear=choice.clear,
        runner_up=_option(second) if second else None,
        options=options,
        sentence=post_wording.chosen_post_sentence(choice, _mm(channel), later=later),
    )


def _option(option: PostOption) -> PostOptionOut:
    return PostOptionOut(
        gauge_mm=option.gauge_mm, length_mm=option.length_mm, probability=option.probability
    )


def _missing(found: Found) -> tuple[str, ...]:
    names = [
        reason.criterion
        for reason in found.decision.reasons
        if reason.probability is None and reason.found != "soft"
    ]
    return (*found.refusals, *(wording.missing_sentence(name) for name in names))


def _notes(found: Found) -> tuple[str, ...]:
    reading, notes = found.how.caliper, []
    if found.channel is not None and found.channel.agreement is not None:
        notes.append(caliper_wording.disagreement_sentence(found.channel.agreement))
    if reading is not None and reading.channel_mm is not None:
        notes.append(caliper_wording.pressing_sentence(reading.u_channel_mm or 0.0))
    if found.space is not None:
        notes.append(loose_sentence(found.space))
    return tuple(note for note in notes if note)
