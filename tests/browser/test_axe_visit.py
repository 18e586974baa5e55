"""No rule that axe-core can check is broken on the Visit page, with photos, answers and a trend."""

from __future__ import annotations

from collections.abc import Iterator
from typing import TYPE_CHECKING, Any

import pytest

from tests.browser.conftest import sign_in, staff
from tests.browser.test_axe import AT_THE_CHAIR, ROOT, Desk
from tests.browser.visit_scenes import followed_over, opened, pierced
from tests.second_visit import Shot, shot

if TYPE_CHECKING:
    from playwright.sync_api import Browser

STEEP = ROOT / "sample_images" / "pronounced" / "above.jpg"

EACH_ONCE = (("light", "desktop"), ("dark", "tablet"), ("light", "phone"))
"""The page itself, without a photo, is looked at everywhere with all others."""

pytestmark = [pytest.mark.browser, pytest.mark.usefixtures("browser")]


@pytest.fixture(scope="module")
def desk(serve: Any, browser: Browser, tmp_path_factory: pytest.TempPathFactory) -> Iterator[Desk]:
    """Return a desk with somebody signed in, and no client yet."""
    store = tmp_path_factory.mktemp("axe-visit") / "store"
    staff(str(store))
    url = serve(ROOT / "app.py", env={"RIMSPAN_STORE": str(store)})
    context = browser.new_context(reduced_motion="reduce")
    sign_in(context, url)
    page = context.new_page()
    page.set_default_timeout(60_000)
    yield Desk(page, context.new_cdp_session(page), url, store)
    context.close()


def visits(desk: Desk, name: str, today: Shot, *, marked: bool) -> None:
    """Open the visit of a new client with a photo in it."""
    opened(desk.store, pierced(desk.store, name), today, marked=marked)
    desk.visit("visit", name, "left")
    desk.page.locator(".marking[data-painted]").wait_for()
    desk.rests()


def test_a_photo_from_another_side_with_the_earlier_outline_on_it(desk: Desk) -> None:
    steep = Shot(STEEP.read_bytes(), *(shot().outer,) * 4, 1.0)
    visits(desk, "Sasha Example (invented)", steep, marked=False)
    desk.page.get_by_text("Match the rim with the earlier outline").wait_for()
    assert desk.examine(EACH_ONCE) == []


def test_an_answer_that_says_what_moved(desk: Desk) -> None:
    visits(desk, "Kim Example (invented)", shot(again=True, lean_deg=-14.0), marked=True)
    desk.page.get_by_text("toward the face since the baseline").wait_for()
    assert desk.examine(EACH_ONCE) == []


def test_a_drift_over_three_visits(desk: Desk) -> None:
    client = pierced(desk.store, "Robin Example (invented)", 200)
    followed_over(desk.store, client, {45: 4.0, 100: 9.0, 160: 15.0})
    desk.visit("timeline", "Robin Example (invented)", "left")
    desk.unfold()
    desk.page.get_by_text("Over the visits, since").wait_for()
    assert desk.examine(AT_THE_CHAIR) == []
