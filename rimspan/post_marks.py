"""Marks of a photo with the post in: as the marking has them, and as a marks file has them.

The marking keeps a post's ends and axis among a placement's other points; a marks file has them
in ``x_post`` (``assess.recheck_marks``).
"""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

ENDS, AXIS = ("entry_end", "exit_end"), ("axis_from", "axis_to")
SKIN = ("entry", "exit")
LINES = ("outer_rim", "inner_rim")

Document = dict[str, Any]


def as_marks(
    document: Mapping[str, Any], label: str, length_mm: float | None, cameras: Mapping[str, Any]
) -> Document:
    """Return what was marked as ``rimspan-marks/1``.

    Parameters
    ----------
    document : ``side``, ``card``, and ``photos`` with their marks as the marking sends them
    label : the placement's
    length_mm : of the post that was in, where it is known
    cameras : by file, of photos whose lens has a profile
    """
    marks: Document = {
        "format": "rimspan-marks/1",
        "side": document["side"],
        "photos": [_photo(each, cameras.get(each["file"])) for each in document["photos"]],
    }
    if document.get("card"):
        marks["card"] = dict(document["card"])
    if length_mm is not None:
        marks["x_posts"] = {label: {"length_mm": length_mm}}
    return marks


def _photo(photo: Mapping[str, Any], camera: Any) -> Document:  # noqa: ANN401  (JSON)
    new: Document = {"file": photo["file"]}
    for name in LINES:
        if len(photo.get(name) or ()) > 1:
            new[name] = photo[name]
    if camera is not None:
        new["camera"] = camera
    placements = [_placement(each) for each in photo.get("placements", ())]
    new["placements"] = [each for each in placements if len(each) > 1]
    return new


def _placement(marked: Mapping[str, Any]) -> Document:
    new: Document = {"label": marked["label"]}
    new |= {name: marked[name] for name in SKIN if name in marked}
    edge = [name for name in marked.get("outline", ()) if name in SKIN and name in marked]
    if edge:
        new["outline"] = edge
    post: Document = {name: marked[name] for name in ENDS if name in marked}
    if all(name in marked for name in AXIS):
        post["axis"] = [marked[name] for name in AXIS]
    snaps = marked.get("x_snap", {})
    by_hand = [name for name in post if name == "axis" or name not in snaps]
    if post and not by_hand:
        post["u_px"] = max(float(snaps[name]["u_px"]) for name in post)
    if post:
        new["x_post"] = post
    return new


def as_marked(marks: Mapping[str, Any], photos: Mapping[str, str]) -> Document:
    """Return a marks file's photos as the marking takes them.

    Parameters
    ----------
    photos : file to hash
    """
    found = []
    for photo in marks["photos"]:
        new = {name: photo[name] for name in ("file", *LINES) if name in photo}
        new["x_sha256"] = photos[photo["file"]]
        new["placements"] = [_marked(each) for each in photo.get("placements", ())]
        found.append(new)
    return {"side": marks["side"], "card": marks.get("card"), "photos": found}


def _marked(placement: Mapping[str, Any]) -> Document:
    new = {name: placement[name] for name in ("label", *SKIN, "outline") if name in placement}
    post = placement.get("x_post", {})
    ends = [name for name in ENDS if name in post]
    new |= {name: post[name] for name in ends}
    new |= dict(zip(AXIS, post.get("axis", ()), strict=False))
    if "u_px" in post:
        new["snapped"], new["u_px"] = ends, post["u_px"]
        new["x_snap"] = {name: {"tap": post[name], "u_px": post["u_px"]} for name in ends}
    return new


def lacking(document: Mapping[str, Any], label: str) -> tuple[str, ...]:
    """Return what no photo of a set has yet, of what a comparison needs."""
    photos = document["photos"]
    marked = [p for photo in photos for p in photo.get("placements", ()) if p["label"] == label]
    found = []
    if not any(len(photo.get("outer_rim") or ()) > 1 for photo in photos):
        found.append("the outer rim")
    if not any(all(name in p for name in pair) for p in marked for pair in (ENDS, AXIS)):
        found.append("both ends of the post")
    return tuple(found)
