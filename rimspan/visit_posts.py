"""The posts that may go in at a visit: of the studio's stock, else the lengths it measured with."""

from __future__ import annotations

from datetime import date

from assess.marks import PostStock
from assess.posts import default_stock
from assess.visit_record import WornNow
from assess.visit_signs import Done
from rimspan.clientfile import ClientFile, Revision
from rimspan.stock_keeping import stock_of


def offered(
    file: ClientFile, revision: Revision, before: WornNow, done: Done, on: date
) -> list[WornNow]:
    """Return the posts that are longer, or shorter, than the one that was in; the shortest first.

    Of the stock, what may be used on that day.  The same post stays, and none is offered, where
    neither is done.
    """
    if done not in {"lengthen", "shorten"}:
        return []
    posts = sorted(_all(file, revision, on), key=lambda post: (post.length_mm, post.gauge_mm))
    longer = done == "lengthen"
    return [
        post
        for post in posts
        if post.length_mm != before.length_mm and (post.length_mm > before.length_mm) == longer
    ]


def _all(file: ClientFile, revision: Revision, on: date) -> list[WornNow]:
    stock = stock_of(file)
    if stock.number:
        return [
            WornNow(item.gauge_mm, item.length_mm, item.key, item.lot, item.batch)
            for item in stock.stock.items
            if item.usable(on)
        ]
    told = [PostStock.model_validate(_tupled(each)) for each in revision.marks.get("posts") or ()]
    return [
        WornNow(post.gauge_mm, length)
        for post in told or default_stock()
        for length in post.lengths_mm
    ]


def _tupled(post: dict[str, object]) -> dict[str, object]:
    # JSON has lists where the models want tuples.
    return {name: tuple(v) if isinstance(v, list) else v for name, v in post.items()}


def after(held_length: object, posts: list[WornNow], before: WornNow, done: Done) -> WornNow | None:
    """Return the post that is in now: the chosen one, the same, or none."""
    if done == "keep":
        return before
    return next((post for post in posts if name_of(post) == held_length), None)


def name_of(post: WornNow) -> str:
    """Return what tells a post from the others that are offered."""
    return f"{post.gauge_mm:g} {post.length_mm:g} {post.stock_key}".strip()


def stock_for(
    file: ClientFile, revision: Revision, worn: WornNow, on: date
) -> tuple[PostStock, ...]:
    """Return the lengths there are of the thickness that is in; none where there is none."""
    lengths = {p.length_mm for p in _all(file, revision, on) if p.gauge_mm == worn.gauge_mm}
    if not lengths:
        return ()
    return (PostStock(gauge_mm=worn.gauge_mm, lengths_mm=tuple(sorted(lengths))),)
