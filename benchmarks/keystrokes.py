"""How long the hands of a practised piercer are busy with a one-photo assessment, as a model.

``python -m benchmarks.keystrokes`` prints the sums and tables of ``docs/keystrokes.md``, which
says what is counted and what is left out.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable
from dataclasses import dataclass

OPERATORS_S = {"M": 1.35, "P": 1.10, "H": 0.40, "K": 0.20, "T": 0.28}
"""Seconds: think, point, hand to the device, press, and a key of the keyboard on the screen."""

TAP = "PK"
DRAG = "PKP"
"""A swipe or a pinch: point, press, point to where it ends.  None is needed any more."""

AIM_S = 60.0
REST_S = 1.5
"""How long a hand rests before the marking asks for the other contour by itself (its REST_MS)."""
HAND_TAPS, FEWEST_TAPS, HELPED_TAPS = 14, 5, 3
"""Taps of a contour: as in the sample's marks, as few as a test uses, and to start a proposal."""


INNER_COMES = "it is asked for after a rest"


@dataclass(frozen=True)
class Step:
    """One thing that is done, with the operators it takes by hand and with help."""

    station: str
    does: str
    by_hand: str
    helped: str


def same(station: str, does: str, operators: str) -> Step:
    """Return a step that help doesn't change."""
    return Step(station, does, operators, operators)


def contour(name: str, taps: int) -> Step:
    """Return the step of one contour: taps all along it, or the few that bring a proposal."""
    return Step(
        "Marks",
        f"{name}: {taps} taps; with help {HELPED_TAPS}",
        "M" + taps * TAP,
        "M" + HELPED_TAPS * TAP,
    )


def steps(taps: int = HAND_TAPS) -> list[Step]:
    """Return the steps in their order, with that many taps a contour by hand."""
    return [
        same("Start", "Hands to the tablet; find the client; tap that client's ear", "HMM" + TAP),
        same("Photos", "Tap “Upload”", "M" + TAP),
        same("Photos", "Find the photo in the system's dialog, tap it", "M" + TAP),
        same("Photos", "Confirm it there", TAP),
        same("Photos", "Look at what its card says", "M"),
        same("Photos", "Tap “Go on to the marks”", TAP),
        contour("Outer rim", taps),
        Step("Marks", f"Choose “Inner rim”; with help {INNER_COMES}", TAP, ""),
        contour("Inner rim", taps),
        Step("Marks", "Look at both proposed lines; accept both", "", "MM" + TAP),
        Step("Marks", "Choose “Entry”; with help it is asked for by itself", TAP, ""),
        same("Marks", "Tap the entry", "M" + TAP),
        same("Marks", "Tap the exit", "M" + TAP),
        same("Marks", "Say that it is the visible edge", "M" + TAP),
        same("Marks", "Tap the next structure below", "M" + TAP),
        same("Marks", "Read the live line", "M"),
        same("Hands and calipers", "Hands back to the tablet; “Hands and calipers”", "H" + TAP),
        same("Hands and calipers", "Tap what the tissue is like", "M" + TAP),
        same("Hands and calipers", "Fold depth: its field, three keys", "M" + TAP + "TTT"),
        same("Hands and calipers", "Relief: Enter goes to its field; three keys", "MT" + "TTT"),
        same("Sign", "Tap “Go on to answer and sign”", TAP),
        same("Sign", "Read the answer in short: its sentence, the posts", "MM"),
        same("Sign", "Tap “I examined this ear myself, and I decide”", "M" + TAP),
        same("Sign", "Tap “Save the assessment”", TAP),
    ]


TALK_AIM_S = 120.0
CHOOSE_DAY = "M" + TAP + "M" + 3 * TAP
"""A day three months ahead at most: its field, on by two months, the day."""


def talk_steps(telling: bool) -> list[Step]:
    """Return the steps of age, consent and every question.

    Parameters
    ----------
    telling : every question has something to tell; else the client says no to all
    """
    many = [("touches the ear", 6), ("healed badly", 3), ("allergies", 2), ("health", 8)]
    single = ["rules on jewellery", "side to sleep on", "hair appointment", "MRI or operation"]
    counted = [
        same("Talk", "Hands to the tablet; tap “Talk”", "HM" + TAP),
        same("Talk", "Tap the age; tick the identity paper; go on", "M" + TAP + "M" + TAP + TAP),
        same("Talk", "Trip or swimming: tap the answer", "M" + TAP),
    ]
    if telling:
        days = CHOOSE_DAY + CHOOSE_DAY + TAP + TAP
        counted.append(same("Talk", "Its first and last day; add them; next", days))
    dated = {"rules on jewellery", "MRI or operation"} if telling else set()
    for name in single:
        until = CHOOSE_DAY + TAP if name in dated else ""
        counted.append(same("Talk", f"{name.capitalize()}: tap the answer", "M" + TAP + until))
    for name, count in many:
        taps = "M" + count * TAP + TAP if telling else "M" + TAP
        words = f"all {count}, next" if telling else "none"
        counted.append(same("Talk", f"{name.capitalize()}: {words}", taps))
    return [*counted, same("Talk", "Alcohol or drugs today: tap the answer", "M" + TAP)]


def talk_table() -> str:
    """Return how long the talk takes where nothing is to tell, and where everything is."""
    lines = ["| the talk | operators | s |", "| --- | --- | --- |"]
    for words, telling in (("no to everything", False), ("something to tell each time", True)):
        counted = talk_steps(telling)
        row = "".join(step.helped for step in counted)
        counts = ", ".join(f"{row.count(each)} {each}" for each in OPERATORS_S if each in row)
        lines.append(f"| {words} | {counts} | {total(counted, helped):.1f} |")
    return "\n".join(lines)


def by_hand(step: Step) -> str:
    """Return a step's operators where every mark is made by hand."""
    return step.by_hand


def helped(step: Step) -> str:
    """Return a step's operators where contours are proposed and dots snapped."""
    return step.helped


Way = Callable[[Step], str]


def seconds(operators: str) -> float:
    """Return how long a row of operators takes, s."""
    return sum(OPERATORS_S[each] for each in operators)


def total(counted: Iterable[Step], way: Way) -> float:
    """Return how long steps take one way, s."""
    return sum(seconds(way(step)) for step in counted)


def short(operators: str) -> str:
    """Return a row of operators with a row of taps drawn together: ``M 14(P K)``."""
    count = operators.count(TAP)
    if count > 1 and operators in (count * TAP, "M" + count * TAP):
        return f"{operators[: -2 * count]} {count}(P K)".strip()
    return " ".join(operators) or "none"


def step_table(counted: list[Step]) -> str:
    """Return every step with its operators and seconds both ways, and the sums."""
    lines = [
        "| station | step | by hand | s | with help | s |",
        "| --- | --- | --- | --- | --- | --- |",
    ]
    for step in counted:
        now, then = step.by_hand, step.helped
        lines.append(
            f"| {step.station} | {step.does} | {short(now)} | {seconds(now):.2f} "
            f"| {short(then)} | {seconds(then):.2f} |"
        )
    sums = total(counted, by_hand), total(counted, helped)
    lines.append(f"| | **sum** | | **{sums[0]:.1f}** | | **{sums[1]:.1f}** |")
    return "\n".join(lines)


def shares_table(counted: list[Step]) -> str:
    """Return where the time goes, by station and by operator."""
    lines = ["| where | by hand, s | with help, s |", "| --- | --- | --- |"]
    for station in dict.fromkeys(step.station for step in counted):
        there = [step for step in counted if step.station == station]
        lines.append(f"| {station} | {total(there, by_hand):.1f} | {total(there, helped):.1f} |")
    for operator, each_s in OPERATORS_S.items():
        counts = [sum(way(step).count(operator) for step in counted) for way in (by_hand, helped)]
        spent = " | ".join(f"{count} x {each_s:.2f} = {count * each_s:.1f}" for count in counts)
        lines.append(f"| {operator} | {spent} |")
    return "\n".join(lines)


def thoughtful(counted: list[Step]) -> list[Step]:
    """Return the steps with a thought before every tap of a contour, not once for each."""

    def slower(operators: str) -> str:
        return operators.replace("M" + TAP, TAP).replace(TAP, "M" + TAP)

    return [
        Step(s.station, s.does, slower(s.by_hand), slower(s.helped)) if "rim: " in s.does else s
        for s in counted
    ]


def without(counted: list[Step], *words: str) -> list[Step]:
    """Return the steps in which none of these words stands."""
    return [s for s in counted if not any(w in f"{s.station} {s.does}" for w in words)]


def variants() -> dict[str, list[Step]]:
    """Return other counts of the same work, each under what is different in it."""
    usual = steps()
    dialog = ("“Upload”", "dialog", "Confirm")
    typed = "M" + TAP + 10 * "T" + TAP
    sign = next(i for i, step in enumerate(usual) if step.station == "Sign")
    whole = [
        same("Answer", "Tap “Answer” in the strip", "M" + TAP),
        same("Answer", "Read the sentence, the rules, the posts", "MMM"),
        same("Answer", "Tap “Go on to sign”", TAP),
    ]
    near = same("Marks", "Pinch, to see the rim from nearer", "M" + DRAG)
    mended = same("Marks", "Choose a proposed line; one more tap on it", "MPK" + "MPK")
    marks = usual.index(contour("Outer rim", HAND_TAPS))
    accepted = next(i for i, step in enumerate(usual) if "accept both" in step.does)
    picked = [same(s.station, s.does, s.by_hand) if INNER_COMES in s.does else s for s in usual]
    return {
        "as above": usual,
        f"{FEWEST_TAPS} taps a contour by hand": steps(FEWEST_TAPS),
        "a thought before every tap of a contour": thoughtful(usual),
        "a new client, a name of ten letters": [
            same("Start", "Tap the name's field, type, tap “Create the client”", "H" + typed),
            same("Client", "Tap the ear", "M" + TAP),
            *usual[1:],
        ],
        "the whole answer is read as well": [*usual[:sign], *whole, *usual[sign + 1 :]],
        "the photo is pinched nearer once": [*usual[:marks], near, *usual[marks:]],
        "one proposed line is mended by a tap": [*usual[:accepted], mended, *usual[accepted:]],
        "the photo is there already": without(usual, *dialog),
        "“Inner rim” is tapped, not waited for": picked,
        "no hands and calipers": without(usual, "calipers"),
        "the marks alone": [s for s in usual if s.station == "Marks"],
    }


def variants_table() -> str:
    """Return the sums of the other counts, and how far each is from the aim."""
    lines = ["| count | by hand, s | with help, s |", "| --- | --- | --- |"]
    for name, counted in variants().items():
        sums = " | ".join(f"{total(counted, way):.1f}" for way in (by_hand, helped))
        lines.append(f"| {name} | {sums} |")
    return "\n".join(lines)


def summary() -> str:
    """Return the sums against the aim, and how much of them the marks are."""
    said = []
    for words, way in (("By hand", by_hand), ("With help", helped)):
        spent_s, marks_s = total(steps(), way), total(variants()["the marks alone"], way)
        far = spent_s - AIM_S
        aim = f"{far:.1f} s over" if far > 0 else f"{-far:.1f} s under"
        said.append(
            f"{words} the model gives {spent_s:.1f} s, {aim} the aim of {AIM_S:.0f} s; "
            f"{marks_s:.1f} s of them go into the marks."
        )
    return "\n".join(said)


def operators_table() -> str:
    """Return the operators with their seconds."""
    words = {
        "M": "think what comes next, find it",
        "P": "point: the hand goes to a place on the screen",
        "H": "the hands come to the tablet",
        "K": "press, once the finger is there",
        "T": "a key on the screen's keyboard (K of a slower typist, its pointing included)",
    }
    lines = ["| operator | what | s |", "| --- | --- | --- |"]
    return "\n".join([*lines, *(f"| {n} | {words[n]} | {s:.2f} |" for n, s in OPERATORS_S.items())])


def tables() -> list[str]:
    """Return what the document takes from here, in its order."""
    return [
        summary(),
        operators_table(),
        step_table(steps()),
        shares_table(steps()),
        variants_table(),
        talk_table(),
    ]


if __name__ == "__main__":
    print("\n\n".join(tables()))
