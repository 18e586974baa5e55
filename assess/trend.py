"""Three visits and more: does it drift, how fast, and how sure that is.

A straight line in time by weighted least squares.  Every visit is held against one baseline, so
the baseline's own error is in all of them; that part is common, and the fit knows it.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date

import numpy as np
from scipy.stats import chi2, norm

from calibration.frames import Array

LEAST_VISITS = 3
SAID_FROM = 0.95
"""A drift is said from this probability on that it goes the way it seems to."""
MONTH_DAYS = 365.25 / 12.0


class TrendError(ValueError):
    """A trend can't be had of these visits: the message says what is lacking."""


@dataclass(frozen=True, slots=True)
class Seen:
    """One visit's change since the baseline, with its u: of the visit itself, and what it shares.

    ``u_common`` is the u of what all visits share: the baseline's own marks.
    """

    on: date
    value: float
    u: float
    u_common: float = 0.0

    def __post_init__(self) -> None:
        if self.u <= 0.0 or self.u_common < 0.0:
            raise TrendError("every visit needs a u over 0")

    @property
    def interval(self) -> tuple[float, float, float]:
        """Return the low end, the value and the high end of its own 95 % interval."""
        half = float(norm.ppf(0.975) * np.hypot(self.u, self.u_common))
        return self.value - half, self.value, self.value + half


@dataclass(frozen=True, slots=True)
class Trend:
    """A drift per month: its interval, and how probably it goes the way it seems to.

    ``fits`` says whether a straight line is what the visits allow (chi-squared, 1 %).
    """

    per_month: float
    u: float
    low: float
    high: float
    probability: float
    visits: int
    fits: bool

    @property
    def said(self) -> bool:
        """Return whether it is a drift to be said."""
        return self.probability > SAID_FROM


def trend(baseline: date, seen: Sequence[Seen]) -> Trend:
    """Return the drift since the baseline.

    The baseline is a visit itself: its change is nothing, and its error is what all others share.

    Parameters
    ----------
    baseline : the day of the insertion's photos
    seen : at least two later visits, in one unit

    Raises
    ------
    TrendError
        With fewer than three visits, two on one day, or one before the baseline.

    References
    ----------
    Generalised least squares with known covariance; the interval is normal.
    """
    days = [visit.on for visit in seen]
    if len(seen) + 1 < LEAST_VISITS:
        raise TrendError(f"a trend needs {LEAST_VISITS} visits, the baseline among them")
    if len(set(days)) < len(days) or min(days) <= baseline:
        raise TrendError("visits must be on different days after the baseline")
    months = np.array([(day - baseline).days / MONTH_DAYS for day in days])
    values = np.array([visit.value for visit in seen])
    common = np.array([visit.u_common for visit in seen])
    spread = np.diag([visit.u**2 for visit in seen]) + np.outer(common, common)
    slope, u, chi = _through_zero(months, values, spread)
    half = float(norm.ppf(0.975)) * u
    probability = float(norm.cdf(abs(slope) / u))
    return Trend(
        slope, u, slope - half, slope + half, probability, len(seen) + 1, _fits(chi, len(seen))
    )


def _through_zero(months: Array, values: Array, spread: Array) -> tuple[float, float, float]:
    """Return the slope of a line that begins at nothing, its u, and chi-squared."""
    weighed = np.linalg.solve(spread, months)
    information = float(months @ weighed)
    slope = float(weighed @ values) / information
    left = values - slope * months
    return slope, information**-0.5, float(left @ np.linalg.solve(spread, left))


def _fits(chi_squared: float, count: int) -> bool:
    return bool(chi2.sf(chi_squared, count - 1) >= 0.01)
