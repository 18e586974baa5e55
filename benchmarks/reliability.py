"""How a probability and a verdict depend on the seed: ``python -m benchmarks.reliability``.

The same marks and readings are measured with many seeds.  A share of M independent draws has the
standard deviation sqrt(p (1 - p) / M); the joint probability's over the seeds is held against
it.  Limits are moved in small steps across both of the verdict's thresholds, and wherever the
verdict is not the same with every seed, the distance of its probability from the threshold is
noted.

``--file PIECE`` tries the client file's hardness instead: see :mod:`benchmarks.file_reliability`.
"""

from __future__ import annotations

import argparse
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from pathlib import Path

import numpy as np

from assess import relief as tissue_depth
from assess.channel import combine
from assess.criteria import DEFAULT_CRITERIA, DEFAULT_RULE, Criteria
from assess.marks import CaliperMarks, Marks
from assess.placing import axes_in
from assess.reading import PhotoReading
from assess.verdict import Decision, decide
from benchmarks.accuracy import marks_of, reading_of
from benchmarks.file_reliability import FULL, run
from benchmarks.stated import Case, World, draw_case
from benchmarks.tables import machine
from calibration.draws import Draws
from calibration.frames import Array

SEED = 20261129
DRAWS = 50_000
SEEDS = 100
POST_MM = 1.2
CHANNEL_MM = (6.0, 7.5)
"""Well within the default limits, so that moving one limit reaches every probability."""
PROBABILITIES = (0.02, 0.05, 0.2, 0.5, 0.8, 0.95, 0.99)
SWEEP_TO = 0.03
"""How far on each side of a threshold the limits are moved, in probability ..."""
SWEEP_STEPS = 9
CLOSE = 0.005
WITHIN = 0.20


@dataclass(frozen=True, slots=True)
class Situation:
    """One placement with everything that bears on it; ``moved`` is the limit that is moved."""

    name: str
    marks: Marks
    reading: PhotoReading
    moved: str


def situations(seed: int = SEED) -> list[Situation]:
    """Return one placement as photographed, by its edges, with calipers, and by calipers."""
    rng = np.random.default_rng(seed)
    case = next(c for c in (draw_case(rng, World()) for _ in range(100)) if _usual(c))
    away = (case.ends[1] - case.ends[0]) / case.length_mm
    below = case.scene.pixels((case.ends[1] + 6.0 * away)[None])[0]
    exact = case.scene.pixels(case.ends)
    marked = exact + case.sigma_px * rng.standard_normal(exact.shape)
    corners = case.scene.corners_px(rng), np.asarray(case.scene.corner_ids)
    reading = reading_of(case.scene, marked, corners)
    readings = CaliperMarks(relief_mm=4.2, u_relief_mm=0.3, fold_depth_mm=7.0, u_fold_depth_mm=0.25)
    both = readings.model_copy(update={"channel_mm": case.length_mm, "u_channel_mm": 0.3})

    def told(kind: str, caliper: CaliperMarks) -> Marks:
        plain = marks_of(case.scene, marked, case.sigma_px, kind)
        photo = plain.photos[0]
        point = (float(below[0]), float(below[1]))
        placement = photo.placements[0].model_copy(update={"below": point})
        photos = (photo.model_copy(update={"placements": (placement,)}),)
        return plain.model_copy(update={"photos": photos, "caliper": {"A": caliper}})

    dots, edges, joined = told("ends", readings), told("edges", readings), told("edges", both)
    return [
        Situation("dots seen, channel's least moved", dots, reading, "channel"),
        Situation("edges marked, channel's least moved", edges, reading, "channel"),
        Situation("edges and calipers, channel's least moved", joined, reading, "channel"),
        Situation("dots seen, relief's least moved", dots, reading, "relief"),
        Situation("edges marked, room below's least moved", edges, reading, "room_below"),
    ]


def _usual(case: Case) -> bool:
    low, high = CHANNEL_MM
    return low < case.length_mm < high


def evidence(situation: Situation, draws: Draws) -> dict[str, Array | None]:
    """Return what bears on the placement, as the measurement puts it before the verdict."""
    marks = situation.marks
    axis = axes_in(marks.photos[0], ["A"], marks, situation.reading, draws)["A"]
    caliper = marks.caliper["A"]
    channel = combine(axis, caliper, "A", draws)
    cover = tissue_depth.cover(caliper, POST_MM, "A", draws)
    return {
        "channel": channel.draws if channel else None,
        "relief": tissue_depth.relief(caliper, None, "A", draws),
        "cover_front": cover[0] if cover else None,
        "cover_behind": cover[1] if cover else None,
        "room_below": axis.room_below_mm,
    }


def with_least(criteria: Criteria, name: str, low: float) -> Criteria:
    """Return the criteria with another least value of one limit."""
    limit = replace(criteria.limits[name], low=low)
    return replace(criteria, limits={**criteria.limits, name: limit})


def least_for(values: Mapping[str, Array | None], moved: str, probabilities: Array) -> Array:
    """Return the least values that give those joint probabilities, (n,) mm.

    Parameters
    ----------
    values : the evidence
    moved : the limit that is moved
    probabilities : (n,) array, each under what the other limits leave
    """
    others = with_least(DEFAULT_CRITERIA, moved, -np.inf).limits
    kept = np.logical_and.reduce(
        [others[name].contains(found) for name, found in values.items() if found is not None]
    )
    own = values[moved]
    if own is None:
        raise ValueError(f"nothing bears on {moved!r}")
    inside = np.sort(own[kept])[::-1]
    at = np.clip(np.round(probabilities * len(own)).astype(int), 1, len(inside)) - 1
    return np.asarray(inside[at])


@dataclass(frozen=True, slots=True)
class Spread:
    """What many seeds say of one situation under one limit."""

    situation: str
    draws: int
    joint: Array  # (seeds,)
    verdicts: tuple[str, ...]
    nearest: float
    """Least distance of a mean probability from the threshold that it is held against."""

    @property
    def probability(self) -> float:
        """Return the mean joint probability."""
        return float(self.joint.mean())

    @property
    def expected_sd(self) -> float:
        """Return the standard deviation of a share of independent draws."""
        p = self.probability
        return float(np.sqrt(p * (1 - p) / self.draws))

    @property
    def ratio(self) -> float:
        """Return the standard deviation over the seeds over the expected one."""
        return float(self.joint.std(ddof=1) / self.expected_sd)

    @property
    def flips(self) -> bool:
        """Return whether the verdict is not the same with every seed."""
        return len(set(self.verdicts)) > 1


def _nearest(decisions: Sequence[Decision]) -> float:
    joint = np.mean([d.probability for d in decisions if d.probability is not None])
    single: dict[str, list[float]] = {}
    for decision in decisions:
        for reason in decision.reasons:
            if reason.probability is not None:
                single.setdefault(reason.criterion, []).append(reason.probability)
    gaps = [abs(float(joint) - DEFAULT_RULE.supports_from)]
    gaps += [abs(float(np.mean(found)) - DEFAULT_RULE.fails_to) for found in single.values()]
    return min(gaps)


def spreads(situation: Situation, wanted: Array, seeds: int, draws: int) -> list[Spread]:
    """Return what the seeds say for limits that give about the wanted probabilities."""
    least = least_for(evidence(situation, Draws(SEED, draws)), situation.moved, wanted)
    decisions: list[list[Decision]] = [[] for _ in least]
    for seed in range(1, seeds + 1):
        found = evidence(situation, Draws(seed, draws))
        for kept, low in zip(decisions, least, strict=True):
            criteria = with_least(DEFAULT_CRITERIA, situation.moved, float(low))
            kept.append(decide(found, "firm", criteria))
    return [
        Spread(
            situation.name,
            draws,
            np.array([d.probability for d in kept], dtype=np.float64),
            tuple(d.verdict for d in kept),
            _nearest(kept),
        )
        for kept in decisions
    ]


def _sweep() -> Array:
    step = np.linspace(-SWEEP_TO, SWEEP_TO, SWEEP_STEPS)
    return np.concatenate([DEFAULT_RULE.fails_to + step, DEFAULT_RULE.supports_from + step])


def reliability_table(seeds: int, draws: int) -> str:
    """Run everything and return the report."""
    lines = [
        "# How probability and verdict depend on the seed",
        "",
        f"`python -m benchmarks.reliability` ({machine()}). Each row measures the same marks and "
        f"readings with {seeds} seeds, {draws} draws each; one limit is set so that the joint "
        "probability comes near the wanted one. Expected is sqrt(p (1 - p) / M); from "
        f"{seeds} seeds its ratio to what is found scatters by "
        f"{100 / np.sqrt(2 * (seeds - 1)):.0f} % (sd) even where both are the same.",
        "",
        "| situation | probability | sd over the seeds | expected | ratio | verdicts |",
        "| --- | ---: | ---: | ---: | ---: | --- |",
    ]
    told, swept = [], []
    for situation in situations():
        told += spreads(situation, np.array(PROBABILITIES), seeds, draws)
        swept += spreads(situation, _sweep(), seeds, draws)
    for s in told:
        counts = ", ".join(f"{v} {s.verdicts.count(v)}" for v in sorted(set(s.verdicts)))
        lines.append(
            f"| {s.situation} | {s.probability:.4f} | {s.joint.std(ddof=1):.5f} | "
            f"{s.expected_sd:.5f} | {s.ratio:.2f} | {counts} |"
        )
    outside = [s for s in told if abs(s.ratio - 1) > WITHIN]
    flipped = [s for s in [*told, *swept] if s.flips]
    far = [s for s in flipped if s.nearest > CLOSE]
    worst = max((s.nearest for s in flipped), default=0.0)
    lines += [
        "",
        f"Further off than {100 * WITHIN:.0f} % of the expected: {len(outside)} of {len(told)}. "
        f"Over {len(told) + len(swept)} limits, most within {SWEEP_TO:g} of a threshold, the "
        f"verdict is not the same with every seed in {len(flipped)}; in {len(far)} of those its "
        f"probability lies further than {CLOSE:g} from the threshold; the furthest lies "
        f"{worst:.4f} from it.",
        "",
    ]
    return "\n".join(lines)


def main() -> None:
    """Print the table and write it down."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--seeds", type=int, default=SEEDS)
    parser.add_argument("--draws", type=int, default=DRAWS)
    parser.add_argument("--out", type=Path, default=Path(__file__).with_name("reliability.md"))
    parser.add_argument(
        "--file", choices=sorted(FULL), help="a piece of the client file's hardness"
    )
    parser.add_argument("--server", help="with --file: an empty database on a PostgreSQL server")
    parser.add_argument("--share", type=float, default=1.0, help="with --file: how much of it")
    parser.add_argument("--seed", type=int, default=1, help="with --file")
    options, more = parser.parse_known_args()
    if options.file:
        print(run(options.file, options.server, options.share, options.seed, more))
        return
    table = reliability_table(options.seeds, options.draws)
    print(table)
    options.out.write_text(table, encoding="utf-8")


if __name__ == "__main__":
    main()
