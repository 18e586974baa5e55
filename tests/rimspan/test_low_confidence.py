"""A scale from an ID-1 card or a ruler: said on every output, and wider."""

from __future__ import annotations

import json
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pypdfium2
import pytest
from PIL import Image, ImageChops

from assess.result import Result
from assess.wording import LOW_CONFIDENCE
from rimspan.cli import main
from rimspan.plot_words import _lines
from rimspan.two_sides import caption
from tests.rimspan.conftest import in_photo

ID1 = {
    "kind": "id1",
    "edges": [
        in_photo([(32, 30), (102, 30)]),
        in_photo([(111.6, 36), (111.6, 78)]),
        in_photo([(102, 83.98), (32, 83.98)]),
        in_photo([(26, 78), (26, 36)]),
    ],
}
RULER = {
    "kind": "ruler",
    "points": in_photo([(69, 45), (69, 85)]),
    "length_mm": 40.0,
    "u_length_mm": 0.1,
}
"""Both lie in the card's plane, so that the channel of 7 mm is known by construction."""


@pytest.fixture
def outputs(
    flat: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> Callable[..., dict[str, Any]]:
    def make(scale: dict[str, Any] | None) -> dict[str, Any]:
        marks = json.loads(flat.read_text("utf-8"))
        marks["photos"][0]["sigma_px"] = 0.1  # so that the scale's own part is seen
        marks["rim_plane"] = {"offset_mm": 0.0, "u_offset_mm": 0.0, "u_tilt_deg": 0.0}
        marks.setdefault("card", {})["check_bar_mm"] = [100.0, 100.0]
        if scale is not None:
            marks["photos"][0]["scale"] = scale
            marks.pop("card", None)
        path = flat.parent / "fallback.json"
        path.write_text(json.dumps(marks))
        names = {"out": "r.json", "plot": "p.png", "sides": "s.svg", "report": "r.pdf"}
        arguments = ["measure", str(path), "--confirm", "A. Piercer"]
        for option, name in names.items():
            arguments += [f"--{option}", str(tmp_path / name)]
        assert main(arguments) == 0
        pdf = pypdfium2.PdfDocument(tmp_path / "r.pdf")
        return {
            "table": " ".join(capsys.readouterr().out.split()),
            "json": json.loads((tmp_path / "r.json").read_text("utf-8")),
            "svg": (tmp_path / "s.svg").read_text("utf-8"),
            "sheet": " ".join(page.get_textpage().get_text_range() for page in pdf),
            "plot": Image.open(tmp_path / "p.png").convert("RGB"),
        }

    return make


@pytest.mark.parametrize("scale", [ID1, RULER], ids=["id1", "ruler"])
def test_every_output_says_low_confidence(
    outputs: Callable[..., dict[str, Any]], scale: dict[str, Any]
) -> None:
    said = outputs(scale)
    assert LOW_CONFIDENCE in said["table"]
    assert said["json"]["low_confidence"] is True
    (placement,) = said["json"]["placements"]
    assert placement["low_confidence"] is True
    assert placement["method"] == "one_view"
    assert placement["headline"].startswith(LOW_CONFIDENCE)
    assert any(w.startswith("Low confidence") for w in said["json"]["photos"][0]["warnings"])
    assert LOW_CONFIDENCE in said["svg"]
    assert LOW_CONFIDENCE.replace(" ", "") in "".join(said["sheet"].split())
    result = Result.model_validate(said["json"])
    assert LOW_CONFIDENCE in " ".join(words for words, _, _ in _lines(result, "a", 1600))
    assert caption(result.placements[0]).startswith(LOW_CONFIDENCE)
    quantity = placement["channel"]
    assert abs(quantity["value"] - 7.0) < 2 * quantity["u"]


@pytest.mark.parametrize("scale", [ID1, RULER], ids=["id1", "ruler"])
def test_it_is_wider_than_the_scale_card_and_the_plot_differs(
    outputs: Callable[..., dict[str, Any]], scale: dict[str, Any]
) -> None:
    card, fallback = outputs(None), outputs(scale)
    assert "Low confidence" not in card["table"] + card["svg"] + card["sheet"]
    assert card["json"]["low_confidence"] is False
    pair = [each["json"]["placements"][0]["channel"]["u"] for each in (card, fallback)]
    assert pair[1] > pair[0]
    same = card["plot"].size == fallback["plot"].size
    assert not same or ImageChops.difference(card["plot"], fallback["plot"]).getbbox() is not None
