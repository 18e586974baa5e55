"""Several chairs at once on one client file, each a process of its own, for a while.

Each works on clients of its own and on one that all share: photos, drafts, assessments, void ones,
searches, timelines.  Afterwards every acknowledged save must be there, numbers must run without a
gap, and the file be whole.
"""

from __future__ import annotations

import argparse
import json
import os
import random
import sys
import time
import traceback
from collections import defaultdict
from collections.abc import Callable
from dataclasses import dataclass, field
from typing import Any

import numpy as np

from benchmarks.file_invented import PASSPHRASE, PIERCER, new, new_store, noise
from rimspan.clientfile import ClientFile, keys

HANG_S = 5.0


@dataclass
class Chair:
    """One chair at work, and how long each of its acts took, s."""

    file: ClientFile
    shared: str
    number: int
    chance: random.Random
    own: list[str] = field(default_factory=list)
    saved: list[tuple[str, str]] = field(default_factory=list)
    drafts: dict[str, int] = field(default_factory=dict)
    took_s: dict[str, list[float]] = field(default_factory=lambda: defaultdict(list))

    def act(self) -> None:
        """Do one thing, and note how long it took."""
        if not self.own or self.chance.random() < 0.05:
            self._timed("new client", self._new)
            return
        acts: tuple[tuple[float, str, Callable[[], None]], ...] = (
            (0.35, "draft", self._draft),
            (0.60, "save", self._save),
            (0.75, "search", self._search),
            (0.90, "timeline", self._timeline),
            (1.01, "void", self._void),
        )
        share = self.chance.random()
        _, name, act = next(each for each in acts if share < each[0])
        self._timed(name, act)

    def _timed(self, name: str, act: Callable[[], None]) -> None:
        began = time.perf_counter()
        act()
        self.took_s[name].append(time.perf_counter() - began)

    def _new(self) -> None:
        name = f"Chair {self.number} client {len(self.own)} (invented)"
        self.own.append(self.file.create_client(name).id)

    def _client(self) -> str:
        return self.shared if self.chance.random() < 0.3 else self.chance.choice(self.own)

    def _draft(self) -> None:
        client = self.chance.choice(self.own)
        number = self.drafts.get(client, 0) + 1
        self.file.save_draft(client, "left", {"n": number, "marks": ["x" * 40] * 100})
        self.drafts[client] = number

    def _save(self) -> None:
        client, seed = self._client(), self.chance.randrange(1 << 30)
        photo = self.file.add_photo(client, noise(seed), f"{seed}.jpg", "left")
        made = new(client, photos={"a": photo.sha256})
        self.saved.append((client, self.file.save_revision(made, f"{self.number} {seed}").id))

    def _search(self) -> None:
        if not self.file.clients(f"chair {self.number}"):
            raise AssertionError("an own client isn't found")

    def _timeline(self) -> None:
        self.file.revisions(self._client())

    def _void(self) -> None:
        client = self.chance.choice(self.own)
        counting = [each for each in self.file.revisions(client) if each.void is None]
        if counting:
            self.file.void_revision(counting[0].id, PIERCER, "a slip, invented")


def work(store: str, shared: str, number: int, until: float, pause_s: float) -> dict[str, Any]:
    """Work at a chair until a moment of the monotonic clock, and return what was done."""
    with ClientFile.open(store, PASSPHRASE) as file:
        chair = Chair(file, shared, number, random.Random(number))
        faults = []
        while time.monotonic() < until:
            try:
                chair.act()
            except Exception:  # any at all is a fault of what is tried here
                faults.append(traceback.format_exc(limit=-3))
            time.sleep(chair.chance.random() * 2 * pause_s)
    return {
        "saved": chair.saved,
        "drafts": chair.drafts,
        "took_s": dict(chair.took_s),
        "faults": faults,
    }


def apart(what: Callable[[], dict[str, Any]]) -> tuple[int, int]:
    """Start a process that does something, and return its id and where its answer comes."""
    heard, says = os.pipe()
    child = os.fork()
    if child == 0:
        os.close(heard)
        try:
            with os.fdopen(says, "w", encoding="utf-8") as out:
                json.dump(what(), out)
        except BaseException:
            traceback.print_exc()
            os._exit(1)
        os._exit(0)
    os.close(says)
    return child, heard


def run(server: str | None, chairs: int, seconds: float, pause_s: float) -> dict[str, Any]:
    """Let so many chairs work, and return what was done, how fast, and what is wrong."""
    with new_store(server) as store:
        with ClientFile.open(store, PASSPHRASE) as file:
            shared = file.create_client("Shared (invented)").id
        until = time.monotonic() + seconds
        started = [
            apart(lambda n=n: work(store, shared, n, until, pause_s))  # type: ignore[misc]
            for n in range(chairs)
        ]
        done: list[dict[str, Any]] = []
        faults: list[str] = []
        for child, heard in started:
            with os.fdopen(heard, encoding="utf-8") as stream:
                said = stream.read()
            _, status = os.waitpid(child, 0)
            if status:
                faults.append(f"a chair ended with {status}")
            else:
                done.append(json.loads(said))
        with ClientFile.open(store, PASSPHRASE) as file:
            faults += [*file.verify(), *_missing(file, done)]
    return _summary(done, faults)


def _missing(file: ClientFile, done: list[dict[str, Any]]) -> list[str]:
    found = []
    saved: dict[str, set[str]] = defaultdict(set)
    for chair in done:
        for client, revision in chair["saved"]:
            saved[client].add(revision)
        for client, number in chair["drafts"].items():
            if (file.draft(client, "left") or {}).get("n") != number:
                found.append(f"draft {number} of {client}: is not there")
    for client, revisions in saved.items():
        there = file.revisions(client)
        if {each.id for each in there} != revisions:
            found.append(f"client {client}: other revisions than were acknowledged")
        if [each.number for each in there] != list(range(len(there), 0, -1)):
            found.append(f"client {client}: numbers have a gap")
    return found


def _summary(done: list[dict[str, Any]], faults: list[str]) -> dict[str, Any]:
    took: dict[str, list[float]] = defaultdict(list)
    for chair in done:
        faults = [*faults, *chair["faults"]]
        for name, each in chair["took_s"].items():
            took[name] += each
    acts = {
        name: {
            "n": len(each),
            "p95_ms": round(1000 * float(np.percentile(each, 95)), 1),
            "slowest_ms": round(1000 * max(each), 1),
        }
        for name, each in sorted(took.items())
    }
    saved = sum(len(chair["saved"]) for chair in done)
    slowest_s = max((max(each) for each in took.values()), default=0.0)
    return {"saved": saved, "acts": acts, "slowest_s": slowest_s, "faults": faults}


def main() -> None:
    """Print what came of it as JSON."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--chairs", type=int, default=3)
    parser.add_argument("--seconds", type=float, default=20)
    parser.add_argument("--pause", type=float, default=0.2, help="mean pause between acts, s")
    parser.add_argument("--server", help="an empty database on a PostgreSQL server")
    options = parser.parse_args()
    keys.PASSPHRASE_COST = keys.Cost(1, 1, 64)
    found = run(options.server, options.chairs, options.seconds, options.pause)
    json.dump(found, sys.stdout)


if __name__ == "__main__":
    main()
