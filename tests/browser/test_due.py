"""Who is due, in a browser, while the clocks change and the year ends: all people are invented.

The test sets the server's clock, and the machine stands in another time zone than the studio.  The
expected days are counted by hand on a calendar from what the page says, 2 to 3 weeks after the
piercing; which moment the studio's clock shows as what, the database of time zones says.
"""

from __future__ import annotations

from dataclasses import dataclass
from datetime import UTC, date, datetime, time, timedelta
from pathlib import Path
from typing import TYPE_CHECKING, Any
from zoneinfo import ZoneInfo

import pytest
import vobject

from rimspan.clientfile import ClientFile
from rimspan.screens.document import new_document
from rimspan.studio_clock import set_zone
from tests.browser.conftest import settle, staff
from tests.browser.visit_scenes import alex, pierced_at
from tests.rimspan.screens.conftest import ADULT

if TYPE_CHECKING:
    from playwright.sync_api import Page

APP = Path(__file__).with_name("clock_app.py")
ELSEWHERE = "Pacific/Auckland"
"""The machine's own zone."""
BERLIN, NEW_YORK = "Europe/Berlin", "America/New_York"
LATE, EARLY, NOON = time(23, 30), time(0, 30), time(12)
DAY = timedelta(days=1)

pytestmark = [pytest.mark.browser, pytest.mark.usefixtures("browser")]


@dataclass(frozen=True)
class Studio:
    """The screens under a clock that is set, and their store."""

    url: str
    store: Path
    told: Path

    def turns_to(self, moment: datetime) -> None:
        self.told.write_text(moment.astimezone(UTC).isoformat(), "utf-8")


@pytest.fixture(scope="module")
def studio(serve: Any, tmp_path_factory: pytest.TempPathFactory) -> Studio:
    folder = tmp_path_factory.mktemp("due")
    made = Studio("", folder / "store", folder / "clock")
    staff(str(made.store))
    with ClientFile.open(made.store) as file:
        file.settings.set("idle", {"minutes": 1e7})  # the clock leaps by weeks
    made.turns_to(datetime(2026, 10, 1, 12, tzinfo=UTC))
    env = {"RIMSPAN_STORE": str(made.store), "CLOCK": str(made.told), "TZ": ELSEWHERE}
    return Studio(serve(APP, env=env), made.store, made.told)


def downloaded(page: Page, button: Any) -> Any:
    """Return the events of a calendar file, by the name of the visit."""
    settle(page)
    with page.expect_download() as handed_out:
        button.click()
    text = Path(handed_out.value.path()).read_text("utf-8")
    return {event.uid.value.rsplit(".", 1)[0]: event for event in vobject.readOne(text).vevent_list}


@pytest.mark.parametrize(
    ("zone", "pierced", "first", "last", "span"),
    [
        # The clocks go back on 25 October 2026 in Europe, on 1 November in the US, and forward in
        # Europe on 28 March 2027: each time on the first day on which somebody is expected.
        (BERLIN, (2026, 10, 11), (2026, 10, 25), (2026, 11, 1), "25 October 2026 to 1 November"),
        (NEW_YORK, (2026, 10, 18), (2026, 11, 1), (2026, 11, 8), "1 November 2026 to 8 November"),
        (BERLIN, (2026, 12, 18), (2027, 1, 1), (2027, 1, 8), "1 January 2027 to 8 January"),
        (BERLIN, (2027, 3, 14), (2027, 3, 28), (2027, 4, 4), "28 March 2027 to 4 April"),
    ],
)
def test_who_is_due_stands_there_by_the_studios_day(
    studio: Studio,
    open_page: Any,
    zone: str,
    pierced: tuple[int, int, int],
    first: tuple[int, int, int],
    last: tuple[int, int, int],
    span: str,
) -> None:
    there = ZoneInfo(zone)
    begins, ends = date(*first), date(*last)
    with ClientFile.open(studio.store) as file:
        set_zone(file, alex(file), zone)
        went_in = datetime.combine(date(*pierced), NOON, there)
        client = pierced_at(file, f"Robin Example {begins} (invented)", went_in)
    page = None
    for day, clock, said in (
        (begins - DAY, LATE, "Later, in 1 day"),
        (begins, EARLY, "Due now, 7 days left"),
        (ends, LATE, "Due now, the last day"),
        (ends + DAY, EARLY, "Overdue, 1 day over"),
    ):
        studio.turns_to(datetime.combine(day, clock, there))
        if page is None:
            page = open_page(f"{studio.url}/due")
        else:
            page.goto(f"{studio.url}/due")
        page.get_by_text(f"As of {day.day} {day:%B %Y}.").wait_for()
        line = page.locator(line_of(client))
        line.get_by_text(
            f"{said}: First look, {span} {ends.year}, left ear, placement 1"
        ).wait_for()
    assert page is not None
    settle(page)
    at = page.locator("[data-testid=stVerticalBlock]").filter(has=page.locator(line_of(client)))
    at.last.get_by_text("A text to send, and the days for a calendar").click()
    events = downloaded(page, at.last.get_by_role("button", name="These days for a calendar"))
    (event,) = events.values()
    assert (event.dtstart.value, event.dtend.value) == (begins, ends + DAY)
    assert event.dtstamp.value == datetime.combine(ends + DAY, EARLY, there).astimezone(UTC)
    text = page.get_by_role(
        "textbox", name="Copy it: the program sends nothing"
    ).first.input_value()
    assert f"{ends.day} {ends:%B %Y}" in text


def line_of(client: str) -> str:
    return f".st-key-due-list-{client}-1-1"


@pytest.mark.parametrize(
    ("zone", "pierced", "looks", "utc_hour"),
    [
        (BERLIN, date(2026, 10, 11), date(2026, 10, 25), 13),
        (NEW_YORK, date(2026, 10, 18), date(2026, 11, 1), 19),
        (BERLIN, date(2026, 12, 18), date(2027, 1, 4), 13),
        (BERLIN, date(2027, 3, 14), date(2027, 3, 28), 12),
    ],
)
def test_an_agreed_time_stands_in_the_calendar_file_as_the_clock_shows_it(
    studio: Studio, open_page: Any, zone: str, pierced: date, looks: date, utc_hour: int
) -> None:
    """Half past two by the studio's clock; the hours of UTC are counted by hand."""
    agreed = {"visit.check": {"at": f"{looks}T14:30", "zone": zone}}
    talk = {**ADULT["x_talk"], "day": pierced.isoformat(), "times": agreed}
    with ClientFile.open(studio.store) as file:
        set_zone(file, alex(file), zone)
        client = file.create_client(f"Kim Example {looks} (invented)").id
        file.save_draft(client, "left", new_document("left") | {"x_talk": talk})
    studio.turns_to(datetime.combine(pierced, NOON, ZoneInfo(zone)))
    page = open_page(f"{studio.url}/talk?client={client}&side=left")
    page.get_by_role("radio", name="Days").click()
    page.get_by_text(f"First look: {looks.day} {looks:%B %Y}, 14:30.").first.wait_for()
    events = downloaded(page, page.get_by_role("button", name="Visits for a calendar (.ics)"))
    begins = events["visit.check"].dtstart.value
    assert begins.replace(tzinfo=None) == datetime.combine(looks, time(14, 30))
    assert begins.astimezone(UTC) == datetime.combine(looks, time(utc_hour, 30), UTC)
    assert events["visit.day"].dtstart.value == pierced
