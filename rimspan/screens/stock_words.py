"""What the pages say of posts in stock."""

from __future__ import annotations

from assess.day_words import in_words
from assess.posts import inch_name
from assess.stock import MATERIAL_STANDARDS, StockItem
from rimspan.clientfile import Record
from rimspan.screens.file_words import moment
from rimspan.typed import in_html, shown

WHO = "Piercers and managers change the stock; everybody here reads it."
NOTHING = "No stock is kept yet. Until it is, measuring offers the usual lengths."
VERSIONS = "Each change is a version of its own and stays; nothing is edited."
DOWN = "It is counted down when a post goes in or its packet is opened, never by a plan."
OFFERED = "What is here, sterile and suited to begin with is what a new draft is measured with."
NO_STANDARD = "its standard isn't one that is known for implants of this material"

PAIRS = [(m, standard) for m, names in MATERIAL_STANDARDS.items() for standard in names]
"""Materials for implants, each with a standard of its own."""
STYLES = ("labret", "barbell", "ring", "curved bar", "other")
SHAPES = ("disc", "ball", "pointed")
THREADS = ("threadless", "internal", "external")


def length_words(length_mm: float) -> str:
    """Return a length in mm, and in inches where it is one of theirs."""
    inches = inch_name(length_mm)
    return f"{length_mm:.2f} mm ({inches})" if inches else f"{length_mm:g} mm"


def ends_words(item: StockItem) -> str:
    """Return both ends, the upper one first."""
    each = [f"{e.shape} {e.width_mm:g} x {e.height_mm:g} mm" for e in item.ends]
    return ", ".join(each)


def post_words(item: StockItem) -> str:
    """Return what a post is, for a list to choose from."""
    return (
        f"no. {item.key}: {item.style} {item.gauge_mm:g} mm, {length_words(item.length_mm)}, "
        f"{shown(item.material)}, lot {shown(item.lot)}, {item.count} left"
    )


def against_words(item: StockItem, against: tuple[str, ...]) -> str:
    """Return what speaks against putting one in to begin with, or ``""``."""
    known = () if item.implant_grade else (NO_STANDARD,)
    return "; ".join((*against, *known))


HEADS = ("No.", "Post", "Ends", "Material", "Lot and batch", "Sterile until", "There", "Note")


def row(item: StockItem, against: tuple[str, ...]) -> tuple[str, ...]:
    """Return an item as cells of markup."""
    until = "sterilised here" if item.sterile_until is None else in_words(item.sterile_until)
    return (
        in_html(item.key),
        f"{item.style} {item.gauge_mm:g} mm, {length_words(item.length_mm)}, {item.thread}",
        ends_words(item),
        in_html(f"{item.material}, {item.standard}"),
        in_html(f"{item.lot}, {item.batch}"),
        until,
        str(item.count),
        in_html(against_words(item, against)) or "suited",
    )


def version_row(record: Record) -> dict[str, str]:
    """Return a version as a row: when, who, what changed."""
    return {
        "Version": str(record.number),
        "When": moment(record.created_at),
        "Who": shown(record.by),
        "What": shown(str(record.document.get("change", ""))),
    }
