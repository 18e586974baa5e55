"""Programs that work on a client file, killed at random moments: what was acknowledged is there.

Each is a process of its own, ended by SIGKILL; it is split off from one that has its modules
loaded already and holds no database open, so that many can be killed.
"""

from __future__ import annotations

import argparse
import json
import os
import random
import signal
import sys
import tempfile
import time
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from dataclasses import asdict, dataclass, field
from pathlib import Path

from benchmarks import file_work
from benchmarks.file_invented import PASSPHRASE, new_store
from rimspan.clientfile import ClientFile, keys

Said = list[list[str]]
"""What a program acknowledged, in order: a kind and what of it."""


@dataclass
class Tally:
    """What came of the programs that were killed."""

    kills: int = 0
    amid: int = 0
    acknowledged: int = 0
    faults: list[str] = field(default_factory=list)
    slowest_s: float = 0.0
    """The longest that opening and proving the file took after a kill."""


def killed(work: Callable[[file_work.Say], None], after: int, wait_s: float) -> Said:
    """Run ``work`` in a process, kill it some time after it said ``after`` things.

    Raises
    ------
    RuntimeError
        If it failed before it was killed.
    """
    heard, says = os.pipe()
    child = os.fork()
    if child == 0:
        os.close(heard)
        _be_killed(work, says)
    os.close(says)
    with os.fdopen(heard, encoding="utf-8") as stream:
        lines = [line for _, line in zip(range(after), stream, strict=False)]
        time.sleep(wait_s)
        os.kill(child, signal.SIGKILL)
        lines += stream
    _, status = os.waitpid(child, 0)
    said = [line.split() for line in lines if line.endswith("\n")]  # the last may be cut off
    if os.waitstatus_to_exitcode(status) not in (-signal.SIGKILL, 0):
        raise RuntimeError(" ".join(lines[-1:]) or "ended by itself")
    return said


def _be_killed(work: Callable[[file_work.Say], None], says: int) -> None:
    def say(*words: str) -> None:
        os.write(says, (" ".join(words) + "\n").encode())

    try:
        work(say)
    except BaseException as error:
        say("failed", repr(error))
        os._exit(1)
    os._exit(0)


@contextmanager
def _checking(tally: Tally, kind: str, seed: int) -> Iterator[list[str]]:
    """Yield where faults go; whatever the file itself raises is one."""
    found: list[str] = []
    began = time.perf_counter()
    try:
        yield found
    except Exception as error:  # any at all is a fault of what is tried here
        found.append(repr(error))
    tally.slowest_s = max(tally.slowest_s, time.perf_counter() - began)
    tally.kills += 1
    tally.faults += [f"{kind}, seed {seed}: {each}" for each in found]


def kill_savers(server: str | None, kills: int, seed: int) -> Tally:
    """Kill programs that save, on one store that grows with them."""
    tally = Tally()
    with new_store(server) as store:
        _open(store).close()
        earlier: list[Said] = []
        for number in range(kills):
            chance = random.Random(f"{seed} save {number}")

            def work(say: file_work.Say, number: int = number) -> None:
                file_work.save(_open(store), seed * 100_000 + number * 100, say)

            said = killed(work, chance.randrange(1, 30), chance.random() * 0.05)
            earlier.append(said)
            tally.acknowledged += len(said)
            tally.amid += 1
            with _checking(tally, "save", number) as found, _open(store) as file:
                found.extend(file.verify())
                found.extend(file_work.missing(file, said))
        with _checking(Tally(), "all", kills) as found, _open(store) as file:
            for said in earlier:
                found.extend(file_work.missing(file, said))
        tally.faults += [each for each in found if each not in tally.faults]
    return tally


def kill_importers(server: str | None, kills: int, seed: int) -> Tally:
    """Kill programs that bring exported clients in: no half client stays."""
    tally = Tally()
    with new_store(server) as store, tempfile.TemporaryDirectory(prefix="rimspan-") as folder:
        exported = Path(folder) / "out"
        with _open(store) as file:
            whole = file_work.exported(file, exported)
        for number in range(kills):
            chance = random.Random(f"{seed} import {number}")
            said = killed(
                lambda say: file_work.bring_in(_open(store), exported, say),
                chance.randrange(1, 3),
                chance.random() * 0.15,
            )
            tally.acknowledged += len(said)
            tally.amid += 1
            with _checking(tally, "import", number) as found, _open(store) as file:
                found.extend(file.verify())
                found.extend(file_work.half_imported(file, said, whole))
                file.let_walk_ins_go()
                found.extend(file.verify())
    return tally


def kill_migrations(server: str | None, kills: int, seed: int) -> Tally:
    """Kill programs amid bringing an older file forward: opened again, all of it is there."""
    tally = Tally()
    with new_store(server) as store:
        file_work.lay_older(store)
        took_s = float(killed(_migrating(store), 2, 0.0)[1][1])
    for number in range(kills):
        chance = random.Random(f"{seed} migration {number}")
        with new_store(server) as store:
            file_work.lay_older(store)
            said = killed(_migrating(store), 1, chance.random() * 1.1 * took_s)
            finished = any(words[0] == "done" for words in said)
            took_s *= 0.98 if finished else 1.02  # other work on the machine comes and goes
            tally.amid += not finished
            tally.acknowledged += len(said)
            with _checking(tally, "migration", number) as found, _open(store) as file:
                found.extend(file.verify())
                found.extend(file_work.lost_of_older(file))
    return tally


def _migrating(store: str) -> Callable[[file_work.Say], None]:
    def work(say: file_work.Say) -> None:
        say("begun")
        began = time.perf_counter()
        _open(store).close()
        say("done", f"{time.perf_counter() - began:.4f}")
        time.sleep(60)

    return work


def kill_backups(server: str | None, kills: int, seed: int) -> Tally:
    """Kill programs that back up: whatever bears a backup's name is one, and restores whole."""
    tally = Tally()
    with new_store(server) as store, tempfile.TemporaryDirectory(prefix="rimspan-") as folder:
        with _open(store) as file:
            for number in range(3):
                file_work.fill(file, f"Client {number} (invented)", seed * 1000 + number)
        for number in range(kills):
            chance = random.Random(f"{seed} backup {number}")
            into = Path(folder) / str(number)
            into.mkdir()
            said = killed(
                lambda say, into=into: file_work.back_up(_open(store), into, say),  # type: ignore[misc]
                chance.randrange(1, 4),
                chance.random() * 0.1,
            )
            tally.acknowledged += len(said)
            tally.amid += 1
            with _checking(tally, "backup", number) as found, _open(store) as file:
                found.extend(file.verify())
                found.extend(file_work.backups_that_fail(file, into, said))
    return tally


def kill_closers(server: str | None, kills: int, seed: int) -> Tally:
    """Kill programs that open, change and close a file again and again, another beside them.

    An embedded file's pages are recorded when the last one closes it; that must never tell damage.
    """
    tally = Tally()
    with new_store(server) as store:
        with _open(store) as file:
            client = file_work.fill(file, seed=seed)
        for number in range(kills):
            chance = random.Random(f"{seed} close {number}")

            def work(say: file_work.Say, number: int = number) -> None:
                file_work.come_and_go(lambda: _open(store), client, number % 2 == 1, say)

            said = killed(work, chance.randrange(1, 8), chance.random() * 0.05)
            tally.acknowledged += len(said)
            tally.amid += 1
            with _checking(tally, "close", number) as found, _open(store) as file:
                found.extend(file.verify())
                found.extend(file_work.missing(file, said))
            with _checking(Tally(), "close", number) as again, _open(store) as file:
                again.extend(file.verify())  # now against what was recorded
            tally.faults += [f"close, seed {number}, again: {each}" for each in again]
    return tally


KINDS: dict[str, Callable[[str | None, int, int], Tally]] = {
    "save": kill_savers,
    "import": kill_importers,
    "migration": kill_migrations,
    "backup": kill_backups,
    "close": kill_closers,
}
SHARES = {"save": 0.3, "import": 0.15, "migration": 0.15, "backup": 0.2, "close": 0.2}


def _open(store: str) -> ClientFile:
    return ClientFile.open(store, PASSPHRASE)


def run(server: str | None, kills: int, seed: int) -> dict[str, Tally]:
    """Kill ``kills`` programs, of each kind its share."""
    counts = {kind: round(kills * share) for kind, share in SHARES.items()}
    counts["save"] += kills - sum(counts.values())
    return {kind: KINDS[kind](server, counts[kind], seed) for kind in KINDS}


def main() -> None:
    """Print what came of it as JSON."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--kills", type=int, default=40)
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--server", help="an empty database on a PostgreSQL server")
    options = parser.parse_args()
    keys.PASSPHRASE_COST = keys.Cost(1, 1, 64)  # the kills are tried, not the passphrase
    with tempfile.TemporaryDirectory(prefix="rimspan-") as data:
        os.environ["XDG_DATA_HOME"] = data  # where a server's tables go before a migration
        found = run(options.server, options.kills, options.seed)
    json.dump({kind: asdict(tally) for kind, tally in found.items()}, sys.stdout)


if __name__ == "__main__":
    main()
