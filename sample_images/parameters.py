"""The ears by number: our own shapes, spread over what rims are like.  None is a person's.

Lengths and widths stay inside what was published of ears (Bozkir et al., Aesthetic Plastic
Surgery 30:81-85, 2006); no published figure for the rim's own width, thickness or relief was
found, so those are spread widely.
"""

from __future__ import annotations

from dataclasses import dataclass, replace


@dataclass(frozen=True, slots=True)
class EarParameters:
    """One ear (mm, deg).

    ``band_mm`` is the rim's width across, ``thickness_mm`` its depth along the normal,
    ``relief_mm`` how far the crest stands over the scapha, ``curl`` how far the fold hangs
    over (0 none, 1 wholly), ``lip_mm`` how far its edge stands in over the underside,
    ``axis_deep_mm`` how far behind the section's middle the post runs, ``lean_deg`` how the
    rim's section is turned about its run, ``taper`` how band and thickness change from front to
    back, ``uneven`` the size of irregularities drawn from ``seed``.
    """

    length_mm: float = 61.0
    width_mm: float = 33.0
    band_mm: float = 6.4
    thickness_mm: float = 5.4
    relief_mm: float = 5.0
    curl: float = 0.6
    lip_mm: float = 0.25
    axis_deep_mm: float = 0.3
    lean_deg: float = 0.0
    taper: float = 0.0
    roundness: float = 2.0
    antihelix_mm: float = 4.0
    scapha_mm: float = 4.5
    concha_mm: float = 9.0
    uneven: float = 0.12
    seed: int = 1


_BASE = EarParameters()

PARAMETER_EARS: dict[str, EarParameters] = {
    "broad-firm": replace(
        _BASE, band_mm=8.2, thickness_mm=6.2, relief_mm=6.0, lip_mm=0.35, axis_deep_mm=0.5, seed=11
    ),
    "slim-deep": replace(
        _BASE,
        band_mm=5.0,
        thickness_mm=6.0,
        relief_mm=6.0,
        curl=0.8,
        lip_mm=0.1,
        axis_deep_mm=0.2,
        seed=12,
    ),
    "plain": replace(_BASE, lip_mm=0.2, axis_deep_mm=0.3, seed=13),
    "rolled": replace(
        _BASE,
        band_mm=6.8,
        thickness_mm=5.6,
        relief_mm=5.6,
        curl=1.0,
        lip_mm=0.7,
        axis_deep_mm=0.8,
        seed=14,
    ),
    "open": replace(
        _BASE,
        band_mm=6.0,
        thickness_mm=4.6,
        relief_mm=3.8,
        curl=0.2,
        lip_mm=-0.3,
        axis_deep_mm=0.0,
        seed=15,
    ),
    "forward-lean": replace(_BASE, lean_deg=18.0, lip_mm=0.3, axis_deep_mm=0.6, seed=16),
    "backward-lean": replace(_BASE, lean_deg=-18.0, lip_mm=0.0, axis_deep_mm=-0.3, seed=17),
    "small": replace(
        _BASE,
        length_mm=56.5,
        width_mm=30.0,
        band_mm=5.4,
        thickness_mm=4.6,
        relief_mm=4.2,
        lip_mm=0.15,
        axis_deep_mm=0.1,
        seed=18,
    ),
    "large": replace(
        _BASE,
        length_mm=66.5,
        width_mm=36.5,
        band_mm=7.4,
        thickness_mm=6.0,
        relief_mm=5.6,
        lip_mm=0.45,
        axis_deep_mm=0.2,
        seed=19,
    ),
    "boxy": replace(
        _BASE,
        roundness=2.8,
        band_mm=6.6,
        thickness_mm=5.0,
        relief_mm=4.8,
        lip_mm=-0.2,
        axis_deep_mm=0.4,
        seed=20,
    ),
    "tapering": replace(_BASE, taper=-0.35, band_mm=7.2, lip_mm=0.5, axis_deep_mm=-0.1, seed=21),
    "widening": replace(_BASE, taper=0.35, band_mm=5.6, lip_mm=0.05, axis_deep_mm=0.7, seed=22),
    "uneven": replace(_BASE, uneven=0.3, lip_mm=0.25, axis_deep_mm=0.0, seed=23),
    "thin": replace(
        _BASE,
        band_mm=4.6,
        thickness_mm=4.0,
        relief_mm=3.6,
        curl=0.5,
        lip_mm=-0.1,
        axis_deep_mm=0.3,
        seed=24,
    ),
}
"""What the benchmark scores and the visible band's error is derived from."""

SAMPLE_EARS: dict[str, EarParameters] = {
    "pronounced": replace(
        _BASE,
        length_mm=62.0,
        width_mm=34.0,
        band_mm=7.0,
        thickness_mm=6.6,
        relief_mm=6.0,
        curl=0.75,
        lip_mm=0.4,
        axis_deep_mm=0.4,
        seed=31,
    ),
    "middling": replace(
        _BASE,
        length_mm=59.0,
        width_mm=32.0,
        band_mm=5.2,
        thickness_mm=4.6,
        relief_mm=3.8,
        curl=0.45,
        lean_deg=8.0,
        lip_mm=0.15,
        axis_deep_mm=0.2,
        seed=32,
    ),
    "flat": replace(
        _BASE,
        length_mm=60.0,
        width_mm=33.0,
        band_mm=3.4,
        thickness_mm=2.2,
        relief_mm=1.5,
        curl=0.1,
        antihelix_mm=2.2,
        lip_mm=-0.3,
        axis_deep_mm=0.0,
        seed=33,
    ),
    "three": replace(
        _BASE,
        length_mm=65.0,
        width_mm=36.0,
        band_mm=6.8,
        thickness_mm=5.8,
        relief_mm=5.4,
        curl=0.6,
        lip_mm=0.3,
        axis_deep_mm=0.3,
        seed=34,
    ),
}
"""The ears of the sample photos."""

ALL_EARS = {**PARAMETER_EARS, **SAMPLE_EARS}
