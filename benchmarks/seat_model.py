"""The seat's model figures: ``python -m benchmarks.seat_model`` prints them.

Ears drawn from the ranges of the parameter ears, others than those of `benchmarks.seat`, seen as
the guide asks, contours and dots without error: what is left is the model's.  At the exit the
circle is the one that the inner contours' planes touch; it isn't used, and this shows why.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np

from assess.outlines import Outline, run_slope
from assess.seat import EXIT_LEAN, across_rim, tangent_in
from benchmarks.ears import drawn_ears, random_site_on
from benchmarks.seat import VERTICES, skin_normal
from benchmarks.view_scenes import ASKED, ViewScene, draw_view_scene
from calibration.draws import Draws
from calibration.frames import TOWARD_VIEWER, Array
from calibration.pose import PlaneFit
from sample_images.visible import contours

SEED, EARS, EACH = 4711, 60, 2
EXACT_PX = 0.02
DRAWS = Draws(1, 200)


@dataclass(frozen=True, slots=True)
class Left:
    """What is left at one end, deg: along the rim by one photo and with its run, and across it.

    ``lean`` is the skin's toward the viewer, its tangent, of the normal turned as the axis.
    """

    along: float
    with_run: float
    across: float
    lean: float


def outlines_of(scene: ViewScene) -> tuple[list[Outline], list[Outline]]:
    """Return the outer and the inner contours of every photo, exactly."""
    both: tuple[list[Outline], list[Outline]] = ([], [])
    for name, view in scene.views.items():
        camera = PlaneFit(view.camera, view.rvec, view.tvec, np.zeros((8, 8)), 0.0, 60)
        centre = scene.standing.to_ear(view.centre_card[None])[0]
        for line, own in zip(contours(scene.site.ear, centre, VERTICES), both, strict=True):
            if len(line) > 3:
                pixels = view.pixels(scene.standing.to_card(line))
                own.append(Outline(name, camera, pixels, EXACT_PX))
    return both


def left_of(scene: ViewScene) -> dict[str, Left]:
    """Return what is left at each end of a scene whose contours are seen."""
    placement, turn = scene.site.placement, scene.standing.rotation
    axis = turn @ (placement.entry - placement.exit) / placement.channel_mm
    ends = scene.standing.to_card(np.array([placement.entry, placement.exit]))
    lines = outlines_of(scene)
    found = {}
    for k, (end, sign) in enumerate((("entry", 1.0), ("exit", -1.0))):
        skin = sign * turn @ skin_normal(scene.site.ear, getattr(placement, end))
        first = lines[k][0]
        tangent = tangent_in(first.camera, first.contour_px, ends[k], axis, EXACT_PX)
        if tangent is None:
            continue
        normal = np.array([tangent.along[1], -tangent.along[0]])
        normal *= np.sign(normal @ axis[:2])
        slope = run_slope(lines[0], ends[0], normal, tangent.along)
        dot = np.repeat(ends[k][:, None], DRAWS.count, axis=1)
        across = across_rim(lines[k], dot, normal, DRAWS)
        if slope is not None and across is not None:
            lean = float(np.tan(across.mean())) if end == "entry" else EXIT_LEAN
            square = normal + slope * lean * tangent.along
            found[end] = _left(skin, normal, square, float(across.mean()))
    return found


def _left(skin: Array, normal: Array, square: Array, across: float) -> Left:
    rise = float(TOWARD_VIEWER @ skin / np.hypot(*skin[:2]))
    gap = float(np.rad2deg(across - np.arctan(rise)))
    return Left(_between_deg(normal, skin), _between_deg(square, skin), gap, rise)


def _between_deg(normal: Array, skin: Array) -> float:
    cross = normal[0] * skin[1] - normal[1] * skin[0]
    return float(np.rad2deg(np.arctan2(cross, normal @ skin[:2])))


def figures(ears: int = EARS, each: int = EACH, seed: int = SEED) -> list[str]:
    """Return the figures as lines, root mean squares in degrees."""
    rng, left = np.random.default_rng(seed), list[Mapping[str, Left]]()
    for ear in drawn_ears(seed, ears):
        for _ in range(each):
            site = random_site_on(ear, rng)
            left.append(left_of(draw_view_scene(site.name, rng, aims=ASKED, site=site)))
    lines = []
    for end in ("entry", "exit"):
        own = [each[end] for each in left if end in each]
        leans = [o.lean for o in own]
        along, run, across = (
            float(np.sqrt(np.mean([getattr(o, name) ** 2 for o in own])))
            for name in ("along", "with_run", "across")
        )
        lines.append(
            f"{end}, n {len(own)}: along, by one photo {along:.2f}, with the run {run:.2f}; "
            f"across, by a circle {across:.2f}; lean {np.mean(leans):.2f}, sd {np.std(leans):.2f} "
            f"({np.std(np.rad2deg(np.arctan(leans))):.1f} deg)"
        )
    return lines


if __name__ == "__main__":
    print("\n".join(figures()))
