"""What a healed channel allows later, by geometry: straight, curved and ring jewellery.

A channel made by a straight post is a straight hole of a length and a width.  A bent wire goes
through it where its bend stays within the play between wire and hole; a ring besides has to reach
round the tissue on the side on which it closes.  Nothing here says that a channel heals, or what
healed tissue gives; play is an assumption that a studio edits.

References
----------
Sagitta of an arc of radius R over a chord c: R - sqrt(R² - c²/4).
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from assess.criteria import BASIS
from calibration.frames import Array
from calibration.quantity import Quantity

PLAY_MM = 0.2
"""Hole less wire in a healed channel, and what the tissue gives (assumption: common practice)."""
CLEAR_MM = 0.5
"""Between a ring and the tissue it goes round (assumption: common practice, no source)."""


def sagitta_mm(radius_mm: Array, chord_mm: Array) -> Array:
    """Return how far an arc rises over its chord, (...) mm; NaN where the chord is too long."""
    inside = np.asarray(radius_mm**2 - chord_mm**2 / 4.0)
    return np.asarray(radius_mm - np.sqrt(np.where(inside >= 0.0, inside, np.nan)))


def play_needed_mm(radius_mm: float, wire_mm: float, channel_mm: Array) -> Array:
    """Return how much wider than a bent wire a straight hole must be, (M,) mm; inf where none is.

    The wire's inner side has radius R - wire / 2 and rests on the hole's two edges; its outer side
    lies on the wall between them.  So hole less wire is the sagitta of the inner side.

    Parameters
    ----------
    radius_mm : of the wire's middle line
    wire_mm : its thickness
    channel_mm : (M,) array
    """
    needed = sagitta_mm(np.asarray(radius_mm - wire_mm / 2.0), channel_mm)
    return np.where(np.isnan(needed), np.inf, needed)


def least_radius_mm(play_mm: float, wire_mm: float, channel_mm: Array) -> Array:
    """Return the tightest bend that goes through, (M,) mm of the wire's middle line."""
    return np.asarray((channel_mm**2 / 4.0 + play_mm**2) / (2.0 * play_mm) + wire_mm / 2.0)


def ring_reach_mm(inner_mm: float, channel_mm: Array) -> Array:
    """Return how far round the rim a ring reaches, (M,) mm from the channel's near wall.

    Its inner side, a circle of this diameter, goes through the channel's two edges; the farthest
    place of it from the line between them.  NaN where the ring is smaller than the channel is long.
    """
    radius = inner_mm / 2.0
    inside = radius**2 - channel_mm**2 / 4.0
    return np.asarray(radius + np.sqrt(np.where(inside >= 0.0, inside, np.nan)))


def least_ring_mm(channel_mm: Array, tissue_mm: Array) -> Array:
    """Return the smallest inner diameter that reaches round so much tissue, (M,) mm.

    Tissue with a round outside: half an ellipse, as long as the channel and ``tissue_mm`` deep.
    A circle through its two ends that holds its tip holds all of it.
    """
    half = channel_mm / 2.0
    deep = np.maximum(tissue_mm, half)
    return np.asarray((deep**2 + half**2) / deep)


Kind = Literal["straight", "curved bar", "ring"]
Fit = Literal["would fit", "can't tell", "would not fit"]

SURE = 0.95


@dataclass(frozen=True, slots=True)
class Piece:
    """Jewellery for later: ``size_mm`` is a post's length, a bar's radius, a ring's inner diameter.

    A curved bar's ``length_mm`` is the arc between its ends; 0 for the others.
    """

    kind: Kind
    wire_mm: float
    size_mm: float
    length_mm: float = 0.0


@dataclass(frozen=True, slots=True)
class Later:
    """A piece, how probably it would fit, what decides, and the figure behind that."""

    piece: Piece
    probability: float
    fit: Fit
    decides: Literal["spare length", "bend", "reach"]
    figure: Quantity
    """mm: spare length; play that the bend needs; or by how much a ring reaches past the tissue."""


@dataclass(frozen=True, slots=True)
class Healed:
    """What is taken of a healed channel: play, a ring's clearance, and wanted spare length, mm."""

    play_mm: float = PLAY_MM
    clear_mm: float = CLEAR_MM
    spare_mm: tuple[float, float] = (0.3, 1.3)
    basis: str = BASIS


def would_fit(
    piece: Piece,
    channel_mm: Array,
    tissue_mm: Array | None,
    healed: Healed = Healed(),
) -> Later | None:
    """Return how probably a piece would fit, by geometry; None for a ring where depth isn't known.

    Parameters
    ----------
    piece : straight, curved or a ring
    channel_mm : (M,) draws
    tissue_mm : (M,) draws of the tissue that a ring closes round, from the channel's near wall to
        the skin; None where nothing was measured
    healed : what is taken of the healed channel
    """
    if piece.kind == "straight":
        spare = piece.size_mm - channel_mm
        holds = (spare >= healed.spare_mm[0]) & (spare <= healed.spare_mm[1])
        return _later(piece, np.asarray(holds), "spare length", spare)
    bend = play_needed_mm(_radius_mm(piece), piece.wire_mm, channel_mm)
    passes = bend <= healed.play_mm
    if piece.kind == "curved bar":
        spare = piece.length_mm - arc_mm(piece.size_mm, channel_mm)
        long = (spare >= healed.spare_mm[0]) & (spare <= healed.spare_mm[1])
        if passes.mean() <= long.mean():
            return _later(piece, passes & long, "bend", bend)
        return _later(piece, passes & long, "spare length", spare)
    if tissue_mm is None:
        return None
    past = np.nan_to_num(ring_reach_mm(piece.size_mm, channel_mm), nan=0.0) - tissue_mm
    reaches = past >= healed.clear_mm
    if passes.mean() <= reaches.mean():
        return _later(piece, passes & reaches, "bend", bend)
    return _later(piece, passes & reaches, "reach", past)


def _radius_mm(piece: Piece) -> float:
    """Return the radius of the wire's middle line."""
    return piece.size_mm / 2.0 + piece.wire_mm / 2.0 if piece.kind == "ring" else piece.size_mm


def arc_mm(radius_mm: float, chord_mm: Array) -> Array:
    """Return how long an arc of a radius is over its chord, (...) mm."""
    return np.asarray(2.0 * radius_mm * np.arcsin(np.clip(chord_mm / (2.0 * radius_mm), 0.0, 1.0)))


def _later(
    piece: Piece,
    holds: NDArray[np.bool_],
    decides: Literal["spare length", "bend", "reach"],
    figure: Array,
) -> Later:
    probability = float(np.mean(holds))
    fit: Fit = "can't tell"
    if probability >= SURE:
        fit = "would fit"
    elif probability <= 1.0 - SURE:
        fit = "would not fit"
    told = Quantity.from_draws(np.where(np.isfinite(figure), figure, piece.size_mm), "mm")
    return Later(piece, probability, fit, decides, told)


@dataclass(frozen=True, slots=True)
class Bounds:
    """The tightest bend and the smallest ring that a channel allows, mm; ring None if unknown."""

    radius: Quantity
    ring_inner: Quantity | None


def bounds(
    wire_mm: float,
    channel_mm: Array,
    tissue_mm: Array | None,
    healed: Healed = Healed(),
) -> Bounds:
    """Return what is the least in radius and in inner diameter, with uncertainty.

    A ring has to keep both: reach round the tissue, and bend no more than a bar may.
    """
    radius = least_radius_mm(healed.play_mm, wire_mm, channel_mm)
    if tissue_mm is None:
        return Bounds(Quantity.from_draws(radius, "mm"), None)
    by_bend = 2.0 * radius - wire_mm
    by_reach = least_ring_mm(channel_mm, tissue_mm + healed.clear_mm)
    inner = Quantity.from_draws(np.maximum(by_bend, by_reach), "mm")
    return Bounds(Quantity.from_draws(radius, "mm"), inner)
