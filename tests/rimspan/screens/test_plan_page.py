"""The plan's page without a browser: what it lacks, what is worn, the other ear."""

import io
import json
from pathlib import Path
from typing import Any

import pytest
from PIL import Image, ImageOps

from rimspan.screens.document import measurable, new_document, of_ear
from rimspan.screens.plan_worn import with_thing, with_worn_marks

SAMPLE = Path(__file__).resolve().parents[3] / "rimspan" / "demo" / "samples" / "three"
PHOTO = "square-on.jpg"


def document() -> dict[str, Any]:
    return dict(json.loads((SAMPLE / "marks-plan.json").read_text("utf-8")))


def other_jpeg(flip: bool = False) -> bytes:
    """Return the photo saved anew, so that its bytes are others; flipped, it is the other ear."""
    stream = io.BytesIO()
    with Image.open(SAMPLE / PHOTO) as picture:
        exif = picture.getexif()
        seen = ImageOps.mirror(picture) if flip else picture
        seen.save(stream, "JPEG", quality=94, exif=exif)
    return stream.getvalue()


@pytest.fixture
def planned(visit: Any) -> Any:
    """Return a visit with the demo's plan open, and a second photo with something worn."""
    found = document()
    visit.consult("right", None)
    kept = {
        name: visit.file.add_photo(visit.client, data, name, "right").sha256
        for name, data in ((PHOTO, (SAMPLE / PHOTO).read_bytes()), ("worn.jpg", other_jpeg()))
    }
    (photo,) = found["photos"]
    both = [photo | {"x_sha256": kept[PHOTO]}, {"file": "worn.jpg", "x_sha256": kept["worn.jpg"]}]
    visit.file.save_draft(visit.client, "right", new_document("right") | found | {"photos": both})
    return visit


def test_without_a_rim_it_says_what_is_lacking(visit: Any) -> None:
    visit.consult().open("plan")
    assert "mark the outer and the inner one" in visit.words


def test_it_says_how_many_and_why_and_what_each_post_is(planned: Any) -> None:
    planned.open("plan")
    said = planned.words
    assert "Three posts asked for; two posts planned" in said
    assert "What was pierced before takes the room" in said
    assert "A: channel" in said
    folded = [each.label for each in planned.at.expander]
    assert [each for each in folded if each.endswith("would allow later")] == [
        "What post A would allow later",
        "What post B would allow later",
    ]
    assert said.count("Tightest bend: radius") == 2
    assert "2 planned, not approved" in " ".join(
        link.label
        for link in planned.at.get("page_link")  # the strip
    )


def test_glasses_on_the_upper_end_touch_and_a_photo_with_them_measures_no_ear(
    planned: Any,
) -> None:
    draft = planned.draft("right")
    a = draft["x_plan"]["placements"][0]["entry"]
    marks = {
        "x_worn": [[a[0] - 60, a[1] - 14], [a[0] + 60, a[1] - 14]],
        "placements": [{"label": "A", "entry": a, "exit": [a[0] + 50, a[1] + 60]}],
    }
    told = with_worn_marks(with_thing(draft, "worn.jpg", "glasses"), "worn.jpg", marks)
    assert of_ear(told) == [PHOTO]
    saved = measurable(told)["photos"][1]
    assert set(saved) == {"file", "placements", "x_worn"}
    assert saved["placements"] == []
    planned.file.save_draft(planned.client, "right", told)
    planned.open("plan")
    assert "The glasses and the upper end of A, with the first post: touching." in planned.words
    # One point is no line yet, and one dot no post.
    began = {"x_worn": [a], "placements": [{"label": "A", "entry": a}]}
    partly = with_worn_marks(told, "worn.jpg", began)["photos"][1]
    assert partly["x_worn"] == {"format": "rimspan-worn/1", "thing": "glasses", "placements": []}
    assert "x_worn" not in with_thing(told, "worn.jpg", None)["photos"][1]


def test_a_plan_goes_onto_the_other_ear_and_is_the_same_there(planned: Any) -> None:
    """The other ear is this one's mirror image, so nothing may differ."""
    data = other_jpeg(flip=True)
    with Image.open(io.BytesIO(data)) as picture:
        width = picture.width
    kept = planned.file.add_photo(planned.client, data, "left.jpg", "left").sha256
    (photo,) = document()["photos"]
    flipped = {
        name: [[width - 1 - x, y] for x, y in photo[name]] for name in ("outer_rim", "inner_rim")
    }
    if "head_up" in photo:
        flipped["head_up"] = [[width - 1 - x, y] for x, y in photo["head_up"]]
    left = {"file": "left.jpg", "x_sha256": kept, **flipped}
    plane = {name: document()[name] for name in ("card", "rim_plane")}
    planned.file.save_draft(
        planned.client, "left", new_document("left") | plane | {"photos": [left]}
    )

    planned.open("plan")
    planned.press("Mirror this plan onto the left ear")
    there = planned.draft("left")["x_plan"]
    here = planned.draft("right")["x_plan"]
    assert [p["label"] for p in there["placements"]] == ["A", "B"]
    for one, other in zip(there["placements"], here["placements"], strict=True):
        assert one["entry"] == pytest.approx(
            [width - 1 - other["entry"][0], other["entry"][1]], abs=2.0
        )
    planned.at.session_state["side"] = "left"
    planned.open("plan")
    assert "Mirrored from the other ear" in planned.words
    assert "A: as on the other ear." in planned.words
