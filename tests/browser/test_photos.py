"""Several photos brought at once, HEIC among them, to a tablet: what the piercer then sees.

The photos are rendered; the names of the sample files say from where each is taken.
"""

from __future__ import annotations

import io
import re
from pathlib import Path
from typing import TYPE_CHECKING, Any

import pillow_heif
import pytest
from PIL import Image

from rimspan.clientfile import ClientFile

if TYPE_CHECKING:
    from playwright.sync_api import Locator, Page

ROOT = Path(__file__).resolve().parents[2]
SAMPLES = ROOT / "sample_images" / "pronounced"
TABLET = {"width": 1024, "height": 768, "touch": True}

pytestmark = [pytest.mark.browser, pytest.mark.usefixtures("browser")]


@pytest.fixture
def turned_heic(tmp_path: Path) -> Path:
    """Return the square-on photo as a phone saves it: on its side, with the turn back."""
    exif = Image.Exif()
    exif[0x0112] = 6
    place = tmp_path / "IMG_0001.HEIC"
    with Image.open(SAMPLES / "square-on.jpg") as picture:
        side = picture.convert("RGB").rotate(90, expand=True)
    out = io.BytesIO()
    pillow_heif.from_pillow(side).save(out, quality=90, exif=exif.tobytes(), tile_size=512)
    place.write_bytes(out.getvalue())
    return place


def views(page: Page, word: str) -> Locator:
    return page.locator(".rim-views figure").filter(has_text=re.compile(rf"{word}$"))


def test_several_photos_come_in_at_once(
    serve: Any, open_page: Any, tmp_path: Path, turned_heic: Path
) -> None:
    from playwright.sync_api import expect

    store = tmp_path / "store"
    with ClientFile.open(store) as file:
        client = file.create_client("Robin Example")
    url = serve(ROOT / "app.py", env={"RIMSPAN_STORE": str(store)})
    page = open_page(f"{url}/photos?client={client.id}&side=left", **TABLET)
    expect(views(page, "missing")).to_have_count(5)
    # Each is drawn from beside and from the top.
    expect(page.locator(".rim-views rect[stroke-dasharray]")).to_have_count(10)

    page.locator("input[type=file]").set_input_files(
        [turned_heic, SAMPLES / "above.jpg", SAMPLES / "below.jpg"]
    )
    expect(views(page, "there")).to_have_count(3)
    expect(page.locator(".rim-views rect[stroke-dasharray]")).to_have_count(4)
    expect(
        page.get_by_text("3 of 5 views. Missing: from behind the ear, 40 to 50°")
    ).to_be_visible()
    expect(page.get_by_text("degrees off square")).to_have_count(0)  # as they are asked for
    expect(page.get_by_text("58 of 58 corners.")).to_have_count(3)

    # One pixel of the photo is one of the page: nothing is scaled where sharpness is judged.
    close = page.get_by_test_id("stImage").filter(has_text="pixel for pixel").locator("img")
    expect(close).to_have_count(3)
    for i in range(3):
        shown = close.nth(i)
        shown.scroll_into_view_if_needed()
        page.wait_for_function("image => image.naturalWidth > 0", arg=shown.element_handle())
        size = shown.evaluate("image => [image.naturalWidth, image.clientWidth]")
        assert size == [240, 240]

    # The browser can show what is kept of the HEIC, upright, and mark on it.
    page.get_by_role("link", name=re.compile("^Marks")).first.click()
    page.locator(".marking[data-painted]").wait_for()
    with ClientFile.open(store) as file:
        draft = file.draft(client.id, "left") or {}
        assert [p["file"] for p in draft["photos"]] == [
            "IMG_0001.jpg",
            "above.jpg",
            "below.jpg",
        ]
        kept = file.photo_bytes(draft["photos"][0]["x_sha256"])
    with Image.open(io.BytesIO(kept)) as picture:
        assert (picture.format, picture.size) == ("JPEG", (2000, 1500))
