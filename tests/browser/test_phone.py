"""From the code on the tablet to the photo on the tablet, by way of a phone in the network."""

from __future__ import annotations

import re
import time
from collections.abc import Callable
from io import BytesIO
from pathlib import Path
from typing import TYPE_CHECKING, Any

import pytest
import zxingcpp
from PIL import Image

from rimspan.clientfile import ClientFile
from rimspan.screens.launch import in_network
from rimspan.screens.phone.address import lan_address

if TYPE_CHECKING:
    from playwright.sync_api import Page

ROOT = Path(__file__).resolve().parents[2]
PHOTO = ROOT / "sample_images" / "pronounced" / "square-on.jpg"
TABLET = {"width": 1024, "height": 768, "touch": True}
PHONE = {"width": 390, "height": 844, "dpr": 2, "touch": True, "who": None}
LEAST_PX = 44
CLIENT = "Robin Example"

pytestmark = [pytest.mark.browser, pytest.mark.usefixtures("browser")]


@pytest.fixture(scope="module")
def studio(serve: Any, tmp_path_factory: pytest.TempPathFactory) -> tuple[str, Path]:
    """Return the screens' address on this machine, and the store they are open on."""
    if lan_address() is None:
        pytest.skip("this machine is in no network: a phone has no address to open")
    store = tmp_path_factory.mktemp("studio") / "store"
    settings = in_network("0.0.0.0")
    return serve(ROOT / "app.py", env={"RIMSPAN_STORE": str(store)}, settings=settings), store


@pytest.fixture
def client(studio: tuple[str, Path]) -> str:
    with ClientFile.open(studio[1]) as file:
        return file.create_client(CLIENT).id


def draft(store: Path, client: str) -> dict[str, Any]:
    with ClientFile.open(store) as file:
        return file.draft(client, "left") or {"photos": []}


def show_code(page: Page) -> str:
    """Press for a code and return the address beside it."""
    page.get_by_role("button", name="Take photos with the studio's phone").click()
    page.locator(".rim-address").wait_for()
    return page.locator(".rim-address").inner_text()


def send(page: Page, *files: Path) -> None:
    page.get_by_label("Or choose photos").set_input_files(files)
    page.get_by_role("button", name="Send").click()


def wait_for(happened: Callable[[], bool], limit_s: float = 15.0) -> None:
    end = time.monotonic() + limit_s
    while not happened():
        assert time.monotonic() < end, f"it didn't happen in {limit_s} s"
        time.sleep(0.05)


def heading(page: Page, words: str) -> None:
    page.get_by_role("heading", name=words, level=1).wait_for()


def test_photos_come_by_the_phone_once(
    studio: tuple[str, Path], client: str, open_page: Any, tmp_path: Path
) -> None:
    url, store = studio
    tablet = open_page(f"{url}/photos?client={client}&side=left", **TABLET)
    address = show_code(tablet)
    assert re.fullmatch(rf"http://{re.escape(lan_address() or '')}:\d+/phone/[\w-]{{43}}", address)

    phone = open_page(address, **PHONE)
    heading(phone, "Send photos")
    shown = phone.content()
    assert not [secret for secret in (CLIENT, "Robin", client, "Left ear") if secret in shown]
    assert phone.context.cookies() == []

    # A file that is no photo is refused in words, and the page goes on working.
    text = tmp_path / "text.jpg"
    text.write_text("no picture")
    send(phone, text)
    heading(phone, "Nothing was kept yet")
    phone.get_by_text("text.jpg: The file is no JPEG").wait_for()
    assert draft(store, client)["photos"] == []

    send(phone, PHOTO)
    heading(phone, "Done")
    phone.get_by_text("1 photo is with the studio now").wait_for()
    assert [photo["file"] for photo in draft(store, client)["photos"]] == [PHOTO.name]

    # Dead: sent again by a reload, and opened again.
    phone.reload()
    heading(phone, "This code is used up")
    again = phone.goto(address)
    assert again is not None
    assert again.status == 410
    heading(phone, "This code is used up")
    assert len(draft(store, client)["photos"]) == 1

    # The tablet notices by itself.
    tablet.get_by_text("1 photo came from the phone.").wait_for()
    tablet.get_by_text(re.compile(r"Card rimspan-frame-1 found: \d+ of 58 corners\.")).wait_for()
    assert tablet.locator(".rim-address").count() == 0


def test_the_code_on_the_screen_is_read_by_a_camera(
    studio: tuple[str, Path], client: str, open_page: Any
) -> None:
    """In the dark theme, where a code without its own white ground would be lost."""
    page = open_page(f"{studio[0]}/photos?client={client}&side=left", dark=True, **TABLET)
    address = show_code(page)
    seen = page.get_by_role("img", name="QR code of the address beside it").screenshot()
    with Image.open(BytesIO(seen)) as picture:
        codes = zxingcpp.read_barcodes(picture.convert("L"))
    assert [code.text for code in codes] == [address]


def test_what_is_done_while_the_phone_sends_is_kept(
    studio: tuple[str, Path], client: str, open_page: Any
) -> None:
    """Another screen of the studio says meanwhile that it is the pocket card."""
    url, store = studio
    tablet = open_page(f"{url}/photos?client={client}&side=left", **TABLET)
    phone = open_page(show_code(tablet), **PHONE)
    desk = open_page(f"{url}/card?client={client}&side=left", **TABLET)
    desk.get_by_text("pocket card", exact=True).click()
    wait_for(lambda: draft(store, client).get("card") == {"id": "rimspan-pocket-1"})
    send(phone, PHOTO)
    heading(phone, "Done")
    after = draft(store, client)
    assert [photo["file"] for photo in after["photos"]] == [PHOTO.name]
    assert after["card"] == {"id": "rimspan-pocket-1"}


@pytest.mark.parametrize("dark", [False, True], ids=["light", "dark"])
def test_everything_to_tap_is_large_enough(
    studio: tuple[str, Path], client: str, open_page: Any, dark: bool
) -> None:
    tablet = open_page(f"{studio[0]}/photos?client={client}&side=left", **TABLET)
    phone = open_page(show_code(tablet), dark=dark, **PHONE)
    targets = [phone.locator("#take"), phone.locator("#choose"), phone.get_by_role("button").last]
    boxes = [target.bounding_box() for target in targets]
    assert all(box is not None and box["height"] >= LEAST_PX for box in boxes)
    assert all(box is not None and box["width"] >= LEAST_PX for box in boxes)
    # Nothing is wider than the phone.
    wide = phone.evaluate("document.documentElement.scrollWidth")
    assert wide <= PHONE["width"]
    ground = phone.evaluate("getComputedStyle(document.body).backgroundColor")
    assert ground == ("rgb(14, 17, 23)" if dark else "rgb(255, 255, 255)")
