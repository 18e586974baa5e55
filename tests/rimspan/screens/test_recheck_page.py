"""What changed, on the Visit page: photos, marks and all that follows; all people are invented."""

from __future__ import annotations

import re
from dataclasses import replace
from datetime import date, timedelta
from pathlib import Path
from typing import Any

import pytest

from assess.insertion import RecordError
from assess.recheck_series import Point
from assess.talk.spans import Days
from assess.view_set import angle_deg, way_of
from assess.visit_measured import MarkedSet, Recheck
from assess.visit_record import NextCheck, VisitRecord, WornNow
from rimspan.insertions import record_baseline, sittings
from rimspan.visits import record_visit, visits_of
from sample_images.sets import sample_set
from tests.rimspan.screens.conftest import ALEX, Visit
from tests.rimspan.screens.test_visit_page import (
    LONG,
    SHORT,
    begin,
    choose,
    pierced,
    seen_and_decided,
)
from tests.second_visit import Shot, shot

HAND_PX = 0.7


def with_baseline(visit: Visit, days_ago: int = 35) -> Visit:
    """Keep an invented client's insertion, and the photo right after it."""
    pierced(visit, days_ago)
    (alex,) = visit.file.people.all()
    photo = visit.file.add_photo(visit.client, shot().data, "after.jpg", "left")
    (sitting,) = sittings(visit.file, visit.client)
    record_baseline(visit.file, alex, visit.client, sitting.number, (photo.sha256,), "after")
    return visit


def brought(visit: Visit, taken: Shot, name: str = "today.jpg") -> Visit:
    """Bring today's photo: what the page does with an upload."""
    from streamlit.testing.v1 import AppTest

    def script() -> None:
        import streamlit as st

        from rimspan.screens import recheck_parts

        recheck_parts.photo_came("left", st.session_state["name"], st.session_state["data"])

    other = AppTest.from_function(script, default_timeout=60)
    known = {"client": visit.client, "side": "left", "name": name, "data": taken.data}
    for key in ("who", "seat"):
        if key in visit.at.session_state:
            known[key] = visit.at.session_state[key]
    for key, held in known.items():
        other.session_state[key] = held
    other.run()
    assert not other.exception, other.exception
    return visit.run()


def marked(visit: Visit, which: str, marks: dict[str, Any]) -> Visit:
    (photo,) = visit.draft()["x_visit"]["recheck"][which]["photos"]
    key = f"recheck {visit.client} left {which} {photo['x_sha256']}"
    sent = {"rev": 1, "photo": photo["file"], "marks": marks}
    return visit.arrives(key, sent).run()


def test_a_post_that_stayed_shows_no_measurable_change(visit: Any) -> None:
    begin(with_baseline(visit))
    assert "not marked yet" in visit.words
    brought(visit, shot(again=True))
    assert "To mark in today's photo: the outer rim and both ends of the post." in visit.words
    marked(visit, "now", shot(again=True).marks("1", HAND_PX, seed=2))
    assert "Mark the baseline's photo too" in visit.words
    marked(visit, "baseline", shot().marks("1", HAND_PX, seed=3))
    assert "not marked yet" not in visit.words
    assert ": marked at this visit." in visit.words
    for what in ("Tilt of 1", "End at the entry of 1", "End at the exit of 1"):
        assert f"{what}: no measurable change" in visit.words
    assert "Channel of 1 as seen: no measurable change" in visit.words
    choose(visit, "visit done", "keep")
    seen_and_decided(visit)
    assert "Visit 1 is kept" in visit.words
    (kept,) = visits_of(visit.file, visit.client)
    recheck = kept.visit.recheck
    assert recheck is not None
    assert recheck.baseline is not None
    assert recheck.baseline.marked_later
    assert recheck.baseline.on == kept.visit.on - timedelta(days=35)
    assert recheck.found is not None
    (post,) = recheck.found["posts"]
    assert not post["tilt"]["moved"]
    assert not any(end["moved"] for end in post["ends"].values())
    assert recheck.hashes == kept.photos
    assert "marked on" in visit.words
    assert "Tilt of 1: no measurable change" in visit.words


def test_a_post_that_leans_is_said_to(visit: Any) -> None:
    begin(with_baseline(visit))
    brought(visit, shot(again=True, lean_deg=-14.0))
    marked(visit, "now", shot(again=True, lean_deg=-14.0).marks("1", HAND_PX, seed=4))
    marked(visit, "baseline", shot().marks("1", HAND_PX, seed=5))
    assert "toward the face since the baseline" in visit.words
    assert "A piercer looks at what pushes on it" in visit.words


def test_a_view_that_is_too_far_off_is_refused_with_the_earlier_outline(visit: Any) -> None:
    begin(with_baseline(visit))
    steep = Path(__file__).parents[3] / "sample_images" / "pronounced" / "above.jpg"
    brought(visit, Shot(steep.read_bytes(), *(shot().outer,) * 4, 1.0), "steep.jpg")
    marked(visit, "baseline", shot().marks("1", HAND_PX, seed=6))
    told = re.search(r"The view is (\d+)° off from the baseline's", visit.words)
    assert told is not None
    sample = sample_set("pronounced")
    ways = [way_of(*sample.sights[name][:2]) for name in ("square-on", "above")]
    # Where the ear is looked for is some 10 mm beside the middle that both were rendered about.
    assert float(told[1]) == pytest.approx(angle_deg(*ways), abs=3.0)
    down = re.search(r"Move the phone .*?(\d+)° down", visit.words)
    assert down is not None
    assert float(down[1]) == pytest.approx(angle_deg(*ways), abs=3.0)
    assert "no measurable change" not in visit.words
    # It is to be taken again, from where the baseline was: neither marked nor square-on.
    assert "To mark in today's photo" not in visit.words
    assert "degrees off square" not in visit.words


def test_downsizing_by_todays_calipers_is_kept_and_waits_for_swelling(visit: Any) -> None:
    begin(pierced(visit))
    visit.at.number_input(key="visit caliper_mm").set_value(7.0)
    visit.run()
    assert "Channel measured by calipers." in visit.words
    assert "In it now: 9.53 mm (3/8 in)." in visit.words
    # 5/16 in leaves 0.94 mm of 7.0, in the middle of 0.3 to 1.3; 9/32 in would leave 0.14.
    assert "From stock now: 7.94 mm (5/16 in)" in visit.words
    choose(visit, "visit signs", ["swollen"])
    assert "A shorter post waits: swelling first goes down." in visit.words
    choose(visit, "visit signs", [])
    choose(visit, "visit done", "shorten")
    names = visit.at.selectbox(key="visit after").options
    assert "spare length 0.94 mm" in names[1] or "spare length 0.9 mm" in names[1]
    visit.at.selectbox(key="visit after").select_index(1)
    visit.run()
    seen_and_decided(visit)
    (kept,) = visits_of(visit.file, visit.client)
    found = kept.visit.downsizing
    assert found is not None
    assert (found.by, found.from_stock_mm, found.waits) == ("calipers", SHORT, False)
    assert found.channel.value == pytest.approx(7.0, abs=0.01)
    assert "From stock now: 7.94 mm (5/16 in)" in visit.words


def followed(days: int, tilt: float, swollen: bool = False) -> VisitRecord:
    """Return a visit some days after the piercing with a tilt that was measured (invented)."""
    start = date.today() - timedelta(days=200)
    baseline = MarkedSet(start, start, ALEX, {"photos": []}, {}, True)
    now = MarkedSet(start + timedelta(days=days), start, ALEX, {"photos": []}, {})
    point = Point("tilt", tilt, 1.5, 0.5)
    worn = WornNow(1.2, LONG)
    on = start + timedelta(days=days)
    look = NextCheck("visit.again", Days(on, on + timedelta(days=7)))
    return VisitRecord(
        1,
        "1",
        on,
        start,
        "keep",
        ALEX,
        worn,
        worn,
        next_check=look,
        recheck=Recheck(now, baseline, None, (point,), swollen),
    )


def test_a_drift_is_said_over_three_visits_and_drawn(visit: Any) -> None:
    pierced(visit, days_ago=200)
    (alex,) = visit.file.people.all()
    for days, tilt in ((45, 4.0), (100, 9.0), (160, 15.0)):
        held, file = followed(days, tilt), visit.file
        known = visits_of(file, visit.client)
        before = known[-1].visit.after if known else WornNow(1.2, LONG, "1", "L-INVENTED", "B-1")
        assert before is not None
        held = replace(held, before=before, after=before)
        record_visit(file, alex, visit.client, held, f"followed {days}")
    visit.open("timeline")
    assert "Tilt toward the face: drifts by" in visit.words
    assert "A piercer considers another post" in visit.words
    assert "Tilt toward the face over 3 visits since the baseline" in visit.words
    assert "about one in ten" in visit.words


def test_measured_swelling_speaks_against_a_shorter_post() -> None:
    held = followed(45, 0.0, swollen=True)
    with pytest.raises(RecordError, match="longer than at the baseline"):
        replace(held, done="shorten", after=WornNow(1.2, SHORT))
