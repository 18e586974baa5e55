"""The second visit's pure parts: first things, downsizing, drift, due, outcomes, their words."""

from __future__ import annotations

from datetime import UTC, date, datetime, timedelta
from zoneinfo import ZoneInfo

import numpy as np
import pytest

from assess.criteria import DEFAULT_CRITERIA
from assess.downsizing import downsizing
from assess.due import Came, Due, Expected, due_list, expected_from, reminder
from assess.outcomes import Followed, OutcomeError, outcomes
from assess.posts import NoPost, default_stock
from assess.recheck_words import (
    downsizing_sentences,
    first_sentences,
    outcome_sentences,
    trend_sentence,
)
from assess.talk.plan import DOWNSIZING, plan_from, still_swollen
from assess.trend import Seen, TrendError, trend
from assess.visit import INFECTION, NO_ROOM, Sign, first_things, no_spare_probability

PRACTICE = pytest.mark.practice("common practice, no source")
BERLIN, AUCKLAND = ZoneInfo("Europe/Berlin"), ZoneInfo("Pacific/Auckland")


@PRACTICE
@pytest.mark.parametrize("sign", sorted(NO_ROOM))
def test_an_end_that_sinks_in_is_for_a_longer_post_the_same_day(sign: Sign) -> None:
    found = first_things([sign, "swollen"])
    assert found.same_day
    assert "longer post today" in found.first
    assert "shorten" not in found.may
    assert "whatever the plan's dates say" in " ".join(first_sentences(found))


@PRACTICE
@pytest.mark.parametrize("sign", sorted(INFECTION))
def test_signs_of_infection_go_to_medical_care_and_never_to_removal(sign: Sign) -> None:
    found = first_things([sign], outgrown=True)
    assert found.first[0] == "care today"
    assert "remove" not in found.may
    said = " ".join(first_sentences(found)).lower()
    assert "licensed medical care today" in said
    assert not any(word in said for word in ("take it out", "remov", "infect"))


@PRACTICE
def test_while_it_is_swollen_downsizing_waits() -> None:
    found = first_things(["swollen"])
    assert found.first == ("downsizing waits",)
    assert "shorten" not in found.may
    assert "keep" in found.may


@PRACTICE
def test_a_quiet_visit_may_do_everything_and_removing_only_where_it_is_wanted() -> None:
    assert first_things(()).may == ("lengthen", "keep", "shorten")
    assert first_things((), outgrown=True).may[-1] == "remove"


def test_a_post_without_spare_length_is_known_from_the_channels_draws() -> None:
    channel = np.random.default_rng(1).normal(8.0, 0.4, 20_000)
    assert no_spare_probability(9.525, channel) < 0.001
    tight = no_spare_probability(7.9375, channel)
    assert 0.5 < tight < 0.6
    assert "longer post today" in first_things((), tight).first


def test_downsizing_takes_todays_channel_and_says_what_was_planned() -> None:
    channel = np.random.default_rng(2).normal(7.0, 0.2, 20_000)
    found = downsizing(
        channel,
        default_stock(),
        DEFAULT_CRITERIA,
        first_things(()),
        worn_mm=10.31875,
        planned_mm=8.73125,
    )
    assert not isinstance(found.choice, NoPost)
    # 5/16 in leaves 0.94 mm of 7.0, in the middle of 0.3 to 1.3; 11/32 in would leave 1.7.
    assert found.choice.length_mm == pytest.approx(7.9375)
    assert found.shorter
    assert found.as_planned is False
    assert not found.waits
    said = " ".join(downsizing_sentences(found))
    assert "5/16 in" in said
    assert "11/32 in" in said
    swollen = downsizing(channel, default_stock(), DEFAULT_CRITERIA, first_things(["swollen"]))
    assert swollen.waits
    assert "waits" in downsizing_sentences(swollen)[0]


START = date(2026, 11, 20)


def seen(*values: float, u: float = 0.5, u_common: float = 0.0) -> list[Seen]:
    return [
        Seen(START + timedelta(days=45 * (i + 1)), value, u, u_common)
        for i, value in enumerate(values)
    ]


def test_a_drift_is_said_with_its_speed_and_no_diagnosis() -> None:
    found = trend(START, seen(1.5, 3.0, 4.4))
    assert found.said
    assert found.low < found.per_month < found.high
    said = trend_sentence(found, "tilt of A", "°")
    assert "1.00° a month" in said
    assert "no diagnosis" in said
    assert not any(word in said.lower() for word in ("reject", "migrat", "infect"))


def test_what_scatters_is_no_drift() -> None:
    found = trend(START, seen(0.4, -0.5, 0.2))
    assert not found.said
    assert "no drift that can be told" in trend_sentence(found, "tilt of A", "°")


def test_one_baseline_in_all_visits_makes_a_drift_less_sure() -> None:
    alone, shared = (trend(START, seen(0.9, 0.9, 1.0, u_common=u)) for u in (0.0, 0.8))
    assert shared.u > 1.3 * alone.u


def test_a_drift_is_said_falsely_in_few_of_many_still_posts() -> None:
    rng = np.random.default_rng(11)
    said = [
        trend(START, seen(*(0.3 * rng.normal() + 0.5 * rng.normal(size=3)), u_common=0.3)).said
        for _ in range(2000)
    ]
    # One-sided 0.95 on either side: one in ten of what is still.
    assert 0.08 < np.mean(said) < 0.12


@pytest.mark.parametrize("days", [(45,), (45, 45), (-3, 45)])
def test_a_trend_wants_three_visits_on_days_of_their_own(days: tuple[int, ...]) -> None:
    visits = [Seen(START + timedelta(days=d), 1.0, 0.5) for d in days]
    with pytest.raises(TrendError):
        trend(START, visits)


def at(text: str, zone: ZoneInfo = BERLIN) -> datetime:
    return datetime.fromisoformat(text).replace(tzinfo=zone)


SHORTER = Expected("client 7", DOWNSIZING, date(2026, 12, 18), date(2027, 1, 1))


def standing(now: datetime, *came: Came, zone: ZoneInfo = BERLIN) -> Due | None:
    found = due_list([SHORTER], came, now, zone)
    return found[0] if found else None


@pytest.mark.parametrize(
    ("now", "state", "days"),
    [
        ("2026-12-17T23:59", "not yet", -1),
        ("2026-12-18T00:00", "due", -14),
        ("2026-12-31T23:59", "due", -1),
        ("2027-01-01T12:00", "due", 0),
        ("2027-01-02T00:01", "overdue", 1),
        ("2027-01-29T12:00", "overdue", 28),
        ("2027-01-30T00:00", "silent", 29),
    ],
)
def test_a_visit_stands_by_the_day_at_the_studio_over_the_years_end(
    now: str, state: str, days: int
) -> None:
    found = standing(at(now))
    assert found is not None
    assert (found.state, found.days) == (state, days)


def test_midnight_elsewhere_moves_no_visit() -> None:
    moment = datetime(2027, 1, 1, 23, 30, tzinfo=UTC)  # the 2nd in Berlin and in Auckland
    assert standing(moment).state == "overdue"  # type: ignore[union-attr]
    assert due_list([SHORTER], (), moment, UTC)[0].state == "due"
    early = datetime(2026, 12, 17, 12, 0, tzinfo=UTC)  # the 18th in Auckland already
    assert standing(early, zone=AUCKLAND).state == "due"  # type: ignore[union-attr]
    assert standing(early).state == "not yet"  # type: ignore[union-attr]


@pytest.mark.parametrize("first", [date(2026, 3, 28), date(2026, 10, 24)])
def test_a_change_of_the_clocks_takes_and_adds_no_day(first: date) -> None:
    """In Berlin the night after has 23 hours in March and 25 in October (2026-03-29, -10-25)."""
    visit = Expected("c", "look", first, first + timedelta(days=2))
    for days, hour in ((0, 0), (1, 0), (1, 23), (2, 23)):
        now = datetime.combine(first + timedelta(days=days), datetime.min.time()).replace(
            hour=hour, tzinfo=BERLIN
        )
        found = due_list([visit], (), now, BERLIN)[0]
        assert (found.state, found.days) == ("due", days - 2)


def test_who_came_is_off_the_list_and_a_word_is_no_visit() -> None:
    late = at("2027-02-10T12:00")
    assert standing(late, Came("client 7", at("2026-12-20T10:00"))) is None
    assert standing(late, Came("client 7", at("2026-12-01T10:00"))) is not None
    assert standing(late, Came("client 7", at("2027-01-20T10:00"), "visit.check")) is not None
    wrote = Came("client 7", at("2027-01-20T10:00"), word_only=True)
    assert standing(late).state == "silent"  # type: ignore[union-attr]
    assert standing(late, wrote).state == "overdue"  # type: ignore[union-attr]


def test_the_list_is_the_plans_and_the_most_pressing_comes_first() -> None:
    plan = plan_from(date(2026, 11, 26))
    visits = [*expected_from("c1", plan), *expected_from("c2", plan_from(date(2026, 9, 1)))]
    found = due_list(visits, (), at("2026-12-20T09:00"), BERLIN)
    assert [d.state for d in found] == sorted(
        (d.state for d in found), key=["silent", "overdue", "due", "not yet"].index
    )
    assert found[0].visit.who == "c2"


@PRACTICE
def test_what_is_still_swollen_is_due_later() -> None:
    plan = plan_from(date(2026, 11, 20))
    later = still_swollen(plan, date(2026, 12, 30))
    visit = next(v for v in expected_from("c", later) if v.name == DOWNSIZING)
    assert visit.last > date(2027, 1, 1)


def test_times_without_a_zone_are_refused() -> None:
    naive = datetime(2026, 12, 20, 9, 0)
    with pytest.raises(ValueError, match="time zone"):
        Came("c", naive)
    with pytest.raises(ValueError, match="time zone"):
        due_list([SHORTER], (), naive, BERLIN)


def test_a_reminder_names_who_what_and_by_when() -> None:
    found = standing(at("2027-01-02T09:00"))
    assert found is not None
    assert reminder(found, "shorter post") == (
        "client 7: shorter post, 18 December 2026 to 1 January 2027. Overdue by 1 day."
    )


def followed(outcome: str, channel: float = 7.0, criteria: str = "house 1") -> Followed:
    by = "a clinic" if outcome.startswith("infection") else ""
    return Followed("A", outcome, START, (("channel", channel),), criteria, by)  # type: ignore[arg-type]


def test_outcomes_are_counted_under_their_own_limits_with_what_few_cases_tell() -> None:
    cases = [
        *(followed("healed", 6.0 + i) for i in range(3)),
        followed("rejected", 4.6),
        followed("infection seen by a clinician"),
        followed("lost from sight"),
        followed("healed", criteria="house 2"),
    ]
    first, second = outcomes(cases)
    assert (first.criteria, second.criteria) == ("house 1", "house 2")
    assert (first.known, first.lost.count, first.lost.of) == (5, 1, 6)
    healed = next(s for s in first.shares if s.outcome == "healed")
    assert (healed.count, healed.of) == (3, 5)
    assert healed.low < 0.6 < healed.high
    assert dict(first.measured)["healed"][0].middle == 7.0
    said = " ".join(outcome_sentences(first))
    assert "So few cases say little" in said
    assert "turned away others" in said
    assert "can't say whether the limits are right" in said


def test_nobody_but_a_clinician_sees_an_infection() -> None:
    with pytest.raises(OutcomeError, match="clinician"):
        Followed("A", "infection seen by a clinician", START, (), "house 1")


def test_all_lost_leaves_no_share() -> None:
    (found,) = outcomes([followed("lost from sight")])
    assert found.shares == ()
    assert found.few
