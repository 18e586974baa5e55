"""Counts of outcomes and their intervals; a changed set of limits."""

from __future__ import annotations

from datetime import date

import pytest
from scipy.stats import binomtest

from assess.changed_criteria import STUDIO_BASIS, CriteriaError, changed_criteria
from assess.criteria import DEFAULT_CRITERIA, Criteria
from assess.insertion import RecordError
from assess.outcome_counts import Followed, OutcomeRecord, by_limits, counts, wilson
from assess.visit_words import channels_words, count_words


@pytest.mark.memory(source="Newcombe, Stat Med 17:857, 1998, Table I, method 3 (score interval)")
@pytest.mark.parametrize(
    ("count", "of", "low", "high"),
    [
        (81, 263, 0.2553, 0.3662),
        (15, 148, 0.0624, 0.1605),
        (0, 20, 0.0000, 0.1611),
        (1, 29, 0.0061, 0.1718),
    ],
)
def test_the_interval_of_a_share(count: int, of: int, low: float, high: float) -> None:
    assert wilson(count, of) == pytest.approx((low, high), abs=0.00005)  # half the last digit


@pytest.mark.parametrize(("count", "of"), [(0, 1), (1, 1), (3, 7), (50, 50), (200, 1000)])
def test_scipy_says_the_same(count: int, of: int) -> None:
    other = binomtest(count, of).proportion_ci(0.95, method="wilson")
    assert wilson(count, of) == pytest.approx((other.low, other.high), abs=1e-12)


def test_nobody_is_anything_from_none_to_all() -> None:
    assert wilson(0, 0) == (0.0, 1.0)
    with pytest.raises(ValueError, match="from 0 to 'of'"):
        wilson(3, 2)


def test_the_newest_ending_counts_and_what_happened_on_the_way() -> None:
    """Lost from sight, then back and healed; one had an infection and is healed all the same."""
    followed = [
        Followed(("lost", "healed"), "a", 6.0),
        Followed(("infection", "healed"), "a", 8.0),
        Followed(("removed",), "a", None),
        Followed((), "a", 5.0),
    ]
    found = {count.became: count for count in counts(followed)}
    assert {name: count.count for name, count in found.items()} == {
        "healed": 2,
        "removed": 1,
        "rejected": 0,
        "migrated": 0,
        "infection": 1,
        "lost": 0,
    }
    assert {count.of for count in found.values()} == {3}
    assert found["healed"].channels_mm == (6.0, 7.0, 8.0)
    assert channels_words(found["healed"]) == "6.0 to 8.0 mm, middle 7.0 mm"
    assert found["removed"].channels_mm is None
    assert count_words(found["healed"]) == "2 of 3, 21 to 94 % (95 % interval)"
    assert count_words(counts([])[0]) == "nothing noted yet"


def test_they_stand_under_the_limits_they_were_measured_by() -> None:
    a, b = Followed(("healed",), "a"), Followed(("lost",), "b")
    assert by_limits([a, b, a]) == {"a": (a, a), "b": (b,)}


def test_an_infection_is_a_clinician_s_word() -> None:
    with pytest.raises(RecordError, match="which clinician"):
        OutcomeRecord(1, "1", date(2031, 5, 1), "infection", "Kim Sample")
    with pytest.raises(RecordError, match="who notes it"):
        OutcomeRecord(1, "1", date(2031, 5, 1), "healed", " ")


def test_changed_limits_are_another_version() -> None:
    new = changed_criteria(DEFAULT_CRITERIA, {"channel": (5.0, 10.0), "relief": (3.0, None)}, 1)
    assert (new.name, new.version) == ("this studio's limits", "1")
    assert new.limits["channel"].low == 5.0
    assert new.limits["channel"].basis == STUDIO_BASIS
    assert new.limits["relief"] == DEFAULT_CRITERIA.limits["relief"]
    assert Criteria.from_dict(new.to_dict()) == new
    assert DEFAULT_CRITERIA.limits["channel"].low == 4.5


@pytest.mark.parametrize(
    ("sides", "said"),
    [
        ({}, "nothing was changed"),
        ({"channel": (4.5, 10.0)}, "nothing was changed"),
        ({"channel": (11.0, 10.0)}, "must lie under"),
        ({"channel": (-1.0, 10.0)}, "from 0 to 40"),
        ({"channel": (None, 10.0)}, "stays set"),
        ({"relief": (3.0, 9.0)}, "open"),
        ({"tissue": (1.0, 2.0)}, "is no limit"),
    ],
)
def test_limits_that_make_no_sense_are_refused(
    sides: dict[str, tuple[float | None, float | None]], said: str
) -> None:
    with pytest.raises(CriteriaError, match=said):
        changed_criteria(DEFAULT_CRITERIA, sides, 1)
