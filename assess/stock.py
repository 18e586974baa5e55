"""What lies in the drawer: posts with their material, standard, lot and sterilisation batch.

Stock goes down when a post is put in or its packet is opened, never at the plan.  Records are
values: every change gives a new one.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from datetime import date
from typing import Literal

from assess.ends import End, Style, Unsuitable, unsuitable_first
from assess.marks import PostStock

MATERIAL_STANDARDS = {
    "Ti-6Al-4V ELI": ("ASTM F136", "ISO 5832-3"),
    "Ti-6Al-7Nb": ("ASTM F1295", "ISO 5832-11"),
    "unalloyed titanium": ("ASTM F67", "ISO 5832-2"),
    "316 type implant steel": ("ASTM F138", "ISO 5832-1"),
}
"""Materials for surgical implants that have a standard of their own, with its names."""

Thread = Literal["internal", "threadless", "external"]


class StockError(ValueError):
    """Stock can't do what is asked of it: the message says why."""


@dataclass(frozen=True, slots=True)
class StockItem:
    """Posts that are alike: of one gauge, length, make, lot and sterilisation batch.

    ``sterile_until`` is None for what is sterilised at the chair.
    """

    key: str
    style: Style
    gauge_mm: float
    length_mm: float
    ends: tuple[End, End]
    material: str
    standard: str
    lot: str
    batch: str
    count: int
    thread: Thread = "threadless"
    sterile_until: date | None = None

    def __post_init__(self) -> None:
        if self.gauge_mm <= 0.0 or self.length_mm <= 0.0:
            raise StockError(f"{self.key}: gauge and length must be over 0 mm")
        if self.count < 0:
            raise StockError(f"{self.key}: there can't be fewer than none (got {self.count})")
        for name in ("key", "material", "standard", "lot", "batch"):
            if not getattr(self, name).strip():
                raise StockError(f"{self.key or 'a post'}: {name} must be told")

    @property
    def unsuitable(self) -> tuple[Unsuitable, ...]:
        """Return why it may not be used to begin with; empty where it may."""
        found = unsuitable_first(self.style, self.ends)
        return (*found, "outside thread") if self.thread == "external" else found

    @property
    def implant_grade(self) -> bool:
        """Return whether its standard is one of those known for its material."""
        return self.standard in MATERIAL_STANDARDS.get(self.material, ())

    def against(self, on: date) -> tuple[str, ...]:
        """Return what speaks against putting one in on that day; empty if nothing does."""
        stale = self.sterile_until is not None and on > self.sterile_until
        return (*self.unsuitable, "no longer sterile") if stale else self.unsuitable

    def usable(self, on: date) -> bool:
        """Return whether one may be put in on that day: there, sterile, suited to begin with."""
        return self.count > 0 and not self.against(on)


@dataclass(frozen=True, slots=True)
class Stock:
    """All items, by key."""

    items: tuple[StockItem, ...] = ()

    def __post_init__(self) -> None:
        keys = [item.key for item in self.items]
        if len(set(keys)) < len(keys):
            raise StockError("two items of the stock have the same key")

    def item(self, key: str) -> StockItem:
        """Return the item of that key, or raise StockError."""
        for item in self.items:
            if item.key == key:
                return item
        raise StockError(f"nothing in stock is called {key!r}")

    def received(self, item: StockItem) -> Stock:
        """Return the stock with more of an item, or with a new one.

        Raises StockError if the key is known for something else: another lot is another item.
        """
        for known in self.items:
            if known.key == item.key:
                if replace(known, count=item.count) != item:
                    raise StockError(f"{item.key}: another post, lot or batch needs its own key")
                return self._with(replace(known, count=known.count + item.count))
        return Stock((*self.items, item))

    def taken(self, keys: Sequence[str]) -> Stock:
        """Return the stock after one of each was taken; a key that comes twice, after two."""
        stock = self
        for key in keys:
            item = stock.item(key)
            if item.count < 1:
                raise StockError(f"{key}: none left in stock")
            stock = stock._with(replace(item, count=item.count - 1))
        return stock

    def counted(self, key: str, count: int) -> Stock:
        """Return the stock after an item was counted anew: as many as lie there."""
        return self._with(replace(self.item(key), count=count))

    def key_of(self, item: StockItem) -> str:
        """Return the key of what is alike in all but count, else one that is free."""
        for known in self.items:
            if replace(known, key=item.key, count=item.count) == item:
                return known.key
        taken = {known.key for known in self.items}
        return next(str(n) for n in range(1, len(taken) + 2) if str(n) not in taken)

    def offered(self, on: date) -> tuple[PostStock, ...]:
        """Return what may be used on that day as measuring takes it: lengths by gauge."""
        lengths: dict[float, set[float]] = {}
        for item in self.items:
            if item.usable(on):
                lengths.setdefault(item.gauge_mm, set()).add(item.length_mm)
        return tuple(
            PostStock(gauge_mm=gauge, lengths_mm=tuple(sorted(held)))
            for gauge, held in sorted(lengths.items())
        )

    def recalled(self, lot: str) -> tuple[StockItem, ...]:
        """Return what is of that lot."""
        return tuple(item for item in self.items if item.lot == lot)

    def _with(self, changed: StockItem) -> Stock:
        return Stock(tuple(changed if i.key == changed.key else i for i in self.items))
