"""A client file as large as a busy studio's after many years, and how long people wait on it.

Clients and assessments are generated, without photos, whose bytes lie apart.  Then each thing that
is waited for is done many times, by one program on a warm machine; the 95th percentile is reported.
"""

from __future__ import annotations

import argparse
import json
import random
import sys
import time
import uuid
from collections import defaultdict
from collections.abc import Callable
from contextlib import ExitStack
from dataclasses import fields
from datetime import UTC, datetime, timedelta
from pathlib import Path
from typing import Any

import numpy as np

from assess.measure import measure
from assess.read_marks import parse_marks
from assess.result import result_json
from benchmarks.file_invented import PASSPHRASE, new, new_store
from calibration.photo import read_photo
from rimspan.clientfile import ClientFile, canonical, chain, keys, tables
from rimspan.clientfile.keys import new_data_key
from rimspan.clientfile.revisions import revision_place
from rimspan.clientfile.seal import place

EACH = 5
"""Assessments of one client."""
AT_ONCE = 100
"""Clients made in one transaction."""
CLIENT = "the client"
START = datetime(2020, 1, 1, 9, tzinfo=UTC)
BETWEEN = timedelta(minutes=72)
"""Twenty a day."""
TIMES = 200
GIVEN = ("Robin", "Kim", "Alex", "Sam", "Jo", "Chris", "Noa", "Luca", "Mika", "Toni")
FAMILY = ("Example", "Sample", "Test", "Probe", "Muster", "Trial", "Instance", "Model")
MARKS = Path(__file__).parents[1] / "sample_images" / "flat" / "marks-examined.json"


class Clock:
    """A clock that goes on at every assessment, not by itself."""

    def __init__(self) -> None:
        self.time = START

    def __call__(self) -> datetime:
        """Return the moment, a little later each time."""
        self.time += timedelta(microseconds=1)
        return self.time


def assessment() -> tuple[dict[str, Any], dict[str, Any]]:
    """Return real marks and the result that they give: what is kept is as large as in use."""
    document = json.loads(MARKS.read_text(encoding="utf-8"))
    marks = parse_marks(document)
    photos = {p.file: read_photo((MARKS.parent / p.file).read_bytes()) for p in marks.photos}
    return document, json.loads(result_json(measure(marks, photos).result))


class Filler:
    """Fills a client file, many rows at once; each is sealed and chained as any other.

    What it writes is proven by ``verify`` at the end.
    """

    def __init__(self, file: ClientFile, clock: Clock) -> None:
        self.file, self.clock, self.chance = file, clock, random.Random(1)
        self.marks, self.result = assessment()
        saved = new(CLIENT, marks=self.marks, result=self.result)
        self.document = canonical({f.name: getattr(saved, f.name) for f in fields(saved)})
        self.clients: list[str] = []
        self.count = 0
        self._rows: dict[str, list[dict[str, Any]]] = defaultdict(list)
        self._head = file.history.head()

    def up_to(self, assessments: int) -> None:
        """Go on until there are so many."""
        self._head = self.file.history.head()  # others have saved meanwhile
        while self.count < assessments:
            for _ in range(min(AT_ONCE, (assessments - self.count + EACH - 1) // EACH)):
                self._client()
            with self.file.writing() as connection:
                for name in ("client", "client_key", "client_name", "revision", "chain"):
                    connection.execute(tables.METADATA.tables[name].insert(), self._rows[name])
            self._rows.clear()

    def _client(self) -> None:
        ring, number = self.file.ring, len(self.clients)
        client = str(uuid.UUID(int=self.chance.getrandbits(128)))
        name = f"{self.chance.choice(GIVEN)} {self.chance.choice(FAMILY)} {number} (invented)"
        key = new_data_key()
        seal = ring.of_client(client, key)
        self._fixed("client", client, client, {"id": client, "created_at": self.clock()})
        self._rows["client_key"].append({"client_id": client, "wrapped": ring.wrap(client, key)})
        named = {
            "client_id": client,
            "version": 1,
            "name": seal.close(place("client_name", "name", client, 1), name.encode()),
            "note": seal.close(place("client_name", "note", client, 1), b"a note, invented"),
            "at": self.clock(),
        }
        self._fixed("name", client, f"{client}/1", named, "client_name")
        document = self.document.replace(CLIENT.encode(), client.encode())
        for each in range(1, EACH + 1):
            self.clock.time += BETWEEN
            made = str(uuid.UUID(int=self.chance.getrandbits(128)))
            values = {
                "id": made,
                "client_id": client,
                "number": each,
                "token": f"{number} {self.count}",
                "side": "left",
                "document": seal.close(revision_place(client, made, each), document),
                "created_at": self.clock(),
            }
            self._fixed("revision", client, made, values)
            self.count += 1
        self.clients.append(client)

    def _fixed(
        self, kind: str, client: str, record: str, values: dict[str, Any], table: str = ""
    ) -> None:
        """Add a row that never changes, and its entry in the chain."""
        self._rows[table or kind].append(values)
        seq = self._head.seq + 1
        entry = {
            "seq": seq,
            "at": self.clock(),
            "kind": kind,
            "client_id": client,
            "record": record,
            "digest": chain.row_digest(values),
            "detail": self.file.ring.studio.close(place("chain", "detail", seq), b"{}"),
        }
        self._head = chain.Head(seq, chain.mark(self.file.ring, entry, self._head.mac))
        self._rows["chain"].append({**entry, "mac": self._head.mac})


def timed(act: Callable[[], object], times: int) -> dict[str, float]:
    """Return the median and the 95th percentile of how long something takes, ms."""
    took = []
    for _ in range(times):
        began = time.perf_counter()
        act()
        took.append(1000 * (time.perf_counter() - began))
    return {
        "p50_ms": round(float(np.percentile(took, 50)), 1),
        "p95_ms": round(float(np.percentile(took, 95)), 1),
    }


def waits(store: str, filler: Filler, times: int) -> dict[str, Any]:
    """Return how long each thing takes that somebody waits for."""
    chance = random.Random(2)
    began = time.perf_counter()
    file = ClientFile.open(store, PASSPHRASE)
    file.let_walk_ins_go(before=timedelta(days=1))  # as the app does when it starts
    start_ms = 1000 * (time.perf_counter() - began)
    with file:
        began = time.perf_counter()
        file.clients("robin")
        first_ms = 1000 * (time.perf_counter() - began)

        def search() -> None:
            file.clients(f"{chance.choice(FAMILY)} {chance.randrange(100)}")

        def day() -> None:
            days = max(1, (filler.clock.time - START).days)
            start = START + timedelta(days=chance.randrange(days))
            file.saved_between(start, start + timedelta(days=1))

        def save() -> None:
            client = chance.choice(filler.clients)
            file.save_draft(client, "left", filler.marks)
            revision = new(client, marks=filler.marks, result=filler.result)
            file.save_revision(revision, f"late {chance.getrandbits(64)}")

        return {
            "assessments": filler.count,
            "clients": len(filler.clients),
            "document_bytes": len(filler.document),
            "start_ms": round(start_ms, 1),
            "first_search_ms": round(first_ms, 1),
            "search": timed(search, times),
            "all names": timed(file.clients, times),
            "timeline": timed(lambda: file.revisions(chance.choice(filler.clients)), times),
            "day's list": timed(day, times),
            "newest": timed(file.newest_revision, times),
            "save": timed(save, times),
        }


def proven(store: str) -> dict[str, float]:
    """Return how long it takes to look at everything once, s."""
    with ClientFile.open(store, PASSPHRASE) as file:
        began = time.perf_counter()
        faults = file.verify()
        took_s = time.perf_counter() - began
    if faults:
        raise RuntimeError(faults[0])
    return {"verify_s": round(took_s, 1)}


def run(server: str | None, sizes: list[int], times: int, prove: bool) -> list[dict[str, Any]]:
    """Fill a store to each size, and return what was waited for at each."""
    found = []
    with ExitStack() as stack:
        store = stack.enter_context(new_store(server))
        clock = Clock()
        file = stack.enter_context(ClientFile.open(store, PASSPHRASE, clock=clock))
        filler = Filler(file, clock)
        for size in sizes:
            began = time.perf_counter()
            filler.up_to(size)
            made_s = time.perf_counter() - began
            found.append(waits(store, filler, times) | {"made_s": round(made_s, 1)})
            print(json.dumps(found[-1]), file=sys.stderr, flush=True)
        began = time.perf_counter()
        file.close()  # records the pages of the embedded database
        found[-1]["close_s"] = round(time.perf_counter() - began, 2)
        if prove:
            found[-1] |= proven(store)
    return found


def main() -> None:
    """Print what came of it as JSON."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--sizes", type=int, nargs="+", default=[1_000, 10_000, 100_000])
    parser.add_argument("--times", type=int, default=TIMES)
    parser.add_argument("--unproven", action="store_true", help="verify nothing at the end")
    parser.add_argument("--server", help="an empty database on a PostgreSQL server")
    options = parser.parse_args()
    keys.PASSPHRASE_COST = keys.Cost(1, 1, 64)
    found = run(options.server, options.sizes, options.times, not options.unproven)
    json.dump(found, sys.stdout)


if __name__ == "__main__":
    main()
