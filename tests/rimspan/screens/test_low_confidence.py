"""A scale without the scale card: the screens say it before the answer."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

import pytest

from assess.wording import LOW_CONFIDENCE
from tests.rimspan.conftest import in_photo

RULER = {
    "kind": "ruler",
    "points": in_photo([(69, 45), (69, 85)]),
    "length_mm": 40.0,
    "u_length_mm": 0.1,
}


@pytest.mark.parametrize("page", ["answer", "sign"])
def test_low_confidence_stands_before_the_answer(
    visit: Any, flat_photo: bytes, flat_draft: Callable[[str], dict], page: str
) -> None:
    visit.consult()
    kept = visit.file.add_photo(visit.client, flat_photo, "flat.jpg", "left")
    draft = flat_draft(kept.sha256)
    draft["photos"][0]["scale"] = RULER
    visit.file.save_draft(visit.client, "left", draft)
    assert LOW_CONFIDENCE in visit.open(page).words
