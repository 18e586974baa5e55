"""Questions on the client's days: trips, rules, sleep, and what comes near the ear."""

from __future__ import annotations

from assess.talk.outcome import Answer, Outcome, Question
from assess.talk.sentences import PRACTICE, Sentence

NO, YES = "No", "Yes"

TRIP = Question(
    "ask.trip",
    "Is a trip or swimming ahead in the next three months?",
    "Strange surroundings, pools and stress make healing harder; after the trip or the season is "
    "better.",
    PRACTICE,
    (
        Answer("none", NO),
        Answer(
            "trip",
            "A trip",
            Outcome.WAIT,
            Sentence(
                "ask.trip.trip.says",
                "It is better to wait until after your trip.",
                "Away from home it is hard to keep it clean, and the piercer is far.",
            ),
            dated=True,
        ),
        Answer(
            "swim",
            "Swimming: pool, lake or sea",
            Outcome.WAIT,
            Sentence(
                "ask.trip.swim.says",
                "It is better to wait until the swimming is over.",
                "That water isn't yours to keep clean.",
            ),
            dated=True,
        ),
    ),
)

RULES = Question(
    "ask.rules",
    "Does sport, stage, work or school have rules on jewellery?",
    "A post that must come and go while it heals doesn't heal.",
    PRACTICE,
    (
        Answer("none", NO),
        Answer("allowed", "It may stay in, in writing"),
        Answer(
            "unknown",
            "Not sure",
            Outcome.WAIT,
            Sentence(
                "ask.rules.unknown.says",
                "First get the rule in writing from whoever sets it.",
                "What somebody remembers of a rule isn't the rule.",
            ),
        ),
        Answer(
            "never",
            "No jewellery allowed",
            Outcome.WAIT,
            Sentence(
                "ask.rules.never.says",
                "Wait until a time when it can stay in without a break.",
                "Jewellery stays where it is from the first day until it has healed.",
            ),
            dated=True,
        ),
    ),
)

SLEEP = Question(
    "ask.sleep",
    "Which side do you sleep on?",
    "An ear that is pressed for hours each night stays sore.",
    PRACTICE,
    (
        Answer("free", "The other side, or the back"),
        Answer(
            "turns",
            "Both sides",
            Outcome.GO_ON,
            Sentence(
                "ask.sleep.turns.says",
                "A ring-shaped pillow keeps the ear free when you turn.",
                "The ear lies in the hole, and nothing presses it.",
            ),
        ),
        Answer(
            "same",
            "The side of this ear",
            Outcome.PIERCER,
            Sentence(
                "ask.sleep.same.says",
                "You sleep on this side: the piercer looks with you at the other ear or a pillow.",
                "The other ear may heal more easily.",
            ),
        ),
    ),
)

TOUCHES = Question(
    "ask.touches",
    "What touches this ear on most days?",
    "What rubs or hangs on a fresh post moves it.",
    PRACTICE,
    (
        Answer("none", "None of these", alone=True),
        Answer(
            "headset",
            "Headset or earphones",
            Outcome.PIERCER,
            Sentence(
                "ask.touches.headset.says",
                "A headset on this ear: the piercer looks where it presses.",
                "Some press the rim, some don't.",
            ),
        ),
        Answer(
            "helmet",
            "Helmet",
            Outcome.PIERCER,
            Sentence(
                "ask.touches.helmet.says",
                "A helmet goes over this ear: the piercer looks where it presses.",
                "A helmet must fit and stay on; so the place may have to differ, or wait.",
            ),
        ),
        Answer(
            "phone",
            "Phone",
            Outcome.GO_ON,
            Sentence(
                "ask.touches.phone.says",
                "Hold the phone to the other ear.",
                "A phone presses, and its glass isn't clean.",
            ),
        ),
        Answer(
            "mask",
            "Mask with loops",
            Outcome.GO_ON,
            Sentence(
                "ask.touches.mask.says",
                "A strap holder behind the head keeps mask loops off the ear.",
                "The loop pulls each time the mask goes on and off.",
            ),
        ),
        Answer(
            "glasses",
            "Glasses",
            Outcome.GO_ON,
            Sentence(
                "ask.touches.glasses.says",
                "Put glasses on and take them off with care.",
                "The arm passes close to the rim.",
            ),
        ),
        Answer(
            "band",
            "Hat, scarf or headband",
            Outcome.GO_ON,
            Sentence(
                "ask.touches.band.says",
                "Wear hats, scarves and headbands clear of this ear.",
                "Cloth catches on the ends.",
            ),
        ),
    ),
    several=True,
)

HAIR = Question(
    "ask.hair",
    "Is a hair appointment coming up?",
    "Colour, spray and combs near a fresh post sore it.",
    PRACTICE,
    (
        Answer("none", NO),
        Answer(
            "soon",
            YES,
            Outcome.PIERCER,
            Sentence(
                "ask.hair.soon.says",
                "A hair appointment is best before the piercing, or some weeks after it.",
                "Then neither comb nor colour meets a fresh post.",
            ),
        ),
    ),
)

DAILY_LIFE = (TRIP, RULES, SLEEP, TOUCHES, HAIR)
