"""One placement from a signed assessment to the record of what went in, and one 'not here'.

A scenario of its own: an invented studio, two invented clients, posts of an invented make.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from pathlib import Path
from typing import Any

import pytest

from rimspan.assessment import assess_marks
from rimspan.clientfile import ClientFile
from rimspan.consultation import confirm, save
from rimspan.insertions import sittings
from rimspan.screens.document import measurable
from rimspan.stock_keeping import stock_of
from tests.browser.conftest import ALEX, staff
from tests.browser.test_talk import ROOT, TABLET, Chair, marked
from tests.rimspan.clientfile.made import noise
from tests.rimspan.conftest import card_photo

ROBIN, KIM = "Robin Example", "Kim Example"
TALK = {"age": {"at_least_years": 18, "identity_checked": True}}

pytestmark = [pytest.mark.browser, pytest.mark.usefixtures("browser")]

Sit = Callable[[str, str], Chair]


def signed(file: ClientFile, name: str, photo: bytes) -> None:
    """Put a client with a signed assessment into the file: a channel of 7 mm."""
    client = file.create_client(name).id
    kept = file.add_photo(client, photo, "flat.jpg", "left")
    photos = {"flat.jpg": file.photo_bytes(kept.sha256)}
    found = replace(assess_marks(measurable(marked(kept.sha256)), photos), talk=TALK)
    given = confirm(found, ALEX, examined_and_decides=True)
    save(file, client, found, given, measured_by=ALEX, token=f"signed {name}")


@pytest.fixture(scope="module")
def studio(serve: Any, tmp_path_factory: pytest.TempPathFactory) -> tuple[str, Path]:
    store, photo = tmp_path_factory.mktemp("chair") / "store", card_photo()
    staff(str(store))
    with ClientFile.open(store) as file:
        signed(file, ROBIN, photo)
        signed(file, KIM, photo)
    return serve(ROOT / "app.py", env={"RIMSPAN_STORE": str(store)}), store


@pytest.fixture
def sit(studio: tuple[str, Path], open_page: Any) -> Sit:
    """Return ``sit(name, page) -> Chair``: a page of a client's left ear."""
    url, store = studio

    def opened(name: str, at: str) -> Chair:
        with ClientFile.open(store) as file:
            (client,) = [c.id for c in file.clients() if c.name == name]
        page = open_page(f"{url}/{at}?client={client}&side=left", **TABLET)
        chair = Chair(page, store, client)
        page.get_by_role("heading", level=1).first.wait_for()
        chair.rests()
        return chair

    return opened


def test_a_post_goes_in_and_the_stock_is_counted_down(sit: Sit) -> None:
    chair = sit(ROBIN, "stock")
    chair.sees("No stock is kept yet.")
    for label, typed in (("Lot", "LOT-INVENTED-1"), ("Sterilisation batch", "B-12")):
        chair.page.get_by_label(label, exact=True).fill(typed)
        chair.page.keyboard.press("Tab")
    chair.tap("Take them in")
    chair.sees("Taken in: 1.")
    chair.go("Timeline")
    chair.tap("Record what went in")
    chair.page.get_by_role("heading", name="Insertion", level=1).wait_for()
    chair.rests()
    chair.tap("Went in")
    chair.sees("Which post")
    chair.tap("Keep what happened")
    chair.sees("Kept. The stock is counted down.")
    chair.sees("No photo right after was taken so far.")
    after = {"name": "after.jpg", "mimeType": "image/jpeg", "buffer": noise(9, 64)}
    chair.page.locator("input[type=file]").set_input_files(after)
    chair.sees("The photo right after is kept.")
    chair.go("Timeline")
    chair.sees("A photo taken right after.")
    with ClientFile.open(chair.store) as file:
        (sitting,) = sittings(file, chair.client)
        (put,) = sitting.insertion.put_in
        assert (put.length_mm, put.lot, sitting.insertion.pierced_by) == (
            9.525,
            "LOT-INVENTED-1",
            ALEX,
        )
        assert len(sitting.baseline) == 1
        assert [item.count for item in stock_of(file).stock.items] == [0]
        assert stock_of(file).number == 2
        assert file.verify() == []


def test_it_is_not_here(sit: Sit) -> None:
    chair = sit(KIM, "insertion")
    chair.page.get_by_text("Not here", exact=True).click()
    found = chair.page.get_by_role("combobox", name="What was found")
    found.fill("soft")
    chair.page.get_by_role("option", name="soft tissue").wait_for()
    found.press("Enter")
    found.press("Escape")
    chair.rests()
    chair.page.get_by_label("Other places that you talked about").fill("the lobe, the conch")
    chair.page.keyboard.press("Tab")
    chair.rests()
    chair.tap("Keep: not here")
    chair.sees("Kept: not here (soft tissue).")
    chair.go("Timeline")
    chair.sees("We talked about other places: the lobe, the conch.")
    with ClientFile.open(chair.store) as file:
        (record,) = file.records("not_here", chair.client)
        assert (record.document["findings"], record.by) == (["soft tissue"], ALEX)
        assert sittings(file, chair.client) == []
