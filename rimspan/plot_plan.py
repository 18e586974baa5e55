"""The placement plan on the picture of its photo, at true size."""

from __future__ import annotations

from collections.abc import Callable, Iterable

from assess.plan_measure import PlanDrawing
from rimspan.drawing import BAND, INK, LIGHT, Canvas, Point, text_width

Line = Callable[[Iterable[Point]], list[Point]]
"""Points of the photo -> of the picture."""

LABEL_SIZE = 30.0


def usable_rim(canvas: Canvas, line: Line, plan: PlanDrawing) -> None:
    """Draw the stretches that may be used as a wide band, under the rim's own line."""
    for stretch in plan.usable:
        canvas.line(line((x, y) for x, y in stretch.tolist()), 11.0, BAND)


def draw_plan(canvas: Canvas, line: Line, plan: PlanDrawing) -> None:
    """Draw what was pierced before, then every post: dashed inside the rim, whole outside."""
    for each in plan.earlier:
        _earlier(canvas, line, each.places.tolist(), each.radius_px)
    for parts in plan.posts["now"].values():
        for part in parts:
            outline = line((x, y) for x, y in part.outline.tolist())
            if part.name == "in the rim":
                canvas.dashed([*outline, outline[0]], 2.0, 7.0)
            else:
                canvas.polygon(outline, INK if part.name.endswith("end") else LIGHT, 2.0)
    for label, at in plan.labels_at.items():
        (x, y) = line([(float(at[0]), float(at[1]))])[0]
        half = text_width(label, LABEL_SIZE) / 2
        canvas.box((x - half - 8, y - 20, x + half + 8, y + 20), (255, 255, 255, 235), INK)
        canvas.text((x - half, y - 18), label, LABEL_SIZE)


def _earlier(canvas: Canvas, line: Line, places: list[Point], radius_px: float) -> None:
    """Draw a ring as wide as what is worn there, with a cross in it; a bar as a line between."""
    seen = line(places)
    edge = line([(places[0][0] + radius_px, places[0][1])])[0]
    radius = max(abs(edge[0] - seen[0][0]), 6.0)
    if len(seen) == 2:
        canvas.line(seen, 3.0)
    for x, y in seen:
        canvas.ring((x, y), radius)
        canvas.line([(x - 6, y - 6), (x + 6, y + 6)], 2.0)
        canvas.line([(x - 6, y + 6), (x + 6, y - 6)], 2.0)
