"""What is written on the picture: a tag at each placement, the verdict and statement below."""

from __future__ import annotations

import math
from collections.abc import Sequence

from assess.result import Result
from assess.wording import LOW_CONFIDENCE
from rimspan.drawing import (
    CAUTION,
    INK,
    PAPER,
    SOFT,
    Box,
    Canvas,
    Colour,
    Point,
    clipped,
    text_width,
    wrapped,
)
from rimspan.languages.phrases import Say
from rimspan.plan_lines import plan_lines
from rimspan.result_words import between, decided_words, risk_words

PANEL_SIZE = 30.0
LABEL_SIZE = 34.0
SMALL_SIZE = 24.0
MARGIN = 40.0
LINE = 1.3

Line = tuple[str, float, Colour]


class Tags:
    """Places each placement's tag where it covers neither marks nor another tag."""

    def __init__(self, canvas: Canvas, area: Box, taken: Sequence[Point], say: Say) -> None:
        self._canvas, self._area, self._taken, self._say = canvas, area, list(taken), say
        self._boxes: list[Box] = []

    def write(self, label: str, ends: Sequence[Point], result: Result) -> None:
        """Write a placement's label and channel near its entry, with a leader to it."""
        placement = next(p for p in result.placements if p.label == label)
        words = self._say(between(placement.channel, "channel not measured"))
        title = clipped(label, LABEL_SIZE, 420)
        width = max(text_width(title, LABEL_SIZE), text_width(words, PANEL_SIZE)) + 32
        box = self._place(ends, width, 2 * LINE * PANEL_SIZE + 24)
        left, top, right, bottom = box
        near = (min(max(ends[0][0], left), right), min(max(ends[0][1], top), bottom))
        self._canvas.line([near, _short_of(near, ends[0])], 1.2, SOFT)
        self._canvas.box(box, (*PAPER[:3], 235), INK)
        self._canvas.text((left + 16, top + 8), title, LABEL_SIZE)
        self._canvas.text((left + 16, top + 12 + LINE * LABEL_SIZE), words, PANEL_SIZE)
        self._boxes.append(box)

    def _place(self, ends: Sequence[Point], width: float, height: float) -> Box:
        x, y = ends[0]
        away = math.atan2(ends[0][1] - ends[-1][1], ends[0][0] - ends[-1][0])
        if len(ends) == 1:
            away = -math.pi / 2
        best: tuple[float, Box] | None = None
        for reach in range(90, 800, 40):
            for turn in range(0, 180, 15):
                for sign in (1, -1):
                    angle = away + sign * math.radians(turn)
                    middle = (
                        x + (reach + width / 2) * math.cos(angle),
                        y + reach * math.sin(angle),
                    )
                    box = self._inside(middle, width, height)
                    cost = self._cost(box, (x, y)) + 0.5 * turn
                    if best is None or cost < best[0]:
                        best = (cost, box)
        if best is None:
            raise AssertionError("no place was tried")
        return best[1]

    def _inside(self, middle: Point, width: float, height: float) -> Box:
        left, top, right, bottom = self._area
        x = min(max(middle[0] - width / 2, left + 16), right - width - 16)
        y = min(max(middle[1] - height / 2, top + 16), bottom - height - 16)
        return x, y, x + width, y + height

    def _cost(self, box: Box, end: Point) -> float:
        left, top, right, bottom = box
        near = (min(max(end[0], left), right), min(max(end[1], top), bottom))
        covered = sum(
            left - 30 < x < right + 30 and top - 30 < y < bottom + 30 for x, y in self._taken
        )
        overlapping = sum(
            left < b[2] + 12 and b[0] - 12 < right and top < b[3] + 12 and b[1] - 12 < bottom
            for b in self._boxes
        )
        return math.dist(near, end) + 400.0 * covered + 5000.0 * overlapping


def _short_of(start: Point, end: Point, gap: float = 28.0) -> Point:
    """Return the point ``gap`` px before the end, so that the sign there stays free."""
    length = max(math.dist(start, end), 1e-9)
    part = max(0.0, 1.0 - gap / length)
    return start[0] + part * (end[0] - start[0]), start[1] + part * (end[1] - start[1])


def _lines(result: Result, photo: str, width: float) -> list[Line]:
    lines: list[Line] = []
    room = width - 2 * MARGIN
    for placement in result.placements:
        said = f"{placement.label}: {placement.headline} {risk_words(placement)}".rstrip()
        lines += [(line, PANEL_SIZE, INK) for line in wrapped(said, PANEL_SIZE, room)]
    if result.plan is not None:
        for each in plan_lines(result.plan):
            lines += [(line, SMALL_SIZE, INK) for line in wrapped(each, SMALL_SIZE, room)]
    if not result.placements:
        low = f"{LOW_CONFIDENCE} " if result.low_confidence else ""
        lines.append((f"{low}Rim marked, no placement.", PANEL_SIZE, INK))
    about = f"{result.side.capitalize()} ear. Photo {photo}. {result.software}, seed {result.seed}."
    lines += [(line, SMALL_SIZE, SOFT) for line in wrapped(about, SMALL_SIZE, room)]
    statement = result.judgement.statement
    lines += [(line, SMALL_SIZE, INK) for line in wrapped(statement, SMALL_SIZE, room)]
    colour = CAUTION if result.judgement.confirmed_by is None else INK
    return [*lines, (clipped(decided_words(result), SMALL_SIZE, room), SMALL_SIZE, colour)]


def panel_height(result: Result, photo: str, width: int) -> int:
    """Return how high the words below the picture are, px."""
    return round(sum(LINE * size for _, size, _ in _lines(result, photo, width)) + 2 * MARGIN)


def write_panel(canvas: Canvas, result: Result, photo: str, top: int) -> None:
    """Write the verdicts, what was measured and who decides, below the picture."""
    y = top + MARGIN * 0.8
    for words, size, colour in _lines(result, photo, canvas.width):
        canvas.text((MARGIN, y), words, size, colour)
        y += LINE * size
