"""What the client does at home, and when it is time for a doctor: data, with reasons.

The jewellery stays in where something looks like an infection, unless a clinician says
otherwise: no sentence here, and none that a studio puts in its place, says anything else.
"""

from __future__ import annotations

from assess.talk.sentences import OWN, Basis, Sentence, caution

_NHS = Basis("published", "NHS, infected piercings, reviewed April 2020")
_DRUG = Basis(
    "published", "clinical page on 0.9 % saline: 9 g/L, 154 mmol/L of sodium and of chloride"
)
_BOTTLES = Basis(
    "published",
    "Keene et al., JAMA 291:981, 2004; Evans, Bolt et al., Euro Surveill 23(37), 2018",
)
_ONSET = Basis("published", "Brown et al., Epidemiol Infect 2025")
_HEALING = Basis(
    "practice",
    "common practice, no source; published sources disagree: Family Practice Notebook 6 to 8 "
    "weeks, Meltzer, American Family Physician 2005, 4 months to a year (from memory)",
)

WHEN = (
    caution(
        "care.downsize",
        "A shorter post goes in after {low} to {high} weeks. Let the piercer do it: they have "
        "the tools to keep the way open, and they see how it heals.",
        "A long post moves and catches; a way left empty closes within minutes.",
        en=("piercer", "weeks"),
        de=("Piercer", "Wochen"),
    ),
    caution(
        "care.swollen",
        "If it is still swollen then, we wait and look again.",
        "A short post on a swollen ear sinks in.",
        en=("swollen|swelling", "wait|later"),
        de=("geschwollen|Schwellung", "warten|später"),
    ),
    caution(
        "care.healing",
        "For some it heals in 8 to 12 weeks, for some in 3 to 6 months. It can take a year. "
        "No one can promise you a day. It hangs on how well you leave it alone.",
        "Sources disagree, and people differ: a range is all that is known.",
        _HEALING,
        en=(r"8.*12 weeks", r"3.*6 months", "year", "promise"),
        de=(r"8.*12 Wochen", r"3.*6 Monate", "Jahr", "versprechen|zusagen"),
    ),
)

CLEAN = (
    caution(
        "care.spray",
        "Clean it twice a day with a salt water spray. The label must say sterile. It must hold "
        "only sodium chloride (0.9\u00a0%) and water.",
        "Salt water as strong as the body's own, with nothing in it, does no harm.",
        _DRUG,
        en=("sterile", "sodium chloride", r"0\.9", "water", "only|nothing but|nothing else"),
        de=("steril", "Natriumchlorid", r"0,9", "Wasser", "nur|nichts als|sonst nichts"),
    ),
    Sentence(
        "care.bottle",
        "Small packs for one use are best. Never share a bottle.",
        "Outbreaks came from solutions in bottles that many used.",
        _BOTTLES,
    ),
    Sentence(
        "care.rinse",
        "When you finish your shower, hold your hair aside and rinse it. Soap washes out, and "
        "what has dried comes loose.",
        "Soap that stays sores the skin; what has dried is loosened without rubbing.",
    ),
    caution(
        "care.hands",
        "Wash your hands before you touch it.",
        "Hands carry what causes infection.",
        en=("hands", "wash|clean"),
        de=("Hände|Händen", "wasch|sauber"),
    ),
    Sentence(
        "care.linen",
        "Use clean bedding, clothes and towels.",
        "They lie against it for hours.",
    ),
    caution(
        "care.mouth",
        "Keep mouths and other people's body fluids away from it.",
        "They carry germs into an open wound.",
        en=("mouth|kiss|lick", "fluid"),
        de=("Mund|Münder|Küss", "flüssigkeit"),
    ),
    caution(
        "care.water",
        "Keep it out of water that is not yours to keep clean. Your own clean bath is fine. "
        "Pools, lakes and the sea are not.",
        "Others' germs, and those that live in water, get into an open wound.",
        en=("pool", "lake", "sea"),
        de=("becken|bad|Pool", "Seen|See ", "Meer"),
    ),
)

ALONE = (
    caution(
        "care.still",
        "Leave it still. Do not turn it: turning only makes it sore.",
        "Health pages differ on turning; the trade leaves it still.",
        en=("still|alone", "turn"),
        de=("Ruhe|ruhig", "dreh"),
    ),
    Sentence(
        "care.touches",
        "Keep phones, headsets, hats, scarves, headbands and bandages off it. Take care with "
        "mask loops, on and off: a strap holder behind the head helps.",
        "What rubs or hangs on it moves it.",
    ),
    Sentence(
        "care.wets",
        "Put wet hair up until it is dry. Keep hair spray and other sprays off.",
        "What stays wet stays soft, and what coats it sores it.",
    ),
    Sentence(
        "care.sleep",
        "Sleep on the other side or on your back. A ring-shaped pillow helps; put a clean cover "
        "on it each night.",
        "Pressure for hours keeps it swollen.",
    ),
    Sentence("care.pets", "Keep pets away from it.", "Fur, tongues and claws carry germs."),
    Sentence(
        "care.hair",
        "Free your hair from it before you brush. Tell your hairdresser.",
        "A hair that is caught pulls the whole post.",
    ),
    Sentence(
        "care.tight",
        "Check now and then that screwed ends are tight, with clean hands.",
        "Threads come loose by themselves, and an end that is lost lets the post slip.",
    ),
)

FEELS = (
    Sentence(
        "care.feels",
        "It is sharp and short. Then it is warm and throbs for some minutes. It is tender to "
        "touch for weeks. That is about average for the ear's rim; people differ.",
        "Who knows what comes isn't frightened by it.",
    ),
    Sentence(
        "care.normal",
        "Clear fluid that dries on it is normal.",
        "It is taken for pus by many.",
    ),
)

TROUBLE = (
    caution(
        "care.signs",
        "These are not normal: redness that spreads, heat, growing swelling, pus or fever. Get "
        "medical care the same day.",
        "Cartilage is lost for good. Who waited over five days was more often taken into "
        "hospital (Sosin et al., Laryngoscope 125:1827, 2015).",
        _NHS,
        en=(
            "redness|red skin",
            "heat|hot",
            "swelling|swollen",
            "pus",
            "fever",
            "medical|doctor|clinic|hospital",
            "same day|today|at once|right away",
        ),
        de=(
            "Röte|Rötung|rot",
            "Hitze|Wärme|heiß",
            "Schwellung|geschwollen",
            "Eiter",
            "Fieber",
            "ärztlich|Arzt|Ärztin|Klinik|Krankenhaus",
            "selben Tag|heute|sofort",
        ),
    ),
    caution(
        "care.sinks",
        "If an end sinks into the skin, come to us the same day for a longer post. If you can't "
        "reach us, get medical care the same day.",
        "Skin closes over a disc within days.",
        en=(
            "end|disc",
            "sink|sunk|skin",
            "medical|doctor|clinic|hospital",
            "same day|today|at once|right away",
        ),
        de=(
            "Ende|Scheibe|Platte",
            "sink|Haut",
            "ärztlich|Arzt|Ärztin|Klinik|Krankenhaus",
            "selben Tag|heute|sofort",
        ),
    ),
    caution(
        "care.stays",
        "Leave the jewellery in unless a doctor or nurse tells you otherwise.",
        "An empty way closes and shuts the infection in.",
        _NHS,
        en=(r"\b(leave|keep|stays?)\b.*\bin\b", "unless|until", "doctor|nurse|clinician|medical"),
        de=(
            r"(lassen|bleibt|bleiben)\b.*\b(drin|im|in)\b|\b(drin|im Ohr)\b.*(lassen|bleib)",
            "außer|solange|bis ",
            "Arzt|Ärztin|ärztlich|Pfleg|Fachkr",
        ),
    ),
    Sentence(
        "care.onset",
        "It can start two to four weeks later, so keep looking at it.",
        "That is when such infections mostly begin.",
        _ONSET,
    ),
)

DECIDES = caution(
    "care.decides",
    "The piercer who looked at your ear decides. The numbers are no proof that it will heal. "
    "This sheet is not medical advice.",
    "A number on paper looks surer than it is.",
    OWN,
    en=("piercer", "decide", "heal", "medical"),
    de=("Piercer", "entscheide", "heil", "medizinisch|ärztlich"),
)

CARE: tuple[tuple[str, tuple[Sentence, ...]], ...] = (
    ("label.when", WHEN),
    ("label.clean", CLEAN),
    ("label.alone", ALONE),
    ("label.feels", FEELS),
    ("label.trouble", TROUBLE),
)
"""The sections of the client's sheet, each with the name of its heading."""

SENTENCES: tuple[Sentence, ...] = (DECIDES, *(s for _, section in CARE for s in section))
CAUTIONS: tuple[Sentence, ...] = tuple(s for s in SENTENCES if s.caution)
