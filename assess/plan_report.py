"""What was found of a plan -> its part of the result, with its sentences."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from assess import plan_words, wear_words
from assess.criteria import Criteria
from assess.ends import unsuitable_first
from assess.how_many import HowMany
from assess.plan import OffRim, Plan
from assess.plan_marks import PlanJewellery, PlanMarks
from assess.plan_posts import PlannedPost, Seated
from assess.plan_result import (
    CarriesOut,
    DistanceOut,
    PlanEndOut,
    PlannedOut,
    PlanOut,
    PlanPostOut,
    WornOut,
)
from assess.plan_scene import Scene
from assess.result_parts import QuantityOut
from assess.spacing import Laid, clearances
from assess.together import Together
from assess.wear import WearClearance
from assess.worn_post import WornPost
from calibration.quantity import Quantity

TIGHTEST = 3
"""So many distances that are kept are told beside those that are broken."""


@dataclass(frozen=True, slots=True, eq=False)
class Found:
    """Everything found of a plan; ``planned`` and ``laid`` None where nothing is planned yet."""

    plan: PlanMarks
    scene: Scene
    planned: Plan | None
    laid: Laid | OffRim | None
    together: Together | None
    posts: tuple[PlannedPost, ...]
    carries: HowMany
    worn: tuple[tuple[str, WearClearance], ...]
    draws: int


def plan_out(found: Found, criteria: Criteria) -> PlanOut:
    """Return the plan's part of the result."""
    plan, together = found.plan, found.together
    off = found.laid.labels if isinstance(found.laid, OffRim) else ()
    distances = _distances(found)
    broken = any(each.distance_mm < each.needed_mm for each in distances)
    unsuitable = _unsuitable(plan.jewellery)
    supports = together is not None and together.supports(criteria)
    return PlanOut(
        photo=plan.photo,
        wanted=plan.wanted,
        spacing=plan.spacing,
        upright=plan.upright,
        placements=tuple(_planned(post, found) for post in found.posts),
        off_rim=off,
        probability=together.probability if together else None,
        supports=supports and not broken and not unsuitable,
        sentences=_sentences(found, off),
        carries=_carries(found.carries),
        distances=distances,
        worn=tuple(_worn(file, each) for file, each in found.worn),
        jewellery=(wear_words.jewellery_sentence(plan.jewellery), *unsuitable),
        approval=plan.approval,
        draws=found.draws,
        low_confidence=found.scene.reading.low_confidence,
    )


def _sentences(found: Found, off: tuple[str, ...]) -> tuple[str, ...]:
    planned = len(found.plan.placements)
    said = [plan_words.wanted_sentence(found.plan.wanted, planned, found.carries)]
    if off:
        said.append(plan_words.off_rim_sentence(off))
    elif found.together is not None:
        said.append(plan_words.together_sentence(found.together))
    said.append(plan_words.approval_sentence(found.plan.approval, planned))
    return tuple(line for line in said if line)


def _unsuitable(jewellery: PlanJewellery) -> tuple[str, ...]:
    reasons = unsuitable_first(jewellery.style, (jewellery.top.end(), jewellery.bottom.end()))
    if jewellery.thread == "outside thread":
        reasons = (*reasons, "outside thread")
    said = wear_words.unsuitable_sentence(reasons)
    return (said,) if said else ()


def _carries(carries: HowMany) -> CarriesOut:
    return CarriesOut(
        count=carries.count,
        why=carries.why,
        usable_mm=carries.usable_mm,
        settled=carries.settled,
        probability=carries.joint.probability if carries.joint else None,
        sentence=plan_words.number_sentence(carries),
    )


def _distances(found: Found) -> tuple[DistanceOut, ...]:
    if not isinstance(found.laid, Laid):
        return ()
    every = clearances(found.laid, found.scene.rim.needs, found.scene.rim.earlier)
    broken = [each for each in every if each.margin_mm < 0.0]
    kept = [each for each in every if each.margin_mm >= 0.0]
    return tuple(
        DistanceOut(
            first=each.first,
            second=each.second,
            part=each.part,
            distance_mm=each.distance_mm,
            needed_mm=each.needed_mm,
            sentence=plan_words.clearance_sentence(each),
        )
        for each in [*broken, *kept[:TIGHTEST]]
    )


def _planned(post: PlannedPost, found: Found) -> PlannedOut:
    at = found.scene
    (entry, exit_) = at.to_px(np.array([post.entry_mm, post.exit_mm])).tolist()
    arc = at.rim.curve.arc_of(post.entry_mm)
    together = found.together
    limits = {} if together is None else together.limits
    channel = QuantityOut.of(Quantity.from_draws(post.channel_mm, "mm"))
    lean = next(p.lean_deg for p in found.plan.placements if p.label == post.label)
    now, later = (_post(worn, order) for worn, order in zip(post.worn, post.to_order, strict=True))
    fold = None if not np.isfinite(post.fold_mm) else post.fold_mm
    ends = [_end(seat, name) for seat, name in zip(post.seats, ("entry", "exit"), strict=True)]
    return PlannedOut(
        label=post.label,
        entry_px=(entry[0], entry[1]),
        exit_px=(exit_[0], exit_[1]),
        arc_mm=arc,
        lean_deg=lean,
        channel=channel,
        probability=together.each[post.label] if together else 0.0,
        limits={name: value for (label, name), value in limits.items() if label == post.label},
        posts=(now, later),
        entry_end=ends[0],
        exit_end=ends[1],
        fold_room_mm=fold,
        sentences=plan_words.post_sentences(post, [now.sentence, later.sentence]),
    )


def _post(worn: WornPost, to_order: bool) -> PlanPostOut:
    rooms = (worn.room_worn, worn.room_pierced)
    below, pierced = (None if room is None else QuantityOut.of(room) for room in rooms)
    return PlanPostOut(
        when=worn.when,
        length_mm=worn.length_mm,
        to_order=to_order,
        each_side=QuantityOut.of(worn.each_side),
        most=QuantityOut.of(worn.most),
        arm=worn.arm,
        presses=worn.presses,
        room_worn=below,
        room_pierced=pierced,
        fits=worn.fits,
        sentence=wear_words.worn_post_sentence(worn),
    )


def _end(seat: Seated, name: str) -> PlanEndOut:
    return PlanEndOut(
        seat_deg=seat.seat_deg,
        stands_off_mm=seat.stands_off_mm,
        sentence=wear_words.seat_sentence(name, seat.stands_off_mm, seat.seat_deg),
    )


def _worn(file: str, found: WearClearance) -> WornOut:
    return WornOut(
        file=file,
        thing=found.thing,
        name=found.name,
        label=found.label,
        end=found.side,
        when=found.when,
        distance=QuantityOut.of(found.distance),
        touch_probability=found.touch_probability,
        says=found.says,
        sentence=wear_words.wear_sentence(found),
    )
