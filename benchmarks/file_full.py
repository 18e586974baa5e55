"""A disk that becomes full at any moment: what was acknowledged stays, the rest is told.

The client file lies on a small file system of its own where one may be mounted; and, in a second
trial that needs no rights, the system refuses to let any file grow beyond a size.
"""

from __future__ import annotations

import argparse
import json
import os
import random
import resource
import signal
import subprocess
import sys
import tempfile
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from dataclasses import asdict, dataclass, field
from pathlib import Path

from benchmarks import file_work
from benchmarks.file_chairs import apart
from benchmarks.file_invented import PASSPHRASE, noise
from rimspan.clientfile import ClientFile, StoreError, import_client, keys

MOUNT_MB = 3
TOLD = ("can't be written", "can't be cleared away")
"""What is said of a full disk; the second of an erasure that is kept and not yet cleared away."""


@dataclass
class Full:
    """What came of the times that the disk was full."""

    rounds: int = 0
    acknowledged: int = 0
    told: int = 0
    faults: list[str] = field(default_factory=list)


@contextmanager
def small_disk(folder: Path) -> Iterator[bool]:
    """Mount a small file system on a folder; yield whether that could be done."""
    command = ["mount", "-t", "tmpfs", "-o", f"size={MOUNT_MB}m", "tmpfs", str(folder)]
    try:
        done = subprocess.run(command, check=False, capture_output=True)  # noqa: S603  (no shell)
    except OSError:
        yield False
        return
    if done.returncode:
        yield False
        return
    try:
        yield True
    finally:
        subprocess.run(["umount", str(folder)], check=False)  # noqa: S603, S607  (no shell)


def until_full(store: Path, number: int, say: Callable[..., None]) -> str:
    """Save until the disk is full, and return what is said then."""
    with ClientFile.open(store, PASSPHRASE) as file:
        try:
            file_work.save(file, number * 1000, say)
        except StoreError as error:
            return str(error)
    return "nothing"  # pragma: no cover  (it saves without end)


def on_a_small_disk(rounds: int, seed: int) -> Full | None:
    """Fill a small disk again and again; None where it can't be mounted."""
    found = Full()
    for number in range(rounds):
        chance = random.Random(f"{seed} disk {number}")
        with tempfile.TemporaryDirectory(prefix="rimspan-") as base:
            disk, apart_from_it = Path(base) / "disk", Path(base) / "out"
            disk.mkdir()
            with ClientFile.open(Path(base) / "other", PASSPHRASE) as other:
                file_work.exported(other, apart_from_it)
            with small_disk(disk) as mounted:
                if not mounted:
                    return None
                (disk / "ballast").write_bytes(bytes(chance.randrange(1 << 20)))
                _round(found, disk, number, apart_from_it)
    return found


def _round(found: Full, disk: Path, number: int, exported: Path) -> None:
    said: list[list[str]] = []
    store = disk / "store"
    words = until_full(store, number, lambda *each: said.append(list(each)))
    found.rounds += 1
    found.acknowledged += len(said)
    told = any(each in words for each in TOLD)
    found.told += told
    if not told:
        found.faults.append(f"round {number}: {words}")
    with ClientFile.open(store, PASSPHRASE) as file:
        _filled_up(disk / "more")  # so that neither a backup nor an import finds room
        found.faults += [*file.verify(), *file_work.missing(file, said)]
        before = len(file.clients())
        for name, act in (
            ("backup", lambda: file.back_up(disk / "b.rimspan")),
            ("import", lambda: import_client(file, exported)),
        ):
            try:
                act()
                found.faults.append(f"round {number}: {name} on a full disk is not refused")
            except StoreError:
                found.told += 1
        if list(disk.glob("*.rimspan")) or list(disk.glob(".*part")):
            found.faults.append(f"round {number}: half a backup is there")
        (disk / "more").unlink(missing_ok=True)
        (disk / "ballast").unlink()
        room = ["mount", "-o", f"remount,size={3 * MOUNT_MB}m", str(disk)]
        subprocess.run(room, check=True)  # noqa: S603  (what waits in the log needs room too)
        file.let_walk_ins_go()
        if len(file.clients()) != before:
            found.faults.append(f"round {number}: half a client is there")
        client = file.create_client("After (invented)").id
        file.add_photo(client, noise(number), "a.jpg", "left")
        found.faults += [*file.verify(), *file_work.missing(file, said)]


def _filled_up(place: Path) -> None:
    """Take what room is left, to the last byte."""
    try:
        with place.open("wb", buffering=0) as more:
            while more.write(bytes(4096)):
                pass
    except OSError:
        return


def files_that_cannot_grow(rounds: int, seed: int) -> Full:
    """Save in programs whose files may not grow beyond a size: a file layer that fails."""
    found = Full()
    for number in range(rounds):
        most = random.Random(f"{seed} size {number}").randrange(300_000, 900_000)
        with tempfile.TemporaryDirectory(prefix="rimspan-") as base:
            store = Path(base) / "store"
            child, heard = apart(lambda store=store, most=most: _limited(store, most))  # type: ignore[misc]
            with os.fdopen(heard, encoding="utf-8") as stream:
                answer = stream.read()
            os.waitpid(child, 0)
            found.rounds += 1
            if not answer:
                found.faults.append(f"{most} bytes: ended by itself")
                continue
            came = json.loads(answer)
            found.acknowledged += len(came["said"])
            told = any(each in came["words"] for each in TOLD)
            found.told += told
            if not told:
                found.faults.append(f"{most} bytes: {came['words']}")
            with ClientFile.open(store, PASSPHRASE) as file:
                found.faults += [*file.verify(), *file_work.missing(file, came["said"])]
    return found


def _limited(store: Path, most: int) -> dict[str, object]:
    with ClientFile.open(store, PASSPHRASE):
        pass
    signal.signal(signal.SIGXFSZ, signal.SIG_IGN)
    resource.setrlimit(resource.RLIMIT_FSIZE, (most, most))
    said: list[list[str]] = []
    words = until_full(store, most, lambda *each: said.append(list(each)))
    resource.setrlimit(resource.RLIMIT_FSIZE, (most, most))
    return {"said": said, "words": words}


def main() -> None:
    """Print what came of it as JSON."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--rounds", type=int, default=10)
    parser.add_argument("--seed", type=int, default=1)
    options = parser.parse_args()
    keys.PASSPHRASE_COST = keys.Cost(1, 1, 64)
    disk = on_a_small_disk(options.rounds, options.seed)
    grown = files_that_cannot_grow(options.rounds, options.seed)
    json.dump(
        {
            "small disk": None if disk is None else asdict(disk),
            "files that can't grow": asdict(grown),
        },
        sys.stdout,
    )


if __name__ == "__main__":
    main()
