"""What every part of the marks file shares: its points and numbers, and what it refuses."""

from __future__ import annotations

from typing import Annotated, Any

from pydantic import BaseModel, ConfigDict, Field, model_validator

Point = tuple[float, float]
Polyline = Annotated[tuple[Point, ...], Field(min_length=2)]
Positive = Annotated[float, Field(gt=0)]
NonNegative = Annotated[float, Field(ge=0)]


def _frozen(value: Any) -> Any:  # noqa: ANN401  (any JSON value)
    """Return a JSON value with tuples for its arrays."""
    if isinstance(value, dict):
        return {name: _frozen(part) for name, part in value.items()}
    return tuple(_frozen(part) for part in value) if isinstance(value, list) else value


class Strict(BaseModel):
    """Refuses nulls and unknown names, except those that begin with ``x_``.

    Of these it reads its own, where they carry its format (``"format": "rimspan-plan/1"`` and the
    like): any other program may use the same name for something else.
    """

    model_config = ConfigDict(extra="forbid", frozen=True, strict=True, allow_inf_nan=False)

    @model_validator(mode="before")
    @classmethod
    def _drop_private(cls, data: Any) -> Any:  # noqa: ANN401  (pydantic hands in anything)
        if isinstance(data, dict):
            known = {name: value for name, value in data.items() if cls._reads(name, value)}
            nulls = sorted(name for name, value in known.items() if value is None)
            if nulls:  # a name may be left out; the format has no null
                raise ValueError(f"{', '.join(nulls)} must not be null; leave the name out")
            return {name: _frozen(value) for name, value in known.items()}
        return data

    @classmethod
    def _reads(cls, name: str, value: Any) -> bool:  # noqa: ANN401
        if not name.startswith("x_"):
            return True
        ours = str(value.get("format", "")) if isinstance(value, dict) else ""
        return name in cls.model_fields and ours.startswith("rimspan-")
