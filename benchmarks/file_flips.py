"""Single bits turned over in a client file that was closed: ``verify`` tells each, and where.

Of every two flips one falls anywhere in the database file, and one within a sealed value, wherever
it lies, or in a photo's bytes.  One in the database that doesn't keep it from being opened must be
told with its page.
"""

from __future__ import annotations

import argparse
import json
import random
import re
import sys
import tempfile
from collections import Counter
from dataclasses import asdict, dataclass, field
from pathlib import Path

from benchmarks.file_invented import PASSPHRASE, PIERCER, fill
from rimspan.clientfile import ClientFile, ClientFileError, Role, keys
from rimspan.clientfile.database import DATABASE, raw_engine, reading
from rimspan.clientfile.dumping import reflected
from rimspan.clientfile.holding import RECORD

CLIENTS = 24
PAGE_BYTES = 4096


@dataclass
class Flipped:
    """What came of the flips of one kind."""

    flips: int = 0
    named: int = 0
    """Told with the revision, photo, client or other record that it hit."""
    file_damaged: int = 0
    """Told as damage of the database itself, or refused when it was opened."""
    page_alone: int = 0
    """Told as a page that was changed, and nothing more: no row uses those bytes."""
    faults: list[str] = field(default_factory=list)
    words: dict[str, int] = field(default_factory=dict)


def make(store: Path) -> None:
    """Make a client file in which every table holds something."""
    with ClientFile.open(store, PASSPHRASE) as file:
        for number in range(CLIENTS):
            client = fill(file, f"Client {number} (invented)", number)
            if number % 8 == 7:
                file.erase_client(client)
        person = file.people.add(PIERCER, Role.PIERCER, "invented password")
        assert person
        file.slots.new_recovery_key()
        file.set_retention(1000)


class Flips:
    """A client file, and what it was before a flip."""

    def __init__(self, store: Path) -> None:
        self.store, self.path, self.record = store, store / DATABASE, store / RECORD
        self.whole, self.recorded = self.path.read_bytes(), self.record.read_bytes()
        self.blobs = {path: path.read_bytes() for path in store.glob("blobs/??/*")}
        engine = raw_engine(store)
        with reading(engine) as connection:
            self.sealed = [
                (at, at + len(value), table.name)
                for table in reflected(connection)
                for row in connection.execute(table.select())
                for value in row
                if isinstance(value, bytes) and (at := self.whole.find(value)) >= 0
            ]
        engine.dispose()

    def said_of(self, path: Path, at: int, bit: int) -> tuple[str, list[str]]:
        """Flip a bit; return how it was told, and in which words."""
        whole = path.read_bytes()
        data = bytearray(whole)
        data[at] ^= 1 << bit
        path.write_bytes(bytes(data))
        try:
            with ClientFile.open(self.store, PASSPHRASE) as file:
                return "verify", file.verify()
        except ClientFileError as error:
            return "open", [str(error)]
        finally:
            for left in self.store.glob(f"{DATABASE}*"):
                left.unlink()
            self.path.write_bytes(self.whole)
            self.record.write_bytes(self.recorded)
            path.write_bytes(whole)


NAMED = re.compile(
    r"^(revision|photo|client|name|consent|void|person|setting|erased|chain|draft|repeat"
    r"|key_slot)"
)
DAMAGED = re.compile(
    r"^the database itself|is damaged|can't be opened|slot of the store's key|has lost"
    r"|newer version|passphrase doesn't open"
)
PAGE = re.compile(rf"^page (\d+), bytes \d+ to \d+ of {DATABASE}: changed since")


def flip_database(flips: Flips, count: int, seed: int) -> Flipped:
    """Flip bits anywhere in the database file."""
    found = Flipped()
    for number in range(count):
        chance = random.Random(f"{seed} anywhere {number}")
        at = chance.randrange(len(flips.whole))
        noted(found, *flips.said_of(flips.path, at, chance.randrange(8)), "anywhere", at)
    return found


def flip_values(flips: Flips, count: int, seed: int) -> dict[str, Flipped]:
    """Flip bits within sealed values and photos; each must be told by name."""
    found = {"sealed values": Flipped(), "photos": Flipped()}
    for number in range(count):
        chance = random.Random(f"{seed} value {number}")
        if number % 2:
            path = chance.choice(sorted(flips.blobs))
            at = chance.randrange(len(flips.blobs[path]))
            how, said = flips.said_of(path, at, chance.randrange(8))
            into = found["photos"]
            noted(into, how, said, f"photo {path.name}")
            if not any(line.startswith(f"photo {path.name}") for line in said):
                into.faults.append(f"photo {path.name}, byte {at}: isn't named: {said}")
            continue
        start, end, table = chance.choice(flips.sealed)
        at = chance.randrange(start, end)
        how, said = flips.said_of(flips.path, at, chance.randrange(8))
        noted(found["sealed values"], how, said, table, at)
        if table in ("revision", "photo") and not any(line.startswith(table) for line in said):
            found["sealed values"].faults.append(f"{table}, byte {at}: isn't named: {said}")
    return found


def noted(found: Flipped, how: str, said: list[str], place: str, at: int | None = None) -> None:
    """Count a flip, and note it as a fault if it isn't told, or not with its page.

    Parameters
    ----------
    at : which byte of the database file it hit; None for a photo
    """
    found.flips += 1
    words = Counter(found.words)
    pages = [int(told[1]) for line in said if (told := PAGE.search(line))]
    if at is not None:
        place = f"{place}, byte {at} (page {at // PAGE_BYTES + 1})"
    wanted = [] if at is None or how == "open" else [at // PAGE_BYTES + 1]
    if pages != wanted:
        found.faults.append(f"{place}: {said or 'nothing is told'}")
    elif any(NAMED.search(line) for line in said) and how == "verify":
        found.named += 1
    elif any(DAMAGED.search(line) for line in said):
        found.file_damaged += 1
    elif pages:
        found.page_alone += 1
    else:
        found.faults.append(f"{place}: {said or 'nothing is told'}")
    words.update({re.sub(r"[0-9a-f-]{36}|\d+", "#", line)[:60] for line in said})
    found.words = dict(words)


def run(count: int, seed: int) -> dict[str, Flipped]:
    """Flip so many bits, half of them anywhere in the database file."""
    with tempfile.TemporaryDirectory(prefix="rimspan-") as folder:
        store = Path(folder) / "store"
        make(store)
        flips = Flips(store)
        anywhere = flip_database(flips, count - count // 2, seed)
        return {"anywhere": anywhere, **flip_values(flips, count // 2, seed)}


def main() -> None:
    """Print what came of it as JSON."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--flips", type=int, default=50)
    parser.add_argument("--seed", type=int, default=1)
    options = parser.parse_args()
    keys.PASSPHRASE_COST = keys.Cost(1, 1, 64)
    found = run(options.flips, options.seed)
    json.dump({kind: asdict(each) for kind, each in found.items()}, sys.stdout)


if __name__ == "__main__":
    main()
