"""Signing in, locking, a client's file: one evening at an invented studio's tablet.

One server and one page for many steps: each start of either costs seconds.
"""

from __future__ import annotations

import re
import zipfile
from pathlib import Path
from typing import TYPE_CHECKING, Any

import pytest

from rimspan.clientfile import ClientFile
from rimspan.demo.client import CLIENTS, fill_client_file
from rimspan.demo.lay_out import samples
from tests.browser.conftest import ALEX, APPRENTICE, KIM, PASSWORD
from tests.browser.marking_hand import Bench

if TYPE_CHECKING:
    from playwright.sync_api import Page

ROOT = Path(__file__).resolve().parents[2]
TABLET = {"width": 1024, "height": 768, "touch": True}
SOON_MIN = 0.05
POINTS = ".marking[data-painted] .point"

pytestmark = [pytest.mark.browser, pytest.mark.usefixtures("browser")]


class Tablet:
    """A tablet that several people use, one after the other."""

    def __init__(self, page: Page) -> None:
        self.page = page

    def sign_in(self, name: str, password: str) -> None:
        self.page.get_by_label("Who").select_option(name)
        self.page.get_by_label("Password").fill(password)
        self.press("Sign in")

    def press(self, name: str) -> None:
        self.page.get_by_role("button", name=name, exact=True).click()

    def sees(self, words: str) -> None:
        self.page.get_by_text(words).first.wait_for()

    def is_at(self, title: str) -> None:
        self.page.get_by_role("heading", name=title, level=1).wait_for()
        self.rests()

    def rests(self) -> None:
        self.page.locator("[data-test-script-state=notRunning]").wait_for(state="attached")

    def go(self, name: str) -> None:
        self.rests()
        self.page.get_by_role("link", name=re.compile(f"^{name}")).first.click()

    def save(self) -> None:
        self.go("Sign")
        self.is_at("Sign")
        self.page.get_by_text("I examined this ear myself, and I decide.").click()
        self.rests()
        self.press("Save the assessment")


def locks_after(store: Path, minutes: float) -> None:
    with ClientFile.open(store) as file:
        file.settings.set("idle", {"minutes": minutes})


def test_an_evening_at_one_tablet(
    serve: Any, open_page: Any, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    store = tmp_path / "store"
    for name in [each for each in CLIENTS if not each.startswith("Demo client B")]:
        monkeypatch.delitem(CLIENTS, name)  # A's ear would be measured first
    with ClientFile.open(store) as file:
        fill_client_file(file, samples())
        (client,) = [c.id for c in file.clients() if c.name.startswith("Demo client B")]
    url = serve(ROOT / "app.py", env={"RIMSPAN_STORE": str(store)})
    marks = f"/marks?client={client}&side=left"

    # Nobody gets further than the door, and a wrong password doesn't open it.
    tablet = Tablet(open_page(f"{url}{marks}", who=None, **TABLET))
    tablet.is_at("Sign in")
    assert "Demo client" not in tablet.page.content()
    tablet.sign_in(ALEX, "a wrong password")
    tablet.sees("Name and password don't fit.")
    assert tablet.page.url == f"{url}{marks}"

    # An apprentice comes to the page that was asked for, measures, and decides nothing.
    tablet.sign_in(APPRENTICE, PASSWORD)
    bench = Bench(tablet.page, 1)
    bench.wait_until_painted()
    assert tablet.page.url == f"{url}{marks}"
    tablet.save()
    tablet.sees(f"{APPRENTICE} may not confirm here.")
    tablet.press("Sign out")
    tablet.is_at("Sign in")

    # A piercer decides; what was wrong is made void, and stays.
    tablet.sign_in(ALEX, PASSWORD)
    tablet.is_at("Rimspan")
    tablet.page.goto(f"{url}{marks}")
    bench.wait_until_painted()
    tablet.save()
    tablet.sees("Saved as revision 1.")
    tablet.go("Timeline")
    tablet.press("Open again")
    tablet.sees("The marks as they were saved.")
    tablet.rests()
    tablet.press("Make it void")
    tablet.page.get_by_label("Reason").fill("invented slip")
    tablet.page.get_by_label("Reason").press("Enter")
    tablet.rests()
    tablet.press("Void, for good")
    tablet.sees(f"by {ALEX}: invented slip")

    # The client withdraws.
    tablet.go("File")
    tablet.is_at("File of Demo client B (invented, rendered ear)")
    tablet.press("Consent withdrawn")
    tablet.sees("The client withdrew the consent to photos")
    tablet.rests()
    with tablet.page.expect_download() as handed_out:
        tablet.press("Download all that is kept (ZIP)")
    with zipfile.ZipFile(handed_out.value.path()) as packed:
        assert {"client.json", "revisions/0001.json"} <= set(packed.namelist())
    with ClientFile.open(store) as file:
        assert [each.given for each in file.consents.of(client)] == [False]
        (revision,) = file.revisions(client)
    assert revision.void is not None
    assert (revision.decided_by, revision.void.by) == (ALEX, ALEX)

    # Somebody at another tablet is told whose ear it is at the moment.
    tablet.go("Marks")
    bench.wait_until_painted()
    other = Tablet(open_page(f"{url}{marks}", who=KIM, **TABLET))
    other.sees(f"{ALEX} has this ear open at another chair.")
    other.page.close()

    # Left alone, the tablet locks itself: nothing of the client is left, not by address either.
    count = tablet.page.locator(POINTS).count()
    address = next(
        entry
        for entry in tablet.page.evaluate(
            "() => performance.getEntriesByType('resource').map(each => each.name)"
        )
        if "/photo/" in entry
    )
    assert tablet.page.request.get(address).status == 200
    locks_after(store, SOON_MIN)
    tablet.page.reload()
    tablet.is_at("Locked")
    assert "Demo client" not in tablet.page.content()
    assert tablet.page.request.get(address).status == 403
    assert tablet.page.locator(".marking").count() == 0
    locks_after(store, 10)
    tablet.sign_in(ALEX, PASSWORD)
    bench.wait_until_painted()
    assert tablet.page.locator(POINTS).count() == count
    assert KIM not in tablet.page.url
