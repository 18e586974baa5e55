"""Which step would settle an undecided verdict: each step's chance, foreseen; the best first."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from assess.channel import Channel
from assess.foresee import Belief, foresee, global_risks
from assess.steps import Circumstances, Step, open_steps
from assess.verdict import Decision, Reason, ruled
from calibration.frames import Array

TIE = 0.05
"""Chances this near are called equal, and the cheaper step comes first: more would be said
than first-order budgets and rough minutes can carry."""


@dataclass(frozen=True, slots=True)
class Outlook:
    """What a step promises.

    ``chance_of_definite`` is the chance that the verdict is then a yes or a no;
    ``expected_probability`` the mean of max(P, 1 - P), P being the joint probability then;
    ``risk_wrong_yes`` and ``risk_wrong_no`` the chance that it ends in a yes, or no, that is
    wrong.  All None for a criterion that isn't measured yet.  ``rest_holds``: other criteria
    aren't measured, and the figures take them to hold.
    """

    step: Step
    rest_holds: bool = False
    chance_of_definite: float | None = None
    expected_probability: float | None = None
    risk_wrong_yes: float | None = None
    risk_wrong_no: float | None = None

    @property
    def helps(self) -> bool:
        """Return whether the step is needed anyhow, or has a chance worth naming."""
        return self.chance_of_definite is None or self.chance_of_definite >= 0.01


def settle(decision: Decision, channel: Channel | None, how: Circumstances) -> list[Outlook]:
    """Return the steps that could settle an undecided verdict, the best first.

    What isn't measured comes first: without it no yes is possible.  Nothing settles what is
    undecided because the tissue is soft.
    """
    soft = any(reason.found == "soft" for reason in decision.reasons)
    if decision.verdict != "undecided" or soft:
        return []
    steps = open_steps(decision, channel, how)
    needed = [Outlook(step) for step in steps if step.quantity is None]
    readings = [step for step in steps if step.quantity is not None]
    measured = [r for r in decision.reasons if r.draws is not None and r.limit is not None]
    beliefs: dict[int, Belief] = {}  # steps with the photo share their quantity
    for step in readings:
        if step.quantity is not None and id(step.quantity) not in beliefs:
            beliefs[id(step.quantity)] = Belief.of(step.quantity, _features(measured, decision))
    foreseen = [_outlook(step, beliefs[id(step.quantity)], measured, decision) for step in readings]
    return needed + _ranked(foreseen)


def _features(measured: Sequence[Reason], decision: Decision) -> Array:
    """Return per draw whether all hold and each holds; with guard bands its value and square too.

    Returns
    -------
    (M, 1 + C) or (M, 1 + 3 C) array
    """
    holds = [r.limit.contains(r.draws) for r in measured if r.limit is not None]
    columns = [np.logical_and.reduce(holds), *holds]
    if decision.rule.guard_factor > 0.0:
        values = [r.draws for r in measured if r.draws is not None]
        columns += [*values, *(value**2 for value in values)]
    return np.stack(columns, axis=-1).astype(np.float64)


def _outlook(step: Step, belief: Belief, measured: Sequence[Reason], decision: Decision) -> Outlook:
    if step.u_mm is None:
        raise ValueError(f"{step.name!r} reads nothing that is known today")
    then = foresee(belief, step.u_mm)
    count = len(measured)
    joint, single = then.means[:, 0], then.means[:, 1 : 1 + count]
    value = u = np.zeros_like(single)
    if decision.rule.guard_factor > 0.0:
        value, square = then.means[:, 1 + count : 1 + 2 * count], then.means[:, 1 + 2 * count :]
        u = np.sqrt(np.maximum(square - value**2, 0.0))
    limits = [r.limit for r in measured if r.limit is not None]
    yes, no = ruled(joint, single, value, u, limits, decision.rule)
    risks = global_risks(then.chance, joint, yes, no)
    return Outlook(
        step,
        not decision.complete,
        min(float(then.chance @ (yes | no)), 1.0),
        min(float(then.chance @ np.maximum(joint, 1.0 - joint)), 1.0),
        risks.wrong_yes,
        risks.wrong_no,
    )


def _ranked(outlooks: Sequence[Outlook]) -> list[Outlook]:
    """Return the outlooks by chance, the cheaper first among those that are as good as equal."""
    left, ranked = list(outlooks), []
    while left:
        best = max(_promise(each) for each in left)
        equal = [each for each in left if _promise(each) >= best - TIE]
        first = min(equal, key=lambda each: (each.step.minutes, -_promise(each), each.step.name))
        ranked.append(first)
        left.remove(first)
    return ranked


def _promise(outlook: Outlook) -> float:
    """Return the chance of a yes or no; where none has any, how near one the step comes."""
    chance, expected = outlook.chance_of_definite or 0.0, outlook.expected_probability or 0.0
    return chance if chance >= 0.01 else 0.01 * expected
