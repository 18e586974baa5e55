"""Files of every format that was ever written must open for ever.

``tests/golden/`` is never written anew: a new format adds a file.  How they were made stands in
the functions here that begin with ``make_``.
"""

from __future__ import annotations

import json
import shutil
import signal
import subprocess
import sys
from pathlib import Path
from zipfile import ZipFile

import pytest
import sqlalchemy as sa

from benchmarks.file_invented import to_server
from rimspan.clientfile import (
    ClientFile,
    LockedError,
    NewRecord,
    Secret,
    StoreError,
    database,
    dumping,
    export_client,
    import_client,
    restore,
    tables,
)
from rimspan.clientfile.database import migrate, newest_schema
from rimspan.clientfile.dumping import reflected
from rimspan.clientfile.triggers import trigger_names, triggers_there
from tests.rimspan.clientfile.made import PASSPHRASE, PIERCER, new, noise

ROOT = Path(__file__).parents[3]
GOLDEN = ROOT / "tests" / "golden"
NAME, OTHER = "Robin Example (invented)", "Kim Sample (invented)"
SECRET = Secret(PASSPHRASE, None, demo=False)


def make_sealed(store: Path) -> str:
    """Fill a store as those of schema 0003 and later in the golden folder were."""
    with ClientFile.open(store, PASSPHRASE) as file:
        client = file.create_client(NAME, "a note, invented").id
        file.create_client(OTHER)
        file.consents.record(client, given=True, by=PIERCER, note="on paper")
        photo = file.add_photo(client, noise(3, 16), "a.jpg", "left")
        file.save_draft(client, "left", {"answer": "invented ü"})
        for number in (1, 2):
            result = {"value": 6.5 + number}
            saved = new(client, result=result, photos={"a.jpg": photo.sha256})
            first = file.save_revision(saved, f"token-{number}")
        file.void_revision(first.id, PIERCER, "a slip, invented")
        file.set_retention(1000)
    return client


def make_golden() -> None:
    """Write the golden files of schema 0003; run once, when it was new."""
    store = GOLDEN / "store-0003"
    client = make_sealed(store)
    with ClientFile.open(store, PASSPHRASE) as file:
        file.back_up(GOLDEN / "backup-1.rimspan")
        export_client(file, client, GOLDEN / "client-1")


def make_golden_with_a_walk_in(schema: str) -> None:
    """Write a golden store; run once when the schema was new: 0004, 0005, 0006."""
    store = GOLDEN / f"store-{schema}"
    client = make_sealed(store)
    with ClientFile.open(store, PASSPHRASE) as file:
        if schema >= "0006":
            photos = tuple(photo.sha256 for photo in file.photos(client))
            found = {"findings": ["rim too narrow"], "elsewhere": [], "decided_by": PIERCER}
            file.add_record(NewRecord("not_here", PIERCER, found, client, photos), "record")
            file.add_record(NewRecord("stock", PIERCER, {"items": []}), "stock")
        file.add_photo(file.walk_in().id, noise(4, 16), "b.jpg", "right")


def check_sealed(file: ClientFile) -> None:
    (client,) = file.clients("robin")
    assert (client.name, client.note) == (NAME, "a note, invented")
    assert file.draft(client.id, "left") == {"answer": "invented ü"}
    (photo,) = file.photos(client.id)
    assert len(file.photo_bytes(photo.sha256)) == photo.size
    newest, first = file.revisions(client.id)
    assert (first.result, newest.result) == ({"value": 7.5}, {"value": 8.5})
    assert first.void is None
    assert newest.void is not None
    assert newest.void.reason == "a slip, invented"
    assert [c.note.split(" (")[0] for c in file.consents.of(client.id)] == ["on paper"]
    assert file.verify() == []


@pytest.fixture
def older(tmp_path: Path) -> Path:
    """Return a copy of a store of the time before there were keys."""
    return Path(shutil.copytree(GOLDEN / "store-0002", tmp_path / "older"))


def check_older(file: ClientFile) -> None:
    assert [c.name for c in file.clients()] == [OTHER, NAME]
    (client,) = file.clients("robin")
    assert client.note == "a note, invented"
    draft = file.draft(client.id, "left") or {}
    assert draft["answer"] == "invented again ü"
    left, right = (file.photos(client.id, side)[0] for side in ("left", "right"))
    assert draft["photos"] == [{"file": "a.jpg", "x_sha256": left.sha256}]
    assert (left.filename, right.filename) == ("a.jpg", "b.jpg")
    assert len(file.photo_bytes(right.sha256)) == right.size
    read = [(r.number, r.result, r.saved.photos) for r in file.revisions(client.id)]
    assert read == [(n, {"value": 6.5 + n}, {"a.jpg": left.sha256}) for n in (2, 1)]
    assert [(s.number, s.x_mm) for s in file.repeats.samples()] == [(1, 10.125), (2, 10.25)]
    assert file.verify() == []


def test_a_store_of_the_time_before_keys_opens_and_is_sealed(older: Path) -> None:
    with ClientFile.open(older, PASSPHRASE) as file:
        check_older(file)
        assert file.save_draft(file.clients("robin")[0].id, "left", {}) == 3
        with file.reading() as connection:
            assert triggers_there(connection) == trigger_names("sqlite", tables.FIXED)
    with ClientFile.open(older, PASSPHRASE) as file:
        assert file.verify() == []


PLAIN = [b"Robin", b"Kim Sample", b"a note", b"invented again", b"Piercer (inv", b"Alex Inv"]


def lying_in(folder: Path) -> bytes:
    return b"\0".join(p.read_bytes() for p in folder.rglob("*") if p.is_file())


def test_nothing_of_it_is_left_open(older: Path) -> None:
    photos = [p.read_bytes()[1:] for p in (older / "blobs").rglob("*") if p.is_file()]
    planted = [*PLAIN, *(plain[-60:-30] for plain in photos)]
    assert all(word in lying_in(older) for word in planted)
    with ClientFile.open(older, PASSPHRASE):
        lying = lying_in(older)
    assert not [word for word in planted if word in lying]


@pytest.mark.postgres
def test_a_server_s_store_of_the_time_before_keys_is_sealed_too(
    older: Path, server: str, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(dumping, "user_data_path", lambda *_, **__: tmp_path / "data")
    to_server(older, server)
    with ClientFile.open(server, PASSPHRASE) as file:
        check_older(file)
        with file.reading() as connection:
            assert triggers_there(connection) == trigger_names("postgresql", tables.FIXED)
            names = sa.inspect(connection).get_table_names()
            assert set(names) == {*tables.METADATA.tables, "alembic_version"}
            lying = b"\0".join(
                value if isinstance(value, bytes) else str(value).encode()
                for table in reflected(connection)
                for row in connection.execute(sa.select(table))
                for value in row
            )
    assert not [word for word in PLAIN if word in lying]
    assert list((tmp_path / "data" / "backups").iterdir()) == []


def test_without_a_passphrase_an_older_store_stays_as_it_is(
    older: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.delenv("RIMSPAN_PASSPHRASE")
    with pytest.raises(LockedError, match="has no passphrase yet"):
        ClientFile.open(older)
    with ClientFile.open(older, demo=True) as file:  # a demo that was laid out before
        check_older(file)
        assert not file.sealed


KILLING = {
    "amid the migration": ("rimspan.clientfile.sealing_older", "_Sealing", "_revision"),
    "before the older one is taken away": ("rimspan.clientfile.database", None, "write_anew"),
}


@pytest.mark.parametrize("moment", KILLING)
def test_a_kill_amid_sealing_loses_nothing(older: Path, moment: str) -> None:
    module, owner, name = KILLING[moment]
    script = f"""
import importlib, os, signal
from rimspan.clientfile import ClientFile
module = importlib.import_module({module!r})
def die(*given):
    os.kill(os.getpid(), signal.SIGKILL)
setattr(getattr(module, {owner!r}) if {owner!r} else module, {name!r}, die)
ClientFile.open({str(older)!r}, {PASSPHRASE!r})
"""
    ended = subprocess.run(
        [sys.executable, "-c", script.replace("'None'", "None")], check=False, cwd=ROOT
    )
    assert ended.returncode == -signal.SIGKILL
    with ClientFile.open(older, PASSPHRASE) as file:
        check_older(file)
        lying = lying_in(older)
    assert not [word for word in PLAIN if word in lying]


def test_a_store_of_0003_opens(tmp_path: Path) -> None:
    store = shutil.copytree(GOLDEN / "store-0003", tmp_path / "store")
    with ClientFile.open(store, PASSPHRASE) as file:
        check_sealed(file)
        assert file.retention_days() == 1000
        assert file.let_walk_ins_go() == 0


def test_a_store_of_0006_has_its_records(tmp_path: Path) -> None:
    store = shutil.copytree(GOLDEN / "store-0006", tmp_path / "store")
    with ClientFile.open(store, PASSPHRASE) as file:
        (client,) = file.clients("robin")
        (record,) = file.records("not_here", client.id)
        assert record.document["findings"] == ["rim too narrow"]
        assert record.photos == tuple(photo.sha256 for photo in file.photos(client.id))
        assert [(r.number, r.by, r.document) for r in file.records("stock")] == [
            (1, PIERCER, {"items": []})
        ]


@pytest.mark.parametrize("schema", ["0004", "0005", "0006"])
def test_a_later_store_opens_and_lets_its_walk_in_go(tmp_path: Path, schema: str) -> None:
    store = shutil.copytree(GOLDEN / f"store-{schema}", tmp_path / "store")
    with ClientFile.open(store, PASSPHRASE) as file:
        check_sealed(file)
        assert file.retention_days() == 1000
        assert file.let_walk_ins_go() == 1
        with file.reading() as connection:
            assert len(list(file.blobs.ids(connection))) == 1
        check_sealed(file)


def test_the_newest_schema_has_a_golden_store() -> None:
    assert (GOLDEN / f"store-{newest_schema()}").is_dir()


def test_a_backup_of_format_1_opens(store: str, tmp_path: Path) -> None:
    backup = shutil.copy(GOLDEN / "backup-1.rimspan", tmp_path / "b.rimspan")
    assert restore(Path(backup), store, SECRET).faults == []
    with ClientFile.open(store, PASSPHRASE) as file:
        check_sealed(file)


def test_an_export_of_format_1_is_imported(file: ClientFile) -> None:
    import_client(file, GOLDEN / "client-1")
    check_sealed(file)


def test_before_a_migration_the_tables_are_put_aside(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """With a migration that doesn't exist yet: whether it works or fails, nothing is lost."""
    store = Path(shutil.copytree(GOLDEN / "store-0003", tmp_path / "store"))

    def fails(connection: sa.Connection, **given: object) -> None:
        connection.execute(sa.text("DROP TABLE draft"))
        raise RuntimeError("no migration")

    def works(connection: sa.Connection, **given: object) -> None:
        migrate(connection)
        connection.execute(sa.text("UPDATE alembic_version SET version_num = '9999'"))

    monkeypatch.setattr(database, "newest_schema", lambda: "9999")
    monkeypatch.setattr(database, "migrate", fails)
    with pytest.raises(RuntimeError, match="no migration"):
        ClientFile.open(store, PASSPHRASE)
    monkeypatch.setattr(database, "migrate", works)
    with ClientFile.open(store, PASSPHRASE) as file:
        check_sealed(file)
    kept = sorted((store / "backups").iterdir())
    assert [p.name[:22] for p in kept] == ["before-migration-0003-"] * 2
    with ZipFile(kept[-1]) as archive:
        assert json.loads(archive.read("rimspan.json"))["schema"] == "0003"
        lines = {n: len(archive.read(n).splitlines()) for n in archive.namelist()}
    assert lines["tables/client.jsonl"] == 2
    assert lines["tables/revision.jsonl"] == 2
    assert lines["tables/chain.jsonl"] == 10
    assert b"Robin" not in kept[-1].read_bytes()


def test_a_store_of_a_newer_program_is_left_alone(file: ClientFile, store: str) -> None:
    later = f"{int(newest_schema()) + 1:04d}"
    with file.engine.begin() as connection:
        connection.execute(sa.text(f"UPDATE alembic_version SET version_num = '{later}'"))
    with pytest.raises(StoreError, match="written by a newer version"):
        ClientFile.open(store)
