"""The ears and the sites on them that the benchmarks score and the band's model comes from."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import dataclass

import numpy as np

from sample_images.ears import Ear, build_ear, ear_of
from sample_images.parameters import PARAMETER_EARS, EarParameters
from sample_images.placement import Placement, place

EARS = tuple(PARAMETER_EARS)
POSITIONS = (0.1, 0.3, 0.5, 0.7, 0.9)


@dataclass(frozen=True)
class Site:
    """A placement on a parameter ear."""

    name: str
    ear: Ear
    placement: Placement


def sites(name: str, positions: Iterable[float]) -> list[Site]:
    """Return the placements of one ear at those positions along the rim."""
    return sites_on(build_ear(name), positions)


def sites_on(ear: Ear, positions: Iterable[float]) -> list[Site]:
    """Return the placements of an ear at those positions along the rim."""
    found = [place(ear, position) for position in positions]
    return [Site(ear.name, ear, placement) for placement in found if placement is not None]


def random_site(name: str, rng: np.random.Generator) -> Site:
    """Return a placement at a random position of the usable rim of that ear."""
    return random_site_on(build_ear(name), rng)


def random_site_on(ear: Ear, rng: np.random.Generator) -> Site:
    """Return a placement at a random position of the usable rim."""
    for _ in range(50):
        found = sites_on(ear, [float(rng.uniform(0.0, 1.0))])
        if found:
            return found[0]
    raise RuntimeError(f"no placement found on {ear.name!r}")


RANGES: dict[str, tuple[float, float]] = {
    "length_mm": (56.5, 66.5),
    "width_mm": (30.0, 36.5),
    "band_mm": (4.6, 8.2),
    "thickness_mm": (4.0, 6.2),
    "curl": (0.2, 1.0),
    "lip_mm": (-0.3, 0.7),
    "axis_deep_mm": (-0.3, 0.8),
    "lean_deg": (-18.0, 18.0),
    "taper": (-0.35, 0.35),
    "roundness": (2.0, 2.8),
    "uneven": (0.12, 0.3),
}
RELIEF_OF_THICKNESS = (0.82, 1.0)
"""The ranges that the named parameter ears span.  Of what lies between nothing is known, so ears
are drawn evenly from them, each number on its own (JCGM 101:2008, 6.4.2)."""


def drawn_parameters(rng: np.random.Generator) -> EarParameters:
    """Return the numbers of a new ear, drawn evenly from the ranges."""
    drawn = {name: float(rng.uniform(low, high)) for name, (low, high) in RANGES.items()}
    relief = drawn["thickness_mm"] * float(rng.uniform(*RELIEF_OF_THICKNESS))
    return EarParameters(relief_mm=relief, seed=int(rng.integers(1000, 2**31)), **drawn)


def drawn_ears(seed: int, count: int) -> Iterator[Ear]:
    """Yield new ears whose post comes out under the fold somewhere, one after the other.

    A fold so shallow that no straight post comes out under it is no site for one; such ears are
    passed over.
    """
    rng = np.random.default_rng(seed)
    found = 0
    while found < count:
        ear = ear_of(f"drawn {seed}/{found + 1}", drawn_parameters(rng))
        if sites_on(ear, POSITIONS):
            found += 1
            yield ear
