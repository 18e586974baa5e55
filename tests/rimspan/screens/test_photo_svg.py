"""The drawings of the five views and of the card say what was seen: read back from the SVG."""

from __future__ import annotations

import re
import xml.etree.ElementTree as ET

import numpy as np
import pytest

from assess.view_guide import Sight
from assess.view_set import VIEWS
from calibration.card import FRAME, POCKET
from rimspan.screens import photo_svg, svg

NS = "{http://www.w3.org/2000/svg}"


def phones_of(drawing: str) -> tuple[ET.Element, ET.Element]:
    beside, top = ET.fromstring(drawing).iter(f"{NS}rect")
    return beside, top


@pytest.mark.parametrize("side", ["left", "right"])
@pytest.mark.parametrize("view", VIEWS)
def test_the_phone_stands_at_its_elevation_and_its_turn(view, side) -> None:
    beside, top = re.findall(r"rotate\((-?[\d.]+) ", photo_svg.view_place(view, side, there=True))
    # Clockwise on the screen, y down: from above is a turn to the left.
    assert float(beside) == -sum(view.rise_deg) / 2
    # Seen from the top the card lies across and the phone below it: to the right is as well, and
    # behind a left ear is to the right.
    behind = -sum(view.behind_deg) / 2
    assert float(top) == (behind if side == "left" else -behind)


@pytest.mark.parametrize("view", VIEWS)
def test_a_missing_view_is_a_dashed_outline(view) -> None:
    for there in phones_of(photo_svg.view_place(view, "left", there=True)):
        assert (there.get("fill"), there.get("stroke-dasharray")) == (svg.ACCENT, None)
    for missing in phones_of(photo_svg.view_place(view, "left", there=False)):
        assert missing.get("fill") == "none"
        assert missing.get("stroke-dasharray")
    assert "missing" in photo_svg.view_place(view, "left", there=False)


def dots(drawing: str) -> list[tuple[float, float]]:
    found = ET.fromstring(drawing).iter(f"{NS}circle")
    return [(float(c.get("cx", "")), float(c.get("cy", ""))) for c in found]


@pytest.mark.parametrize("card", [FRAME, POCKET])
def test_the_corners_that_were_seen_are_dots_where_they_are_printed(card) -> None:
    seen = card.corner_ids[::3]
    drawing = photo_svg.card_state(card, seen)
    np.testing.assert_allclose(dots(drawing), card.corners_mm(seen), atol=1e-9)
    crosses = drawing.count("l4 4 m0 -4 l-4 4")
    assert crosses == len(card.corner_ids) - len(seen)
    assert f"{len(seen)} of {len(card.corner_ids)} corners seen" in drawing


def test_a_card_that_is_not_seen_has_no_corners() -> None:
    drawing = photo_svg.no_card(FRAME)
    assert dots(drawing) == []
    assert "stroke-dasharray" in drawing


@pytest.mark.parametrize(
    ("side", "mirrored", "turned"),
    [("left", False, False), ("left", True, True), ("right", False, True), ("right", True, False)],
)
def test_the_ear_faces_as_it_does_in_the_photo(side: str, mirrored: bool, turned: bool) -> None:
    drawing = photo_svg.facing(side, mirrored)
    assert ("scale(-1 1)" in drawing) == turned
    assert ("the photo is mirrored" in drawing) == mirrored
    assert f"{side} ear" in drawing


def test_the_next_photos_place_is_a_dashed_ring_among_those_taken() -> None:
    taken = (Sight(0.0, 0.0), Sight(20.0, 10.0), Sight(-30.0, -10.0))
    drawing = ET.fromstring(photo_svg.sights(taken, Sight(-20.0, 20.0)))
    circles = [c.attrib for c in drawing.iter(f"{NS}circle")]
    filled = [c for c in circles if c.get("fill") != "none"]
    assert len(filled) == 3
    assert float(filled[1]["cx"]) > float(filled[0]["cx"]) > float(filled[2]["cx"])
    assert float(filled[1]["cy"]) < float(filled[0]["cy"]) < float(filled[2]["cy"])  # up is above
    (ring,) = (c for c in circles if "stroke-dasharray" in c)
    assert float(ring["cx"]) > float(filled[0]["cx"])
    assert float(ring["cy"]) > float(filled[0]["cy"])
