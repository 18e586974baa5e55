"""Parts of the result file that stand by themselves: quantities, the seat, what can be drawn."""

from __future__ import annotations

import numpy as np
from pydantic import BaseModel, ConfigDict

from assess.two_sides import TwoSides
from calibration.quantity import Quantity


class Part(BaseModel):
    """A part of the result file; what later versions add is kept."""

    model_config = ConfigDict(frozen=True, extra="allow")


class QuantityOut(Part):
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


class SeatEndOut(Part):
    """The angle between the axis and the skin's normal at one end, deg; null: not measured.

    ``along`` the rim, positive toward the face, ``across`` it, positive outward; under
    ``within_deg`` the whole angle lies, 95 times in 100.
    """

    along: QuantityOut | None
    across: QuantityOut | None
    within_deg: float | None
    sentence: str


class SeatOut(Part):
    """The seat: whether a disc would lie flush, at each end."""

    entry: SeatEndOut
    exit: SeatEndOut


class PlaceOut(Part):
    """A dot in the card's frame, mm, and its covariance, mm²; depth null: one photo can't tell it.

    The covariance is that of x and y alone where depth is null.
    """

    at_mm: tuple[float, float, float | None]
    covariance_mm2: tuple[tuple[float, ...], ...]


class SidesOut(Part):
    """What can be drawn of a placement from two sides: dots by kind, and the rim's contours, mm."""

    places: dict[str, PlaceOut]
    outer_mm: tuple[tuple[float, float], ...] | None
    inner_mm: tuple[tuple[float, float], ...] | None

    @classmethod
    def of(cls, sides: TwoSides) -> SidesOut:
        """Return the result file's form."""
        places = {}
        for kind, place in sides.places.items():
            size = 3 if np.isfinite(place.at_mm[2]) else 2
            x, y, z = place.at_mm.tolist()
            rows = place.covariance[:size, :size].tolist()
            places[kind] = PlaceOut(
                at_mm=(x, y, z if size == 3 else None),
                covariance_mm2=tuple(tuple(row) for row in rows),
            )
        outer, inner = (
            None if line is None else tuple((x, y) for x, y in np.round(line, 3).tolist())
            for line in (sides.outer_mm, sides.inner_mm)
        )
        return cls(places=places, outer_mm=outer, inner_mm=inner)
