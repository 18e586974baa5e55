"""A placement from two sides at true proportion: what is drawn where, for screen and picture alike.

Seen from the side of the head, and from the face: rim, dots, axis, post and its ends, in
millimetres.  Round each dot stands the ellipse that holds it 95 times in 100.  Shapes and words
say everything; colour only helps.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Literal

import numpy as np

from assess.result import PlacementOut, PostOut
from assess.result_parts import PlaceOut, SidesOut
from assess.wording import LOW_CONFIDENCE
from calibration.frames import Array
from rimspan.result_words import between

Style = Literal["line", "dashed", "dotted", "hair", "fill", "soft"]

DISC_MM = (3.0, 0.8)
"""A disc end's diameter and thickness (common practice, no source)."""
ROUND_95 = 2.448
"""Standard deviations of the ellipse that holds 95 % of a normal's draws (chi-squared, 2)."""
NAMES = {
    "entry": "entry",
    "exit": "exit",
    "crest": "crest",
    "floor": "floor of the scapha",
    "below": "next structure",
}
WINDOW_MM = (-10.0, -8.0, 10.0, 13.0)
"""Left, top, right, bottom of both drawings, off the channel's middle."""
SIDE_TITLE, FACE_TITLE = "From the side of the head", "From the face"
NO_DEPTH = "Not measured: one photo can't tell depth. Mark the same pen dots in several photos."


@dataclass(frozen=True, slots=True)
class Shape:
    """Points (mm, right and down from the channel's middle) that are drawn in a style."""

    style: Style
    points: tuple[tuple[float, float], ...]


@dataclass(frozen=True, slots=True)
class Panel:
    """One of the two drawings.

    ``labels`` are words with the place that they belong to; ``missing`` stands in the drawing's
    stead where there is none.
    """

    title: str
    shapes: tuple[Shape, ...]
    labels: tuple[tuple[str, tuple[float, float]], ...]
    missing: str | None = None


def panels(found: PlacementOut, side: str) -> tuple[Panel, Panel] | None:
    """Return the two drawings of a placement; None where no photo shows both of its ends.

    Parameters
    ----------
    found : the placement
    side : which ear it is; from the face, a left ear's rim stands off to the right
    """
    sides = found.sides
    if sides is None or not {"entry", "exit"} <= set(sides.places):
        return None
    flat = np.array([[1.0, 0.0, 0.0], [0.0, 1.0, 0.0]])
    first = _Drawing(found, sides, flat).panel(SIDE_TITLE, contours=True)
    if any(place.at_mm[2] is None for place in sides.places.values()):
        return first, Panel(FACE_TITLE, (), (), NO_DEPTH)
    outward = -1.0 if side == "left" else 1.0
    turned = np.array([[0.0, 0.0, outward], [0.0, 1.0, 0.0]])
    return first, _Drawing(found, sides, turned).panel(FACE_TITLE, contours=False)


def caption(found: PlacementOut) -> str:
    """Return what both drawings say, in words."""
    post = found.posts.initial
    with_post = ""
    if isinstance(post, PostOut):
        with_post = f" Post {post.length_mm:.1f} mm, {post.gauge_mm:g} mm thick, discs 3 mm."
    low = f"{LOW_CONFIDENCE} " if found.low_confidence else ""
    return (
        f"{low}Placement {found.label}: channel {between(found.channel)}. Drawn at true "
        f"proportion. Each ring holds its dot 95 times in 100.{with_post}"
    )


class _Drawing:
    """A placement projected by two rows, (2, 3), about its channel's middle."""

    def __init__(self, found: PlacementOut, sides: SidesOut, rows: Array) -> None:
        self._found, self._sides, self._rows = found, sides, rows
        ends = [_at(sides.places[name]) for name in ("entry", "exit")]
        self._middle = (ends[0] + ends[1]) / 2
        self._entry, self._exit = (self._seen(end) for end in ends)
        self._length = float(np.linalg.norm(ends[0] - ends[1]))

    def panel(self, title: str, *, contours: bool) -> Panel:
        shapes = [*(self._contours() if contours else self._through()), *self._post()]
        shapes += [Shape("hair", _pairs([self._entry, self._far()]))]
        labels = []
        for kind, place in self._sides.places.items():
            at = self._seen(_at(place))
            shapes += [self._ring(place, at), *self._sign(kind, at)]
            labels.append((NAMES[kind], (float(at[0]), float(at[1]))))
        return Panel(title, tuple(shapes), tuple(labels))

    def _seen(self, at: Array) -> Array:
        return np.asarray(self._rows @ (at - self._middle))

    def _way(self) -> Array:
        way = self._exit - self._entry
        return np.asarray(way / max(float(np.linalg.norm(way)), 1e-9))

    def _far(self) -> Array:
        below = self._sides.places.get("below")
        return self._exit if below is None else self._seen(_at(below))

    def _contours(self) -> list[Shape]:
        middle = self._middle[:2]
        lines = (("line", self._sides.outer_mm), ("dashed", self._sides.inner_mm))
        styles: list[Shape] = []
        for style, line in lines:
            if line is not None:
                pairs = _pairs(np.array(line) - middle)
                styles.append(Shape("line" if style == "line" else "dashed", pairs))
        return styles

    def _through(self) -> list[Shape]:
        """Return a line from dot to dot over the rim: no skin is known between them."""
        order = ("entry", "crest", "exit", "floor")
        places = [self._sides.places[kind] for kind in order if kind in self._sides.places]
        return [Shape("dotted", _pairs([self._seen(_at(place)) for place in places]))]

    def _post(self) -> list[Shape]:
        """Return the post that is proposed for the start, its upper disc on the skin."""
        post = self._found.posts.initial
        if not isinstance(post, PostOut) or self._length == 0.0:
            return []
        share = float(np.linalg.norm(self._exit - self._entry)) / self._length
        way = self._way()
        end = self._entry + share * post.length_mm * way
        disc, thick = DISC_MM
        outer = [self._entry - thick * way, end + thick * way]
        return [
            Shape("soft", _bar(self._entry, end, post.gauge_mm)),
            Shape("soft", _bar(outer[0], self._entry, disc)),
            Shape("soft", _bar(end, outer[1], disc)),
        ]

    def _ring(self, place: PlaceOut, at: Array) -> Shape:
        size = len(place.covariance_mm2)
        covariance = np.zeros((3, 3))
        covariance[:size, :size] = place.covariance_mm2
        values, vectors = np.linalg.eigh(self._rows @ covariance @ self._rows.T)
        turn = np.linspace(0.0, 2.0 * np.pi, 37)
        half = ROUND_95 * np.sqrt(np.maximum(values, 0.0))
        ring = np.column_stack([half[0] * np.cos(turn), half[1] * np.sin(turn)]) @ vectors.T
        return Shape("line", _pairs(at + ring))

    def _sign(self, kind: str, at: Array) -> list[Shape]:
        """Return a dot's sign: triangles point the way the post goes."""
        way = self._way()
        aside = np.array([-way[1], way[0]])
        if kind == "entry":
            back = at - 1.2 * way
            return [Shape("fill", _pairs([at, back + 0.55 * aside, back - 0.55 * aside]))]
        if kind == "exit":
            tip = at + 1.2 * way
            return [Shape("fill", _pairs([tip, at + 0.55 * aside, at - 0.55 * aside]))]
        across = np.array([0.8, 0.0])
        if kind == "crest":
            return [Shape("line", _pairs([at - across, at + across]))]
        if kind == "floor":
            turn = np.linspace(0.0, np.pi, 13)
            cup = np.column_stack([0.6 * np.cos(turn), 0.6 * np.sin(turn) - 0.6])
            return [Shape("line", _pairs(at + cup))]
        ends = [at + sign * 0.9 * aside for sign in (-1.0, 1.0)]
        arms = [end - 0.5 * way for end in ends]
        return [Shape("line", _pairs([arms[0], *ends, arms[1]]))]


def _at(place: PlaceOut) -> Array:
    x, y, z = place.at_mm
    return np.array([x, y, 0.0 if z is None else z])


def _bar(start: Array, end: Array, wide: float) -> tuple[tuple[float, float], ...]:
    way = (end - start) / max(float(np.linalg.norm(end - start)), 1e-9)
    half = 0.5 * wide * np.array([-way[1], way[0]])
    return _pairs([start + half, end + half, end - half, start - half, start + half])


def _pairs(points: Array | Sequence[Array]) -> tuple[tuple[float, float], ...]:
    return tuple((float(x), float(y)) for x, y in points)
