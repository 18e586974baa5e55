"""A sample of the client file's hardness: kills, changed inputs, turned bits, chairs at once.

The trials are those of ``python -m benchmarks.reliability --file``, which does more of each; they
run in processes of their own, since they are split off, killed and measured.
"""

from __future__ import annotations

import json
import os
import subprocess
import sys
from pathlib import Path
from typing import Any

import pytest

from benchmarks import file_flips, file_work
from benchmarks.file_mutants import MOST_BYTES, Trial, tried
from rimspan.clientfile import ClientFile
from tests.rimspan.clientfile.made import fill

ROOT = Path(__file__).parents[3]
SERVER = os.environ.get("RIMSPAN_TEST_POSTGRES")
TIMEOUT_S = 300
"""Only so that a run that hangs ends."""


def came_of(trial: str, **options: object) -> dict[str, Any]:
    """Return what a trial said that ran in a process of its own."""
    given = [f"--{name}={value}" for name, value in options.items() if value is not None]
    done = subprocess.run(
        [sys.executable, "-m", f"benchmarks.{trial}", *given],
        check=False,
        capture_output=True,
        cwd=ROOT,
        text=True,
        timeout=TIMEOUT_S,
        env={**os.environ, "OPENBLAS_NUM_THREADS": "1", "PYTHONPATH": str(ROOT)},
    )
    assert done.returncode == 0, done.stderr[-3000:]
    return dict(json.loads(done.stdout))


engines = pytest.mark.parametrize(
    "server",
    [
        None,
        pytest.param(
            SERVER,
            marks=[
                pytest.mark.postgres,
                pytest.mark.skipif(
                    not SERVER,
                    reason="needs a PostgreSQL server: set RIMSPAN_TEST_POSTGRES to its URL",
                ),
            ],
        ),
    ],
    ids=["folder", "server"],
)


@engines
def test_killed_at_any_moment_nothing_acknowledged_is_lost(server: str | None) -> None:
    kills = 10 if server else 40
    found = came_of("file_kills", kills=kills, server=server)
    assert [each["faults"] for each in found.values()] == [[]] * 5
    assert sum(each["kills"] for each in found.values()) == kills
    for kind, each in found.items():
        assert each["acknowledged"] >= each["kills"], kind
    assert found["save"]["amid"] == found["save"]["kills"]


def test_what_is_looked_for_after_a_kill_can_be_missed(tmp_path: Path) -> None:
    with ClientFile.open(tmp_path) as file:
        client = fill(file)
        (photo,) = file.photos(client)
        there = [["client", client], ["photo", client, photo.sha256], ["draft", client, "-1"]]
        assert list(file_work.missing(file, there)) == []
        for lost in (
            ["revision", client, "nobody"],
            ["moved", client, "0" * 64],
            ["draft", client, "1"],
            ["erased", client],
            ["renamed", client, "Renamed-1"],
            ["client", "nobody"],
        ):
            assert list(file_work.missing(file, [lost])), lost


def test_changed_inputs_are_taken_or_refused_and_nothing_else() -> None:
    found = came_of("file_mutants", inputs=500, most=TIMEOUT_S)
    assert {kind: each["faults"] for kind, each in found["kinds"].items()} == {
        "photos": [],
        "marks": [],
        "imports": [],
        "backups": [],
    }
    assert sum(each["inputs"] for each in found["kinds"].values()) == 500
    assert all(each["refused"] for each in found["kinds"].values())
    assert found["peak_bytes"] < MOST_BYTES


def test_an_error_that_nobody_expects_is_a_fault() -> None:
    def trial(_: object) -> None:
        raise RecursionError("too deep")

    broken: Trial = trial
    assert "too deep" in tried(broken, 1, "x").faults[0]


def test_a_flipped_bit_is_told_wherever_it_lies() -> None:
    found = came_of("file_flips", flips=50)
    assert [each["faults"] for each in found.values()] == [[]] * 3
    assert sum(each["flips"] for each in found.values()) == 50
    assert found["photos"]["named"] == found["photos"]["flips"] > 0
    # The store's own key is told when the file is opened.
    sealed = found["sealed values"]
    assert sealed["named"] + sealed["file_damaged"] == sealed["flips"] > 0
    assert found["anywhere"]["page_alone"] > 0  # what only the record of pages can tell


def test_a_flip_that_is_not_told_or_not_with_its_page_is_a_fault() -> None:
    found = file_flips.Flipped()
    page = "page 3, bytes 8192 to 12287 of rimspan.sqlite: changed since the file was closed"
    file_flips.noted(found, "verify", [], "anywhere", 9000)
    file_flips.noted(found, "verify", ["revision 1 of client x: is damaged"], "anywhere", 9000)
    file_flips.noted(found, "verify", [page], "anywhere", 9)
    file_flips.noted(found, "verify", [], "photo x")
    assert (len(found.faults), found.page_alone) == (4, 0)
    assert found.faults[0] == "anywhere, byte 9000 (page 3): nothing is told"
    file_flips.noted(found, "verify", [page], "anywhere", 9000)
    assert (len(found.faults), found.page_alone) == (4, 1)


@engines
def test_three_chairs_at_once_lose_nothing(server: str | None) -> None:
    # On the server for less long: what differs there is how they wait for each other.
    seconds = 5 if server else 20
    found = came_of("file_chairs", chairs=3, seconds=seconds, pause=0.1, server=server)
    assert found["faults"] == []
    assert found["saved"] > 0
    assert set(found["acts"]) >= {"draft", "save", "search", "timeline"}
