"""What is said of plans, ends, worn things and later jewellery."""

from dataclasses import replace
from datetime import date
from typing import get_args

import numpy as np

from assess.criteria import DEFAULT_CRITERIA, Limit
from assess.ends import End, Unsuitable
from assess.grouping import Rim, propose
from assess.how_many import how_many
from assess.insertion import Again, NotHere
from assess.later import Piece, bounds, would_fit
from assess.plan import Difference, Moved, Plan, Planned, lay
from assess.plan_words import (
    AGAIN_WORDS,
    clearance_sentence,
    difference_sentence,
    layout_sentence,
    measure_again_sentence,
    moved_sentence,
    not_here_sentence,
    number_sentence,
    together_sentence,
)
from assess.spacing import Laid, Needs, clearances
from assess.together import planned_together
from assess.wear import Site, WornLine, wear_clearance
from assess.wear_words import (
    UNSUITABLE_WORDS,
    bounds_sentence,
    later_sentence,
    seat_sentence,
    unsuitable_sentence,
    wear_sentence,
    worn_post_sentence,
)
from assess.wording import IF_LIMITS_RIGHT
from assess.worn_post import worn_post
from calibration.draws import Draws
from tests.assess.rims import ring, view

DRAWS = Draws(1, 4000)
EVEN = Rim(ring(), view())
SHORT = Rim(ring(span=(1.3, 1.6)), view())
BALL, DISC = End("ball", 3.0, 3.0), End("disc", 4.0, 1.0)
CHANNEL = np.random.default_rng(1).normal(7.0, 0.3, 4000)


def test_how_many_says_the_number_its_chance_why_and_what_is_lacking() -> None:
    said = number_sentence(how_many(SHORT, DEFAULT_CRITERIA, DRAWS))
    assert said.startswith("By its contours this rim carries two posts together")
    assert IF_LIMITS_RIGHT in said
    assert "feel whether the rim is firm" in said
    assert "fold depth" in said
    soft = number_sentence(how_many(EVEN, DEFAULT_CRITERIA, DRAWS, tissue="soft"))
    assert "soft" in soft
    assert "not planned" in soft
    thin = Rim(ring((17.0, 22.0), (14.0, 19.0)), view())
    none = number_sentence(how_many(thin, DEFAULT_CRITERIA, DRAWS))
    assert none.startswith("By its contours this rim carries no post.")


def test_a_layout_and_one_that_has_no_room() -> None:
    three = layout_sentence(propose(EVEN, 3, "sight"))
    assert three == "Three posts, even to the eye, as seen in this photo. Drag any of them."
    wide = replace(SHORT, needs=Needs(Limit(14.5, None), 1.0))
    said = layout_sentence(propose(wide, 3))
    assert said == "Three posts have no place here that keeps every limit; one post would."


def test_distances_say_what_is_wanted_and_what_to_do() -> None:
    plan = Plan((Planned("A", 20.0), Planned("B", 24.0)))
    laid = lay(plan, EVEN.curve)
    assert isinstance(laid, Laid)
    tightest, *_, widest = clearances(laid, Needs())
    assert clearance_sentence(tightest).endswith("Move one of them.")
    assert "at least 6.0 mm is wanted" in clearance_sentence(tightest)
    kept = replace(widest, distance_mm=9.0)
    assert "Move" not in clearance_sentence(kept)


def test_together_names_the_least_certain_and_the_missing() -> None:
    close = EVEN.plan(np.array([20.0, 29.0]))
    said = together_sentence(
        planned_together(close, EVEN.curve, EVEN.view, DEFAULT_CRITERIA, DRAWS)
    )
    assert IF_LIMITS_RIGHT in said
    assert "Not measured: tissue, tissue beside the post." in said


def test_the_other_ear() -> None:
    plan = Plan((Planned("A", 20.0),))
    assert "highest place" in moved_sentence(Moved(plan, by_top=True))
    assert "mark both rims" in moved_sentence(Moved(plan, by_top=False))
    assert difference_sentence(Difference("A", 0.0, 0.0, 0.01)) == "A: as on the other ear."
    assert difference_sentence(Difference("B", -2.0, 3.2, 0.62)) == (
        "B: 2.0 mm further forward; leans 3 degrees more to the back; channel 0.6 mm longer."
    )
    assert "doesn't come out" in difference_sentence(Difference("C", 0.0, 0.0, None))


def test_every_reason_has_its_words() -> None:
    assert set(UNSUITABLE_WORDS) == set(get_args(Unsuitable))
    assert set(AGAIN_WORDS) == set(get_args(Again))
    assert unsuitable_sentence(()) == ""
    assert "no source" in unsuitable_sentence(("ring", "pointed end"))
    assert measure_again_sentence(()) == ""
    assert measure_again_sentence(("old", "dots drawn anew")) == (
        "Measure again before piercing: the assessment is not of today; the dots were drawn anew "
        "since."
    )


def test_ends_and_posts() -> None:
    assert seat_sentence("entry", 0.3, 4.0) == "Upper end: lies flush."
    assert seat_sentence("exit", 1.4, 20.4) == (
        "Lower end: the axis leans 20 degrees from square, so the far edge of a disc stands off by "
        "1.4 mm."
    )
    room = np.full(4000, 6.0)
    long = worn_post_sentence(worn_post("now", 12.7, CHANNEL, (BALL, DISC), room))
    assert "12.70 mm (1/2 in)" in long
    assert "arm outside is longer" in long
    assert "Room left below" in long
    short = worn_post_sentence(worn_post("downsized", 7.9375, CHANNEL, (DISC, DISC)))
    assert short.startswith("After downsizing")
    assert "arm" not in short


def test_worn_things() -> None:
    out = np.full(4000, 1.0)
    site = Site("A", np.array([60.0, 40.0]), np.array([60.0, 47.0]), (BALL, DISC), (out, out))

    def said(y: float) -> str:
        line = WornLine("glasses", np.array([[40.0, y], [80.0, y]]))
        return wear_sentence(wear_clearance(line, site, "now", DRAWS)[0])

    assert said(38.0) == "The glasses and the upper end of A, with the first post: touching."
    assert said(20.0).startswith(
        "The glasses and the upper end of A, with the first post: clear, 15.95 mm"
    )


def test_later_jewellery_says_what_it_rests_on() -> None:
    straight = would_fit(Piece("straight", 1.2, 7.9375), CHANNEL, None)
    assert straight is not None
    assert later_sentence(straight).startswith("Straight post, 7.94 mm (5/16 in): ")
    ring_ = would_fit(Piece("ring", 1.2, 10.0), CHANNEL, np.full(4000, 3.0))
    assert ring_ is not None
    assert "would not fit" in later_sentence(ring_)
    assert "by geometry" in later_sentence(ring_)
    assert "nothing can be said" in bounds_sentence(bounds(1.2, CHANNEL, None))
    assert "smallest ring" in bounds_sentence(bounds(1.2, CHANNEL, np.full(4000, 3.0)))


def test_not_here_is_said_kindly() -> None:
    kept = NotHere(date(2031, 5, 4), "P", ("rim too narrow",), ("flat of the ear",))
    assert not_here_sentence(kept) == (
        "This place isn't the one for it: rim too narrow. That says nothing against your ear. We "
        "talked about other places: flat of the ear."
    )
    assert "No other place" in not_here_sentence(replace(kept, elsewhere=()))
