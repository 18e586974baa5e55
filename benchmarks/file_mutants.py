"""Photos, marks, exports and backups that were changed at random: taken or refused, nothing else.

What is refused is refused by one of the errors that the program says in a line to whoever gave
the input.  Any other error is a fault, and so is an input that takes longer than
:data:`MOST_S` of the processor's time, or a process that comes to hold more than
:data:`MOST_BYTES`.
"""

from __future__ import annotations

import argparse
import json
import random
import shutil
import sys
import tempfile
import time
import traceback
from collections import Counter
from collections.abc import Callable
from dataclasses import asdict, dataclass, field
from pathlib import Path

from assess.errors import AssessError
from assess.read_marks import parse_marks
from benchmarks.file_invented import GOLDEN, PASSPHRASE
from benchmarks.mutating import changed_bytes, changed_text, changed_zip, pictures
from calibration.photo import PhotoError, read_photo, strip_photo
from rimspan.clientfile import ClientFile, ClientFileError, Secret, import_client, keys, restore

MOST_S = 5.0
MOST_BYTES = 2 << 30
SECRET = Secret(PASSPHRASE, None, demo=False)
MARKS = Path(__file__).parents[1] / "sample_images" / "flat" / "marks-examined.json"
Trial = Callable[[random.Random], None]


@dataclass
class Tried:
    """What came of inputs of one kind."""

    inputs: int = 0
    taken: int = 0
    refused: int = 0
    slowest_s: float = 0.0
    faults: list[str] = field(default_factory=list)
    refusals: dict[str, int] = field(default_factory=dict)


def tried(trial: Trial, inputs: int, seed: str, most_s: float = MOST_S) -> Tried:
    """Try so many inputs, each from a seed of its own."""
    found, refusals = Tried(inputs), Counter[str]()
    for number in range(inputs):
        began = time.process_time()
        try:
            trial(random.Random(f"{seed} {number}"))
            found.taken += 1
        except (PhotoError, AssessError, ClientFileError) as error:
            found.refused += 1
            refusals[type(error).__name__] += 1
        except BaseException:  # whatever else it is, it is what is looked for
            last = traceback.format_exc(limit=-2).strip().replace("\n", " | ")
            found.faults.append(f"{seed} {number}: {last}")
        took_s = time.process_time() - began
        found.slowest_s = max(found.slowest_s, took_s)
        if took_s > most_s:
            found.faults.append(f"{seed} {number}: took {took_s:.1f} s")
    found.refusals = dict(refusals)
    return found


def photo_trial(_: Path) -> Trial:
    """Return what reads and strips a changed photo, which must stay readable once stripped."""
    whole = pictures()

    def trial(chance: random.Random) -> None:
        data = changed_bytes(chance.choice(whole), chance)
        kept = strip_photo(data)
        read_photo(kept)

    return trial


def marks_trial(_: Path) -> Trial:
    """Return what reads a changed marks file."""
    text = MARKS.read_text(encoding="utf-8")

    def trial(chance: random.Random) -> None:
        parse_marks(changed_text(text, chance), "marks")

    return trial


def import_trial(folder: Path) -> Trial:
    """Return what imports a changed export; one that is refused leaves no client."""
    file = ClientFile.open(folder / "store", PASSPHRASE)

    def trial(chance: random.Random) -> None:
        out = folder / "out"
        shutil.copytree(GOLDEN / "client-1", out)
        try:
            place = chance.choice(sorted(path for path in out.rglob("*") if path.is_file()))
            if place.suffix == ".json" and chance.random() < 0.9:
                changed = changed_text(place.read_text(encoding="utf-8"), chance)
                place.write_bytes(changed)
            else:
                place.write_bytes(changed_bytes(place.read_bytes(), chance))
            before = len(file.clients())
            try:
                made = import_client(file, out)
            except BaseException:
                if len(file.clients()) != before:
                    raise AssertionError("a refused client is there") from None
                raise
            file.client(made.id)
            file.revisions(made.id)
            file.erase_client(made.id)
        finally:
            shutil.rmtree(out)

    return trial


def import_verified(folder: Path) -> list[str]:
    """Return what is damaged in the file into which changed exports were brought."""
    with ClientFile.open(folder / "store", PASSPHRASE) as file:
        return file.verify()


def backup_trial(folder: Path) -> Trial:
    """Return what restores a changed backup; one that is refused leaves no store."""
    whole = (GOLDEN / "backup-1.rimspan").read_bytes()

    def trial(chance: random.Random) -> None:
        place, back = folder / "b.rimspan", folder / "back"
        changed = changed_zip if chance.random() < 0.5 else changed_bytes
        place.write_bytes(changed(whole, chance))
        try:
            found = restore(place, back, SECRET)
            if found.faults:
                raise AssertionError(f"restored, and damaged: {found.faults}")
        except ClientFileError:
            if any(back.rglob("*.sqlite")):
                raise AssertionError("a refused backup left a store") from None
            raise
        finally:
            shutil.rmtree(back, ignore_errors=True)

    return trial


TRIALS: dict[str, Callable[[Path], Trial]] = {
    "photos": photo_trial,
    "marks": marks_trial,
    "imports": import_trial,
    "backups": backup_trial,
}
SHARES = {"photos": 0.4, "marks": 0.3, "imports": 0.15, "backups": 0.15}


def run(inputs: int, seed: int, most_s: float = MOST_S) -> dict[str, Tried]:
    """Try so many inputs, of each kind its share."""
    found = {}
    for kind, share in SHARES.items():
        with tempfile.TemporaryDirectory(prefix="rimspan-") as folder:
            trial = TRIALS[kind](Path(folder))
            found[kind] = tried(trial, round(inputs * share), f"{seed} {kind}", most_s)
            if kind == "imports":
                found[kind].faults += import_verified(Path(folder))
    return found


def peak_bytes() -> int:
    """Return the most memory this program held; rusage would count what its starter held too."""
    status = Path("/proc/self/status").read_text("ascii")
    held = next(line for line in status.splitlines() if line.startswith("VmHWM:"))
    return int(held.split()[1]) * 1024


def main() -> None:
    """Print what came of it as JSON."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--inputs", type=int, default=500)
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--most", type=float, default=MOST_S, help="the longest for one input, s")
    options = parser.parse_args()
    keys.PASSPHRASE_COST = keys.Cost(1, 1, 64)
    found = run(options.inputs, options.seed, options.most)
    peak = peak_bytes()
    json.dump(
        {"kinds": {kind: asdict(each) for kind, each in found.items()}, "peak_bytes": peak},
        sys.stdout,
    )


if __name__ == "__main__":
    main()
