"""The result file ``rimspan-result/1`` (``result.schema.json`` beside this module)."""

from __future__ import annotations

import json
from typing import Any, Literal

from pydantic import Field

from assess.plan_result import PlanOut
from assess.result_parts import Part, QuantityOut, SeatOut, SidesOut
from assess.verdict import Verdict
from calibration.inputs import Basis


class ReasonOut(Part):
    """One criterion with its limit, its probability (or null) and a sentence.

    ``acceptance`` is the limit moved inward by the guard band; null where the rule has none.
    """

    criterion: str
    limit: dict[str, Any] | None
    probability: float | None
    sentence: str
    measured: QuantityOut | None = None
    acceptance: dict[str, Any] | None = None


class RiskOut(Part):
    """How probably a yes, and a no, would be wrong: the specific risks of JCGM 106.

    A yes at least, and a no at most, where not every criterion is measured.
    """

    wrong_yes: float
    wrong_no: float
    sentence: str


class StepOut(Part):
    """A step that could settle an undecided verdict, with its rough cost.

    ``helps`` is whether it is worth naming; ``chance_of_definite`` how probably the verdict is
    then a yes or a no, ``expected_probability`` the mean of max(P, 1 - P) then, the risks how
    probably it ends in a wrong one.  All null for what isn't measured at all: nobody can foresee
    what it will read.
    """

    step: str
    criterion: str
    minutes: float
    sentence: str
    helps: bool
    expected_probability: float | None
    chance_of_definite: float | None
    risk_wrong_yes: float | None
    risk_wrong_no: float | None


class AgreementOut(Part):
    """The channel by photo and by calipers, and whether the two agree (chi-squared)."""

    photo: QuantityOut
    caliper: QuantityOut
    difference_mm: float
    u_difference_mm: float
    chi_squared: float
    critical: float
    alpha: float
    agrees: bool


class PostOptionOut(Part):
    """A post of the stock with the probability that its spare length is the wanted one."""

    gauge_mm: float
    length_mm: float
    probability: float


class PostOut(Part):
    """A post of the stock with the spare length it leaves."""

    gauge_mm: float
    length_mm: float
    spare: QuantityOut
    probability: float
    clear: bool | None = None
    runner_up: PostOptionOut | None = None
    options: tuple[PostOptionOut, ...] = ()
    sentence: str | None = None


class NoPostOut(Part):
    """Why no post of the stock suits, the length to order, how probably that suits."""

    none: str
    order_length_mm: float | None = None
    order_probability: float | None = None
    options: tuple[PostOptionOut, ...] = ()


class PostsOut(Part):
    """The post to begin with and the one after downsizing."""

    initial: PostOut | NoPostOut
    downsized: PostOut | NoPostOut


class BudgetRow(Part):
    """An input's first-order share of the channel's variance, and how it is known.

    ``u_mm`` is what it alone brings to u; ``dof`` its degrees of freedom, null where they are
    without bound; ``basis`` whether it was measured, published or assumed.
    """

    input: str
    share: float
    u_mm: float | None = None
    distribution: str | None = None
    dof: float | None = None
    basis: Basis | None = None
    source: str | None = None


class FirstOrderOut(Part):
    """The channel's u by first order beside that of the draws; ``dof`` null if unbounded."""

    u: float
    dof: float | None
    expanded: float
    coverage: float


class PlacementOut(Part):
    """Everything said of one placement."""

    label: str
    channel: QuantityOut | None
    angle: QuantityOut | None
    relief: QuantityOut | None
    method: Literal["views", "one_view", "caliper"] | None
    verdict: Verdict
    probability: float | None
    headline: str
    reasons: tuple[ReasonOut, ...]
    posts: PostsOut
    budget: tuple[BudgetRow, ...]
    missing: tuple[str, ...]
    notes: tuple[str, ...] = ()
    photo: str | None = None
    risk: RiskOut | None = None
    settle: tuple[StepOut, ...] = ()
    agreement: AgreementOut | None = None
    exact: tuple[str, ...] = ()
    lean: QuantityOut | None = None
    """How far the axis leans outward, toward the viewer, by several views."""
    seen_in: dict[str, list[str]] = Field(default_factory=dict)
    """Point -> the photos that show it, where several views measured."""
    first_order: FirstOrderOut | None = None
    seat: SeatOut | None = None
    sides: SidesOut | None = None
    low_confidence: bool = False
    """Whether its photo has the scale from an ID-1 card or a ruler."""


class BandOut(Part):
    """Band width along the rim."""

    arc_mm: tuple[float, ...]
    width_mm: tuple[float, ...]
    u_width_mm: tuple[float, ...]
    usable: tuple[tuple[float, float], ...]
    photo: str
    low_confidence: bool = False


class PhotoOut(Part):
    """What one photo's card and picture say."""

    file: str
    tilt_deg: float | None
    distance_mm: float | None
    reprojection_px: float | None
    corners: int
    sharpness: float | None
    mirrored: bool
    warnings: tuple[str, ...]


class CriteriaOut(Part):
    """The limits and the decision rule in force; null in results from before there was one."""

    name: str
    version: str
    limits: dict[str, Any]
    rule: dict[str, float] | None = None


class Judgement(Part):
    """Who decides: always a named piercer, or nobody yet."""

    statement: str
    confirmed_by: str | None


class Result(Part):
    """A whole result file."""

    format: Literal["rimspan-result/1"] = "rimspan-result/1"
    software: str
    side: Literal["left", "right"]
    placements: tuple[PlacementOut, ...]
    band: BandOut | None
    photos: tuple[PhotoOut, ...]
    criteria: CriteriaOut
    judgement: Judgement
    seed: int
    draws: int
    low_confidence: bool = False
    """Whether anything in it was measured by an ID-1 card or a ruler."""
    several_views: tuple[str, ...] = ()
    """What is to be said of photos that were measured together."""
    plan: PlanOut | None = None
    """The placement plan, where there is one."""
    plan_missing: str | None = None
    """Why a plan that was made is not measured."""


def result_json(result: Result) -> str:
    """Return the result file's text: the same result gives the same bytes."""
    return json.dumps(result.model_dump(mode="json"), indent=1, ensure_ascii=False) + "\n"


def same_numbers(saved: Any, again: Any) -> bool:  # noqa: ANN401  (JSON values)
    """Return whether a result measured again says what the saved one says, words aside.

    What the saved one doesn't have (a field that came later) is not compared, nor are its
    sentences: how a thing is said may change, what is said may not.

    Examples
    --------
    >>> same_numbers({"u": 0.4, "note": "old"}, {"u": 0.4, "note": "new", "more": 1})
    True
    >>> same_numbers({"u": 0.4, "verdict": None}, {"u": 0.41, "verdict": None})
    False
    """
    if isinstance(saved, dict) and isinstance(again, dict):
        return all(name in again and same_numbers(saved[name], again[name]) for name in saved)
    if isinstance(saved, list | tuple) and isinstance(again, list | tuple):
        pairs = zip(saved, again, strict=False)
        return len(saved) == len(again) and all(same_numbers(*pair) for pair in pairs)
    if isinstance(saved, str) and isinstance(again, str):
        return " " in saved or saved == again  # a name is one word, a sentence is several
    return bool(saved == again)


def parse_result(text: str | bytes) -> Result:
    """Return the result that a file's text holds."""
    return Result.model_validate_json(text)
