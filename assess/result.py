"""The result file ``rimspan-result/1`` (``result.schema.json`` beside this module)."""

from __future__ import annotations

import json
from typing import Any, Literal

from pydantic import BaseModel, ConfigDict

from assess.verdict import Verdict
from calibration.quantity import Quantity


class _Part(BaseModel):
    model_config = ConfigDict(frozen=True, extra="allow")


class QuantityOut(_Part):
    """Mean of the draws, their standard deviation, their 2.5 and 97.5 % quantiles."""

    value: float
    u: float
    low: float
    high: float
    unit: str

    @classmethod
    def of(cls, quantity: Quantity) -> QuantityOut:
        """Return the result file's form of a quantity."""
        return cls(
            value=quantity.value,
            u=quantity.u,
            low=quantity.low,
            high=quantity.high,
            unit=quantity.unit,
        )


class ReasonOut(_Part):
    """One criterion with its limit, its probability (or null) and a sentence."""

    criterion: str
    limit: dict[str, Any] | None
    probability: float | None
    sentence: str
    measured: QuantityOut | None = None


class PostOut(_Part):
    """A post of the stock with the spare length it leaves."""

    gauge_mm: float
    length_mm: float
    spare: QuantityOut
    probability: float


class NoPostOut(_Part):
    """Why no post of the stock suits, and the length to order."""

    none: str
    order_length_mm: float | None = None


class PostsOut(_Part):
    """The post to begin with and the one after downsizing."""

    initial: PostOut | NoPostOut
    downsized: PostOut | NoPostOut


class BudgetRow(_Part):
    """An input's first-order share of the channel's variance."""

    input: str
    share: float


class PlacementOut(_Part):
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


class BandOut(_Part):
    """Band width along the rim."""

    arc_mm: tuple[float, ...]
    width_mm: tuple[float, ...]
    u_width_mm: tuple[float, ...]
    usable: tuple[tuple[float, float], ...]
    photo: str


class PhotoOut(_Part):
    """What one photo's card and picture say."""

    file: str
    tilt_deg: float | None
    distance_mm: float | None
    reprojection_px: float | None
    corners: int
    sharpness: float | None
    mirrored: bool
    warnings: tuple[str, ...]


class CriteriaOut(_Part):
    """The limits in force."""

    name: str
    version: str
    limits: dict[str, Any]


class Judgement(_Part):
    """Who decides: always a named piercer, or nobody yet."""

    statement: str
    confirmed_by: str | None


class Result(_Part):
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


def result_json(result: Result) -> str:
    """Return the result file's text: the same result gives the same bytes."""
    return json.dumps(result.model_dump(mode="json"), indent=1, ensure_ascii=False) + "\n"


def parse_result(text: str | bytes) -> Result:
    """Return the result that a file's text holds."""
    return Result.model_validate_json(text)
