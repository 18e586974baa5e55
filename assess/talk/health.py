"""Questions on health.  No answer is ever judged: it leads to the piercer and to licensed care.

What is said then is printed on a sheet that lies about, so it names no condition.
"""

from __future__ import annotations

from assess.talk.outcome import Answer, Outcome, Question
from assess.talk.sentences import PRACTICE, Basis, Sentence

_COUNCILS = Basis("memory", "councils' guidance for operators")
_AAP = Basis("second_hand", "Breuner, Levine, Pediatrics 140(4), 2017")
_KELOID = Basis("published", "Lane, Waller, Davis, Pediatrics 115:1312, 2005")
_HEART = Basis("published", "Dähnert et al., Z Kardiol 93:618, 2004")
_NICKEL = Basis("published", "REACH Annex XVII, entry 27, 1(a)")
_SCAN = Basis("published", "mrisafety.com, body jewellery")


def _doctor(name: str, text: str, why: str, basis: Basis = _COUNCILS) -> Answer:
    says = Sentence(
        f"ask.health.{name}.says",
        "Please ask your doctor first whether a piercing is right for you.",
        why,
        basis,
    )
    return Answer(name, text, Outcome.DOCTOR, says)


HEALED = Question(
    "ask.healed",
    "Did a wound or a piercing ever heal badly?",
    "What went wrong once can go wrong again; the piercer wants to see it.",
    PRACTICE,
    (
        Answer("none", "No", alone=True),
        Answer(
            "slow",
            "Healed badly, or grew out",
            Outcome.PIERCER,
            Sentence(
                "ask.healed.slow.says",
                "The piercer looks with you at how you healed before.",
                "The place and the jewellery may have been the cause.",
            ),
        ),
        Answer(
            "scar",
            "Raised scars, mine",
            Outcome.DOCTOR,
            Sentence(
                "ask.healed.scar.says",
                "Please ask your doctor first whether a piercing is right for you.",
                "Who forms keloids is advised against piercing.",
                _AAP,
            ),
        ),
        Answer(
            "family",
            "Raised scars in the family",
            Outcome.PIERCER,
            Sentence(
                "ask.healed.family.says",
                "Think it over once more, and ask your doctor if you are unsure.",
                "With a family history of keloids it is worth considering not to pierce.",
                _KELOID,
            ),
        ),
    ),
    several=True,
    health=True,
)

ALLERGY = Question(
    "ask.allergy",
    "Are you allergic to metal or latex?",
    "The material of the post and of the gloves can be chosen.",
    _COUNCILS,
    (
        Answer("none", "No", alone=True),
        Answer(
            "metal",
            "Metal",
            Outcome.PIERCER,
            Sentence(
                "ask.allergy.metal.says",
                "The piercer chooses the material of the post with you.",
                "Posts in pierced parts may give off under 0.2 µg of nickel per cm² and week.",
                _NICKEL,
            ),
        ),
        Answer(
            "latex",
            "Latex",
            Outcome.PIERCER,
            Sentence(
                "ask.allergy.latex.says",
                "The piercer chooses the gloves to suit you.",
                "Gloves without latex are common.",
            ),
        ),
    ),
    several=True,
    health=True,
)

HEALTH = Question(
    "ask.health",
    "Does any of these apply to you?",
    "These can change bleeding, healing or infection. The studio doesn't judge them.",
    _COUNCILS,
    (
        Answer("none", "None of these", alone=True),
        _doctor("bleeding", "Bleeding, or blood-thinning medicine", "Bleeding is harder to stop."),
        _doctor("diabetes", "Diabetes", "Healing and infection can differ."),
        _doctor("heart", "Heart", "An infection of the blood can reach a heart valve.", _HEART),
        _doctor(
            "immunity", "Weak immunity, or medicine for it", "Such medicine hinders healing.", _AAP
        ),
        _doctor("epilepsy", "Epilepsy", "Stress and pain can matter."),
        Answer(
            "fainting",
            "Fainting",
            Outcome.PIERCER,
            Sentence(
                "ask.health.fainting.says",
                "Lie down for the piercing.",
                "Who lies can't fall.",
                _COUNCILS,
            ),
        ),
        _doctor("skin", "Skin trouble at this place", "Skin that isn't sound heals differently."),
        _doctor("pregnant", "Pregnancy", "Your body has other work, and medicines are limited."),
        Answer(
            "private",
            "I'd rather not say",
            Outcome.PIERCER,
            Sentence(
                "ask.health.private.says",
                "If you are unsure about your health, please ask your doctor first.",
                "Health is the client's own; the advice holds unasked.",
                PRACTICE,
            ),
            alone=True,
        ),
    ),
    several=True,
    health=True,
)

SCAN = Question(
    "ask.scan",
    "Is an MRI scan or an operation planned?",
    "Metal has no place in the scanner, and a fresh post can't come and go.",
    _SCAN,
    (
        Answer("none", "No"),
        Answer(
            "planned",
            "Yes",
            Outcome.WAIT,
            Sentence(
                "ask.scan.planned.says",
                "Wait until what is planned is over, and ask the clinic when.",
                "The clinic knows what it needs.",
                _SCAN,
            ),
            dated=True,
        ),
    ),
    health=True,
)

SOBER = Question(
    "ask.sober",
    "Alcohol or drugs today?",
    "Who isn't sober can't agree, and may bleed more.",
    PRACTICE,
    (
        Answer("none", "No"),
        Answer(
            "today",
            "Yes",
            Outcome.WAIT,
            Sentence(
                "ask.sober.today.says",
                "Come on another day.",
                "Nobody can agree to it today.",
            ),
        ),
    ),
    health=True,
)

ON_HEALTH = (HEALED, ALLERGY, HEALTH, SCAN, SOBER)
