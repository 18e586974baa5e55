"""The parameter ears and the sites on them that the benchmark scores."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass

import numpy as np

from sample_images.ears import Ear, build_ear
from sample_images.parameters import PARAMETER_EARS
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
    ear = build_ear(name)
    found = [place(ear, position) for position in positions]
    return [Site(name, ear, placement) for placement in found if placement is not None]


def random_site(name: str, rng: np.random.Generator) -> Site:
    """Return a placement at a random position of the usable rim."""
    for _ in range(50):
        found = sites(name, [float(rng.uniform(0.0, 1.0))])
        if found:
            return found[0]
    raise RuntimeError(f"no placement found on {name!r}")
