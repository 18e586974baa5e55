"""What holds for every test.

A test in ``tests/reference/`` compares with something outside the program, and has to say with
what: without one of the markers ``published``, ``practice`` or ``memory``, and its source, the
collection stops.
"""

from __future__ import annotations

import os
import sys
from pathlib import Path

# Before NumPy is first imported, and for programs that tests start: several workers share few
# cores, and threads of theirs that wait for one another would burn the time of the others.
os.environ["OPENBLAS_NUM_THREADS"] = "1"
os.environ["OPENCV_FOR_THREADS_NUM"] = "1"

import pytest

from rimspan.clientfile import PASSPHRASE_FROM, keys, people

# Client files of the tests are sealed like any other; programs that tests start inherit this.
os.environ[PASSPHRASE_FROM] = "invented words for tests only"
# A try of a passphrase is dear on purpose, and a file keeps what it cost when it was made.
keys.PASSPHRASE_COST = keys.Cost(1, 1, 64)
people.PASSWORD_COST = keys.Cost(1, 1, 64)

REFERENCE = Path(__file__).parent / "reference"


def source_fault(item: pytest.Item) -> str | None:
    """Return what the item lacks to say where its expected values come from, or None."""
    published = item.get_closest_marker("published")
    if published is not None:
        given = published.kwargs
        if given.get("source") and given.get("where"):
            return None
        return "published needs source= and where="
    practice = item.get_closest_marker("practice")
    if practice is not None:
        return None if practice.args and practice.args[0] else "practice needs its note"
    memory = item.get_closest_marker("memory")
    if memory is not None:
        return None if memory.kwargs.get("source") else "memory needs source="
    return "needs one of the markers published, practice or memory"


def pytest_collection_modifyitems(items: list[pytest.Item]) -> None:
    """Stop the collection where a reference test doesn't name its source."""
    faults = [
        f"{item.nodeid}: {fault}"
        for item in items
        if REFERENCE in item.path.parents and (fault := source_fault(item)) is not None
    ]
    if faults:
        raise pytest.UsageError("\n".join(faults))


@pytest.fixture(autouse=True)
def _zones_as_each_file_says() -> None:
    """Let vobject read zones from each calendar anew: it keeps the first of a name that it read."""
    reader = sys.modules.get("vobject.icalendar")
    known = getattr(reader, "__tzidMap", {})
    for name in [name for name in known if name != "UTC"]:
        del known[name]
