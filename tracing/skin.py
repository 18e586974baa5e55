"""What is skin and what lies behind it, learned on both sides of where the edge may be.

All in the logarithm of light: shade, two differences of colour, and grain, what is left of the
shade without its slow part; hair is full of grain, skin is calm.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from scipy.ndimage import gaussian_filter, gaussian_filter1d

from calibration.frames import Array
from tracing.light import Light

GRAIN_MM = 0.35
"""What is slower than that is no grain."""
CALM = 0.015
"""Grain that a picture of calm skin shows by its noise."""
SURE = 2.5
"""Logarithm of the most that one place may speak for skin or against it."""
BEND_MM = 0.2
"""As far beyond the edge skin's shade is taken to go on as it comes."""
SKIN_SHADE, SKIN_RED, SKIN_COLOUR, SKIN_GRAIN = 1.55, 0.31, 0.11, 0.9
"""By how much skin may differ from skin behind it: shade; the red that a shadow's border takes;
any other colour; the logarithm of grain."""
RED = np.array([0.857, -0.515])
"""That red's direction among the two differences of colour."""


@dataclass(frozen=True, slots=True, eq=False)
class Looks:
    """How one side looks near each row: means, (S, 1 or O, F), and covariances, (S, F, F)."""

    mean: Array
    spread: Array

    def rougher(self, floor: Array) -> Looks:
        """Return it with standard deviations, (F,), that it has in any case added."""
        return Looks(self.mean, self.spread + np.diag(floor**2))


def colours(strip: Light) -> Array:
    """Return shade, red less green and blue less green, (S, O, 3)."""
    red, green, blue = np.moveaxis(strip.astype(np.float64), -1, 0)
    return np.stack([(red + green + blue) / 3, red - green, blue - green], axis=-1)


def with_grain(seen: Array, row_mm: float, column_mm: float) -> Array:
    """Return colours with their shade's grain as the fourth, (S, O, 4)."""
    shade = seen[..., 0]
    slow = gaussian_filter(shade, (GRAIN_MM / row_mm, GRAIN_MM / column_mm), mode="nearest")
    return np.concatenate([seen, (shade - slow)[..., None]], axis=-1)


def looks(seen: Array, weight: Array | None, rows: float) -> Looks:
    """Return how a strip, or the weighted part of it, looks near each row.

    Parameters
    ----------
    seen : (S, O, F) array
    weight : (S, O) array, or None for all of it
    rows : float
        Standard deviation along the strip of what counts as near.
    """
    share = np.ones(seen.shape[:2]) if weight is None else weight
    total = _along(share.sum(axis=1), rows)[:, None] + 1e-9
    mean = _along((share[..., None] * seen).sum(axis=1), rows) / total
    apart = seen - mean[:, None]
    square = np.matmul((apart * share[..., None]).transpose(0, 2, 1), apart)
    return Looks(mean[:, None], _along(square, rows) / total[..., None])


def looks_across(seen: Array, part: slice, across_mm: Array, rows: float) -> Looks:
    """Return how a strip looks whose shade and colour change evenly across its ``part``.

    So does skin that turns away.  The change goes on to ``BEND_MM`` beyond column 0.
    """
    held, off_mm = seen[:, part], across_mm[part] - across_mm[part].mean()
    level = _along(held.mean(axis=1), rows)
    slope = _along(np.tensordot(held, off_mm / (off_mm**2).sum(), axes=(1, 0)), rows)
    off_all = np.minimum(across_mm, BEND_MM) - across_mm[part].mean()
    mean = level[:, None] + slope[:, None] * off_all[None, :, None]
    apart = held - mean[:, part]
    square = np.matmul(apart.transpose(0, 2, 1), apart) / len(off_mm)
    return Looks(mean, _along(square, rows))


def _along(values: Array, rows: float) -> Array:
    return np.asarray(gaussian_filter1d(values, rows, axis=0, mode="nearest"))


def likelier_skin(seen: Array, skin: Looks, behind: Looks) -> Array:
    """Return the logarithm of how much likelier each place is skin than behind it, (S, O)."""
    ratio = _log_likelihood(seen, skin) - _log_likelihood(seen, behind)
    return np.clip(ratio, -SURE, SURE)


def _log_likelihood(seen: Array, of: Looks) -> Array:
    apart = seen - of.mean
    away = np.einsum("sof,sof->so", np.matmul(apart, np.linalg.inv(of.spread)), apart)
    return np.asarray(-0.5 * (away + np.linalg.slogdet(of.spread)[1][:, None]))


def edge_gain(likelier: Array, across_mm: Array, places_mm: Array, window_mm: float) -> Array:
    """Return how much speaks for skin inward of each place and against it outward, (R, P).

    Parameters
    ----------
    likelier : (R, O) array
    across_mm : (O,) array
        Its columns, evenly apart.
    places_mm : (P,) array
    window_mm : float
        How far on each side counts.
    """
    step = float(across_mm[1] - across_mm[0])
    total = np.zeros((len(likelier), len(across_mm) + 1))
    np.cumsum(likelier * step, axis=1, out=total[:, 1:])

    def until(place_mm: Array) -> Array:
        at = np.clip((place_mm - across_mm[0]) / step + 0.5, 0.0, len(across_mm))
        low = np.minimum(at.astype(int), len(across_mm) - 1)
        share = at - low
        return np.asarray(total[:, low] * (1 - share) + total[:, low + 1] * share)

    return 2 * until(places_mm) - until(places_mm - window_mm) - until(places_mm + window_mm)


def unlike_skin(skin: Looks, behind: Looks) -> Array:
    """Return how unlike skin what lies behind is, (S,); from 1 on it is something else.

    Skin behind skin differs in shade, a shadow's border is red, and both are calm; hair is
    full of grain, cloth and card have another colour.

    Parameters
    ----------
    skin, behind : Looks
        Of colours with grain.
    """
    step = (behind.mean - skin.mean)[:, 0]
    red = step[:, 1:3] @ RED
    other = step[:, 1:3] @ np.array([-RED[1], RED[0]])
    grain = [np.log(side.spread[:, 3, 3] + CALM**2) / 2 for side in (behind, skin)]
    rougher = np.maximum(grain[0] - grain[1], 0.0)
    parts = step[:, 0] / SKIN_SHADE, red / SKIN_RED, other / SKIN_COLOUR, rougher / SKIN_GRAIN
    return np.asarray(np.sqrt(sum(part**2 for part in parts)))
