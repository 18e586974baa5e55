"""A result as a short table for people."""

from __future__ import annotations

import textwrap

from assess.result import PhotoOut, PlacementOut, Result
from assess.wording import LOW_CONFIDENCE
from rimspan.plan_lines import plan_lines
from rimspan.result_words import (
    METHOD_WORDS,
    between,
    budget_table,
    decided_words,
    first_order_words,
    posts_words,
    risk_words,
    seat_words,
    to_settle,
    uncertainty,
)
from rimspan.typed import shown

WIDTH = 96
HEAD = ("placement", "channel", "u", "angle", "relief", "method")


def table(result: Result, source: str) -> str:
    """Return the placements with units and uncertainty, the photos and who decides."""
    lines = [f"{source}: {result.side} ear ({result.software}, seed {result.seed})", ""]
    rows = [HEAD, *(_row(placement) for placement in result.placements)]
    widths = [max(len(row[i]) for row in rows) for i in range(len(HEAD))]
    for row in rows:
        cells = (cell.ljust(width) for cell, width in zip(row, widths, strict=True))
        lines.append("  ".join(cells).rstrip())
    if result.low_confidence:
        lines += ["", LOW_CONFIDENCE]
    for placement in result.placements:
        lines += ["", *_said(placement)]
    if result.plan is not None:
        lines += ["", "Plan:"]
        for sentence in plan_lines(result.plan):
            lines += _wrapped(sentence, "  - ")
    elif result.plan_missing is not None:
        lines += ["", *_wrapped(result.plan_missing)]
    lines += ["", *(line for photo in result.photos for line in _photo(photo))]
    for said in result.several_views:
        lines += _wrapped(said, "photos together: ")
    lines += ["", *_wrapped(result.judgement.statement), decided_words(result)]
    return "\n".join(lines) + "\n"


def _row(placement: PlacementOut) -> tuple[str, ...]:
    return (
        placement.label,
        between(placement.channel),
        uncertainty(placement.channel),
        between(placement.angle),
        between(placement.relief),
        METHOD_WORDS[placement.method],
    )


def _said(placement: PlacementOut) -> list[str]:
    lines = _wrapped(f"{placement.label}: {placement.headline}")
    if risk_words(placement):
        lines += _wrapped(risk_words(placement), "  ")
    if placement.lean is not None:
        lines += _wrapped(f"The axis leans outward by {between(placement.lean)}.", "  ")
    if placement.channel is not None:
        for sentence in seat_words(placement):
            lines += _wrapped(sentence, "  ")
    for sentence in (*placement.notes, *(reason.sentence for reason in placement.reasons)):
        lines += _wrapped(sentence, "  - ")
    if placement.channel is not None:
        for name, _, words in posts_words(placement):
            lines += _wrapped(f"{name}: {words}", "  ")
    if placement.settle:
        lines.append("  What would settle it:")
        for sentence in to_settle(placement):
            lines += _wrapped(sentence, "  - ")
    return lines


def budget_text(result: Result) -> str:
    """Return the budget of each placement's channel as a table."""
    blocks = []
    for placement in result.placements:
        columns = budget_table(placement)
        rows = [tuple(columns), *zip(*columns.values(), strict=True)]
        widths = [max(len(row[i]) for row in rows) for i in range(len(columns))]
        lines = [f"{placement.label}: channel {between(placement.channel)}"]
        for row in rows:
            cells = (cell.ljust(width) for cell, width in zip(row, widths, strict=True))
            lines.append(("  " + "  ".join(cells)).rstrip())
        blocks.append("\n".join([*lines, *_wrapped(first_order_words(placement), "  ")]))
    return "\n\n".join(blocks) + "\n"


def _photo(photo: PhotoOut) -> list[str]:
    if photo.tilt_deg is None or photo.distance_mm is None:
        seen = "no scale"
    else:
        seen = f"tilt {photo.tilt_deg:.1f} deg, {photo.distance_mm:.0f} mm away"
    lines = [f"photo {shown(photo.file)}: {seen}"]
    for warning in photo.warnings:
        lines += _wrapped(warning, "  - ")
    return lines


def _wrapped(text: str, indent: str = "") -> list[str]:
    return textwrap.wrap(
        text, WIDTH, initial_indent=indent, subsequent_indent=" " * len(indent)
    ) or [""]
