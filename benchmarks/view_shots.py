"""Sets of photos as the guide asks for them, their dots on pixels: ``--views --pixels 300``.

Scenes are drawn until both ends' dots are really seen in two photos each.  In most, windows are
rendered about the dots and the cards are found by geometry; in some whole photos are rendered,
smaller than a phone's, and read as the program reads any.
"""

from __future__ import annotations

import json
import time
from collections.abc import Iterator, Sequence
from dataclasses import asdict, dataclass, replace
from pathlib import Path
from typing import Any

import numpy as np

from benchmarks.ears import EARS
from benchmarks.scenes import seeds
from benchmarks.tables import commit
from benchmarks.view_pixels import Pen, Tapped, as_told, dots_of, dots_shown, moved, pen_of, tapped
from benchmarks.view_scenes import (
    ASKED,
    SETS,
    UPPER,
    Dots,
    ViewScene,
    both_ends,
    card_move,
    cards_of,
    draw_view_scene,
)
from benchmarks.view_whole import read_whole, whole_outcome
from benchmarks.views import (
    MOST_DRAWS,
    MOVED_MM,
    SNAPPED_PX,
    Length,
    Setting,
    ViewScore,
    score,
    score_found,
)
from calibration.frames import Array

SEED = 20261227


@dataclass(frozen=True, slots=True)
class Shots:
    """One set of photos: what came of it by how many of them were used, and of each dot.

    ``lengths`` goes by the set's name: channel and relief, None where they weren't measured.
    ``taps`` has for each kind of dot how it was marked (at the first tap, the second, by hand),
    ``over_u`` the snapped ones' errors over u, both axes; ``said`` what was left out, and why;
    ``commit`` the sources'.
    """

    whole: bool
    index: int
    ear: str
    card: str
    drawn: int
    lengths: dict[str, tuple[Length | None, Length | None]]
    taps: dict[str, tuple[int, int, int]]
    over_u: dict[str, list[float]]
    said: str
    commit: str = ""


def shown_scene(
    name: str, rng: np.random.Generator, index: int
) -> tuple[tuple[ViewScene, Pen] | None, int]:
    """Return a scene in which both ends are shown twice with its pen, and how many were drawn."""
    tries = 0
    while tries < MOST_DRAWS:
        tries += 1
        scene = draw_view_scene(name, rng, aims=ASKED)
        if both_ends(scene, SETS["five"]):
            pen = pen_of(scene, rng, index)
            shown = dots_shown(scene, pen.spots[0].radius_mm)
            if both_ends(shown, SETS["five"]):
                return (shown, pen), tries
    return None, tries


def run_shots(
    count: int, *, whole: bool, seed: int = SEED, done: Sequence[int] = ()
) -> Iterator[Shots]:
    """Yield what comes of sets of photos, card fixed and moved by turns.

    Parameters
    ----------
    count : how many scenes are tried
    whole : whether whole photos are rendered
    seed : of the scenes; whole ones have others
    done : scenes that aren't tried again
    """
    names = list(EARS)
    for i, rng in enumerate(seeds(seed + int(whole), count)):
        if i in done:
            continue
        name = names[i % len(names)]
        found, drawn = shown_scene(name, rng, i)
        if found is None:
            yield Shots(whole, i, name, "", drawn, {}, {}, {}, "")
            continue
        scene, pen = found
        card = ("fixed", "moved")[i // len(names) % 2]
        move = np.zeros(6) if card == "fixed" else card_move(rng, MOVED_MM)
        yield (_whole if whole else _windows)(scene, pen, card, move, rng, i, drawn)


def _windows(
    scene: ViewScene,
    pen: Pen,
    card: str,
    move: Array,
    rng: np.random.Generator,
    index: int,
    drawn: int,
) -> Shots:
    dots: Dots = "ties" if card == "moved" else "placement"
    found: dict[str, list[Tapped]] = {}
    for photo in SETS["five"]:
        standing = scene.standing if photo in UPPER else moved(scene.standing, move)
        names = dots_of(sorted(scene.seen[photo]), dots)
        found[photo] = list(tapped(scene, photo, names, standing, pen, rng))
    corner_seed = int(rng.integers(2**31))
    scores = {}
    for photos in SETS if card == "fixed" else ["five"]:
        cards = cards_of(scene, SETS[photos], np.random.default_rng(corner_seed))
        marks = {photo: as_told(found[photo]) for photo in SETS[photos]}
        setting = Setting(photos, True, SNAPPED_PX, card, dots)
        shift = MOVED_MM if card == "moved" else 0.0
        scores[photos] = score(scene, cards.with_marks(marks), setting, shift, index + 1)
    return _shots(scene, card, index, drawn, found, scores, whole=False)


def _whole(
    scene: ViewScene,
    pen: Pen,
    card: str,
    move: Array,
    rng: np.random.Generator,
    index: int,
    drawn: int,
) -> Shots:
    dots: Dots = "ties" if card == "moved" else "placement"
    shots = [
        read_whole(
            scene,
            photo,
            scene.standing if photo in UPPER else moved(scene.standing, move),
            pen,
            dots,
            rng,
        )
        for photo in SETS["five"]
    ]
    outcome = whole_outcome(scene, shots, MOVED_MM if card == "moved" else 0.0)
    setting = Setting("five", True, SNAPPED_PX, card, dots)
    scores = {} if outcome is None else {"five": score_found(scene, outcome, setting, index + 1)}
    found = {shot.name: list(shot.tapped) for shot in shots}
    cards = [f"{shot.name}: {shot.reading.refusal}" for shot in shots if shot.reading.fit is None]
    out = _shots(scene, card, index, drawn, found, scores, whole=True)
    return replace(out, said="; ".join([*cards, *([out.said] if out.said else [])]))


def _shots(
    scene: ViewScene,
    card: str,
    index: int,
    drawn: int,
    found: dict[str, list[Tapped]],
    scores: dict[str, ViewScore],
    *,
    whole: bool,
) -> Shots:
    taps: dict[str, list[int]] = {}
    over_u: dict[str, list[float]] = {}
    for each in (one for own in found.values() for one in own):
        kind = "tie" if each.dot.startswith("tie") else each.dot.rsplit("/", 1)[-1]
        taps.setdefault(kind, [0, 0, 0])[(each.tap - 1) % 3] += 1
        if each.tap:
            over_u.setdefault(kind, []).extend(np.array(each.error_px) / each.mark.u_px)
    return Shots(
        whole,
        index,
        scene.site.name,
        card,
        drawn,
        {name: (own.channel, own.relief) for name, own in scores.items()},
        {kind: (n[0], n[1], n[2]) for kind, n in taps.items()},
        over_u,
        scores["five"].refused if "five" in scores else "fewer than two photos with a card",
    )


def keep(shots: Shots, file: Path) -> None:
    """Add what came of a set to a file of JSON lines."""
    with file.open("a", encoding="utf-8") as kept:
        kept.write(json.dumps(asdict(shots)) + "\n")


def kept_shots(file: Path | None) -> list[Shots]:
    """Return what earlier parts of a run have put into a file."""
    if file is None or not file.exists():
        return []
    return [_read(json.loads(line)) for line in file.read_text("utf-8").splitlines()]


def _read(held: dict[str, Any]) -> Shots:
    lengths = {
        name: tuple(None if one is None else Length(**one) for one in pair)
        for name, pair in held["lengths"].items()
    }
    taps = {kind: tuple(counts) for kind, counts in held["taps"].items()}
    return Shots(**{**held, "lengths": lengths, "taps": taps})


def run_in_parts(
    windows: int, whole: int, file: Path | None, minutes: float, seed: int = SEED
) -> list[Shots]:
    """Return all scores so far; go on for so long, and keep what comes of it in a file.

    Parameters
    ----------
    windows, whole : how many scenes of each kind are wanted in all
    file : JSON lines, from earlier parts and for later ones; none keeps nothing
    minutes : after which no further scene is begun
    seed : of the scenes
    """
    found, end = kept_shots(file), time.monotonic() + 60.0 * minutes
    for is_whole, count in ((False, windows), (True, whole)):
        done = [shots.index for shots in found if shots.whole == is_whole]
        for scored in run_shots(count, whole=is_whole, seed=seed, done=done):
            shots = replace(scored, commit=commit())
            found.append(shots)
            if file is not None:
                keep(shots, file)
            if time.monotonic() > end:
                return found
    return found
