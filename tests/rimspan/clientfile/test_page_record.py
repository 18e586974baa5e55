"""The embedded database's pages are recorded at closing: any changed byte is told, and none else.

The programs of the tests with several of them are processes of their own, killed by SIGKILL.
"""

from __future__ import annotations

import os
import random
import subprocess
import sys
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from pathlib import Path

import pytest
from sqlalchemy import event

from rimspan.clientfile import ClientFile, Secret, StoreError, holding, restore
from rimspan.clientfile.database import DATABASE, raw_engine, whole
from rimspan.clientfile.holding import RECORD
from rimspan.clientfile.page_marks import changed_pages, record_of
from rimspan.clientfile.pages import unused
from tests.rimspan.clientfile.made import PASSPHRASE, behind, fill

ROOT = Path(__file__).parents[3]
WROTE, NOT_CLOSED = "has changed the file since it opened it", "ended without closing it"
PROGRAM = """
import sys
from rimspan.clientfile import ClientFile
file = ClientFile.open(sys.argv[1])
for act in sys.stdin:
    if act == "write\\n":
        file.create_client("A (invented)")
    elif act == "read\\n":
        file.clients()
    elif act == "close\\n":
        file.close()
    print("done", flush=True)
"""


@pytest.fixture
def closed(tmp_path: Path) -> Path:
    """Return a client file in which something is kept."""
    with ClientFile.open(tmp_path) as file:
        fill(file)
        file.save_draft(fill(file), "right", {"long": "x" * 30_000})
    return tmp_path


def verified(store: Path) -> tuple[list[str], str | None]:
    with ClientFile.open(store) as file:
        return file.verify(), file.unseen()


def flip(path: Path, at: int) -> None:
    data = bytearray(path.read_bytes())
    data[at] ^= 1
    path.write_bytes(bytes(data))


@contextmanager
def program(store: Path) -> Iterator[Callable[[str], None]]:
    """Yield what tells another program with the file open to do something; it is killed then."""
    child = subprocess.Popen(
        [sys.executable, "-c", PROGRAM, str(store)],
        stdin=subprocess.PIPE,
        stdout=subprocess.PIPE,
        text=True,
        cwd=ROOT,
        env={**os.environ, "PYTHONPATH": str(ROOT)},
    )
    assert child.stdin
    assert child.stdout

    def do(act: str) -> None:
        assert child.stdin
        assert child.stdout
        print(act, file=child.stdin, flush=True)
        assert child.stdout.readline() == "done\n"

    try:
        do("read")
        yield do
    finally:
        child.kill()
        child.wait()
        child.stdin.close()
        child.stdout.close()


def test_a_changed_byte_is_told_wherever_it_lies(closed: Path) -> None:
    path = closed / DATABASE
    assert verified(closed) == ([], None)
    with ClientFile.open(closed) as file, file.reading() as connection:
        between = [u for u in unused(*whole(connection)) if not u.zero and u.end > u.start]
    assert len(between) > 20
    for each in random.Random(3).sample(between, 8):
        at = random.Random(each.start).randrange(each.start, each.end)
        flip(path, at)
        first, last = (each.page - 1) * 4096, each.page * 4096 - 1
        said = f"page {each.page}, bytes {first} to {last} of {DATABASE}: changed since the file"
        for _ in range(2):  # looking doesn't take it over
            (told,) = verified(closed)[0]
            assert told == f"{said} was closed"
        flip(path, at)
    assert verified(closed) == ([], None)


def test_pages_in_a_row_and_another_length_are_told(tmp_path: Path) -> None:
    path, key, data = tmp_path / "any", b"k" * 32, bytearray(random.Random(1).randbytes(50_000))
    data[16:18] = (4096).to_bytes(2, "big")
    path.write_bytes(data)

    def told() -> list[str]:
        with path.open("rb") as stream:
            return list(changed_pages(stream.fileno(), key, record))

    with path.open("rb") as stream:
        record = record_of(stream.fileno(), key)
    assert len(record) == 28 + 13 * 16 + 32
    assert told() == []
    for at in (4096, 8192 + 4095, 49_999):
        data[at] ^= 128
    path.write_bytes(data)
    assert told() == ["pages 2 to 3, bytes 4096 to 12287", "page 13, bytes 49152 to 49999"]
    path.write_bytes(data[:20_000] + bytes(1))
    assert told()[-1] == "the length, once 50000 bytes and now 20001,"
    swapped = data[4096:8192] + data[:4096] + data[8192:]
    path.write_bytes(swapped)
    assert told()[0] == "pages 1 to 3, bytes 0 to 12287"


def test_only_a_change_takes_the_record_away_and_before_it_is_kept(closed: Path) -> None:
    record, log = closed / RECORD, closed / f"{DATABASE}-wal"
    kept = record.read_bytes()
    with ClientFile.open(closed) as file:
        file.let_walk_ins_go()  # which there are none of
        assert file.verify() == []
        assert record.read_bytes() == kept
        size, at_commit = log.stat().st_size, []
        event.listen(
            file.engine, "commit", lambda _: at_commit.append((record.exists(), log.stat().st_size))
        )
        file.create_client("A (invented)")
        assert at_commit[0] == (False, size)
        assert WROTE in str(file.unseen())
        assert file.verify() == []
    assert record.read_bytes() != kept
    assert verified(closed) == ([], None)


def test_another_definition_alone_takes_the_record_away(closed: Path) -> None:
    with behind(str(closed)) as connection:
        connection.exec_driver_sql("CREATE TABLE more (one INTEGER)")
    assert not (closed / RECORD).exists()


def test_clearing_away_takes_the_record_away(closed: Path) -> None:
    with ClientFile.open(closed) as file:
        file.erase_client(file.clients()[0].id)
        assert not (closed / RECORD).exists()
    assert verified(closed) == ([], None)


def test_a_change_is_refused_where_the_record_cannot_be_taken_away(
    closed: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    with ClientFile.open(closed) as file:
        before = file.clients()

        def fails(self: Path, missing_ok: bool = False) -> None:
            raise OSError(30, "Read-only file system")

        with monkeypatch.context() as broken:
            broken.setattr(Path, "unlink", fails)
            with pytest.raises(
                StoreError, match=r"Read-only file system.*nothing of this was kept"
            ):
                file.create_client("A (invented)")
        assert file.clients() == before
    assert verified(closed) == ([], None)


def test_a_disk_that_is_full_at_closing_leaves_no_record_and_no_fault(
    closed: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    with monkeypatch.context() as full, ClientFile.open(closed) as file:
        file.create_client("A (invented)")

        def no_room(handle: int) -> None:
            raise OSError(28, "No space left on device")

        full.setattr(holding.os, "fsync", no_room)
        file.close()
    assert not list(closed.glob(f"{RECORD}*"))
    faults, why = verified(closed)
    assert faults == []
    assert NOT_CLOSED in str(why)
    assert verified(closed) == ([], None)  # closed again, and now there is room


def test_a_record_that_was_changed_or_made_up_is_told(closed: Path) -> None:
    record = closed / RECORD
    kept = record.read_bytes()
    with (closed / DATABASE).open("rb") as stream:
        made_up = record_of(stream.fileno(), b"another key, invented")
    for data in (made_up, kept[:-1], b"", kept[:40] + bytes([kept[40] ^ 1]) + kept[41:]):
        record.write_bytes(data)
        said = f"{RECORD}: is damaged, so nothing can be held against it"
        assert verified(closed)[0] == [said]
    record.write_bytes(kept)
    assert verified(closed) == ([], None)


def test_where_there_are_no_locks_it_is_left_out(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(holding, "_locked", lambda handle, alone: False)
    with ClientFile.open(tmp_path) as file:
        fill(file)
    assert not (tmp_path / RECORD).exists()
    faults, why = verified(tmp_path)
    assert faults == []
    assert "has no locks" in str(why)


def test_a_restored_file_and_an_older_one_have_a_record(tmp_path: Path) -> None:
    with ClientFile.open(tmp_path / "store") as file:
        fill(file)
        file.back_up(tmp_path / "b.rimspan")
    secret = Secret(PASSPHRASE, None, demo=False)
    assert restore(tmp_path / "b.rimspan", tmp_path / "new", secret).faults == []
    assert verified(tmp_path / "new") == ([], None)


# Several programs


def test_the_last_to_close_records_and_nobody_before(closed: Path) -> None:
    with program(closed) as other:
        with ClientFile.open(closed) as file:
            file.create_client("B (invented)")
            other("write")
        assert not (closed / RECORD).exists()
        other("close")
        assert (closed / RECORD).exists()
    assert verified(closed) == ([], None)


def test_one_killed_and_the_other_closing_tell_nothing_wrong(closed: Path) -> None:
    with ClientFile.open(closed) as file:
        with program(closed) as other:
            other("write")
            assert NOT_CLOSED in str(file.unseen())
            assert file.verify() == []
        assert file.verify() == []
    assert verified(closed) == ([], None)


def test_killed_after_a_change_there_is_no_record_until_it_is_closed(closed: Path) -> None:
    with program(closed) as other:
        other("write")
    faults, why = verified(closed)
    assert faults == []
    assert NOT_CLOSED in str(why)
    assert verified(closed) == ([], None)


def test_killed_after_mere_reading_the_record_stays(closed: Path) -> None:
    with program(closed) as other:
        other("read")
        assert verified(closed) == ([], None)
    assert verified(closed) == ([], None)


def test_reading_past_sqlite_drops_none_of_its_locks(closed: Path) -> None:
    """Closing any handle to a file ends this process's POSIX locks on it: SQLite's, too."""
    with ClientFile.open(closed) as file:
        assert file.verify() == []
        with ClientFile.open(closed) as second:
            assert second.verify() == []
        # Were the lock gone, the other would think itself the last and take the log away.
        with program(closed) as other:
            other("write")
            other("close")
            assert (closed / f"{DATABASE}-wal").exists()
        assert len(file.clients()) == 3
    assert verified(closed) == ([], None)


def test_whoever_looks_at_a_store_without_its_key_records_nothing(closed: Path) -> None:
    (closed / RECORD).unlink()
    engine = raw_engine(closed)
    with engine.connect() as connection:
        connection.exec_driver_sql("SELECT count(*) FROM client")
        connection.rollback()
    engine.dispose()
    assert not (closed / RECORD).exists()
