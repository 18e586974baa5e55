"""Marking on an ear photo: our own component for pointer, touch and keys.

The browser owns the live edit and sends whole documents, so a skipped run loses nothing.  What
Python keeps comes back with the next mount, so a reload loses nothing either; nor does a lost
connection or a killed server, where Python says which documents it has kept (``held``).
"""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from functools import cache
from importlib import resources
from typing import TYPE_CHECKING, Any

import streamlit as st

from assess.repeatability import MOST_PASSES
from rimspan.screens.help_route import PATH as HELP_PATH

if TYPE_CHECKING:
    from streamlit.components.v2.types import ComponentRenderer


LABEL = "1"
"""Of the first placement, where none has a label yet."""


def script() -> str:
    """Return the script's parts as one module, in the order of their numbers."""
    folder = resources.files(__package__).joinpath("js")
    parts = sorted(
        (part for part in folder.iterdir() if part.name.endswith(".js")),
        key=lambda part: part.name,
    )
    return "\n".join(part.read_text("utf-8") for part in parts)


def _asset(name: str) -> str:
    return resources.files(__package__).joinpath(name).read_text("utf-8")


@cache
def _component() -> ComponentRenderer:
    return st.components.v2.component(
        "rimspan_marking",
        html=_asset("marking.html"),
        css=_asset("marking.css"),
        js=script(),
        isolate_styles=True,
    )


def _nothing() -> None:
    """Do nothing; that a callback is there lets Streamlit send the document."""


def _labels(marks: Mapping[str, Any]) -> list[str]:
    return [placement["label"] for placement in marks.get("placements", ())]


def _picture(url: str, size: tuple[int, int], tiles: Mapping[str, Any] | None) -> dict[str, Any]:
    width, height = size
    return {"url": url, "width": width, "height": height, "tiles": dict(tiles) if tiles else None}


def _purpose(
    several: Mapping[str, Any] | None, recheck: Mapping[str, Any] | None
) -> dict[str, Any]:
    return {
        "several": dict(several) if several else None,
        "recheck": dict(recheck) if recheck is not None else None,
    }


def marking(
    photo_url: str,
    size: tuple[int, int],
    marks: Mapping[str, Any],
    *,
    photo: str,
    key: str,
    labels: Sequence[str] = (),
    tiles: Mapping[str, Any] | None = None,
    held: Mapping[str, Any] | None = None,
    side: str = "",
    area: tuple[float, float, float, float] | None = None,
    by: str = "",
    first_by: str = "",
    revision: int = 0,
    helped: str | None = None,
    several: Mapping[str, Any] | None = None,
    recheck: Mapping[str, Any] | None = None,
    on_change: Callable[[], None] = _nothing,
) -> dict[str, Any] | None:
    """Draw the marking and return the document it last sent, or None before it has.

    Parameters
    ----------
    photo_url : where the browser fetches the upright photo
    size : the photo's width and height, px
    marks : what is marked so far: the photo's ``outer_rim``, ``inner_rim``, ``placements``,
        ``ties``, ``head_up`` as in the marks file; ``x_passes`` as in ``assess.passes`` and
        ``x_again``, the pass that runs; other names come back untouched
    photo : the photo's name; another name starts anew with ``marks`` and forgets undo
    key : the component's own, and the same in every run
    labels : of the placements that are known from elsewhere, in their order
    tiles : where the photo's own pixels are fetched, if ``photo_url`` is a preview:
        ``preview_size``, ``tiles`` (the address before ``COLUMN_ROW.jpg``) and ``tile_px``
    held : what is kept beside the marks: ``heard``, the number of the last document kept from
        each hand, ``last``, the hand of the last of all, ``undo``, the steps before and after;
        with it the browser sends again what wasn't kept
    side : ``"left"`` or ``"right"``, for the small drawing; else it faces left
    area : left, top, right and bottom of the ear, px, which is shown first; the whole photo
        without it
    by : who is at work; without a name nothing is marked again
    first_by : who made the marks that are there, where that is known
    revision : a number above that of the document the browser holds replaces its marks by
        ``marks``; otherwise what the browser holds stays
    helped : the photo's hash, under which help with marking is asked for; no help without it
    several : of several photos, what this one ``offers``, in its order, and the ``others``:
        their ``dots`` (``kind``, ``label`` or ``name``, the ``line`` in this photo on which it
        lies, px, the place of its ``first`` likeliest point, the ``files``), ``ties``, the names
        of all spare dots, ``mm_per_px``
    recheck : of a later visit's photo: the ``earlier`` outlines to draw over it, px by their
        kind, and whether its view is ``refused``; what it offers stands in ``several``
    on_change : called before the run in which a new document arrives

    Returns
    -------
    ``{"rev": int, "photo": str, "hand": str, "n": int, "marks": {...}, "undo": {...}}``, of which
    ``hand`` and ``n`` name the document among all that were ever sent; points are px
    of the photo, (0, 0) the centre of its top-left pixel
    """
    shown = _component()(
        key=key,
        data={
            **_picture(photo_url, size, tiles),
            "key": key,
            "held": dict(held) if held is not None else None,
            "photo": photo,
            "marks": dict(marks),
            "labels": list(labels) or _labels(marks) or [LABEL],
            "side": side,
            "area": list(area) if area else None,
            "who": {"by": by, "firstBy": first_by, "most": MOST_PASSES},
            "revision": revision,
            **_purpose(several, recheck),
            "help": {"url": HELP_PATH, "photo": helped} if helped else None,
        },
        default={"document": None},
        on_document_change=on_change,
    )
    return dict(shown.get("document") or {}) or None
