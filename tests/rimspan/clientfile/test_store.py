"""The client file loses nothing that was acknowledged and changes nothing that was saved."""

import io
import signal
import subprocess
import sys
import textwrap
from concurrent.futures import ThreadPoolExecutor
from pathlib import Path

import pytest
import sqlalchemy as sa
from PIL import Image

from rimspan.clientfile import (
    ClientFile,
    DamagedError,
    NewRecord,
    NewRevision,
    Role,
    StoreError,
    UnknownError,
    tables,
)
from rimspan.clientfile.database import raw_engine
from rimspan.clientfile.triggers import trigger_names, triggers_there


def picture(shade: int = 120) -> bytes:
    out = io.BytesIO()
    Image.new("RGB", (32, 24), (shade, 90, 80)).save(out, "JPEG")
    return out.getvalue()


def new(client_id: str, **changes: object) -> NewRevision:
    values: dict = {
        "client_id": client_id,
        "side": "left",
        "marks": {"format": "rimspan-marks/1", "side": "left"},
        "result": {"value": 6.5},
        "criteria": {"name": "test"},
        "software": "rimspan test",
        "measured_by": "Apprentice (invented)",
        "confirmed_by": "Piercer (invented)",
        "statement": "The piercer decides.",
        "digest": "0" * 64,
        "photos": {},
    }
    return NewRevision(**{**values, **changes})


def test_clients_are_found_by_part_of_their_name(file: ClientFile) -> None:
    made = file.create_client("  Élodie Test (invented) ", note="a note")
    file.create_client("Someone Else (invented)")
    assert [c.id for c in file.clients("élodie")] == [made.id]
    assert file.client(made.id) == made
    assert len(file.clients()) == 2
    assert file.sealed is True


def test_unknown_ids_are_refused_by_name(file: ClientFile) -> None:
    for verb in (file.client, file.revision):
        with pytest.raises(UnknownError, match="nobody"):
            verb("nobody")
    with pytest.raises(UnknownError):
        file.save_draft("nobody", "left", {})


def test_photos_are_kept_once_under_their_hash(file: ClientFile) -> None:
    client = file.create_client("A (invented)")
    first = file.add_photo(client.id, picture(), "a.jpg", "left")
    assert file.add_photo(client.id, picture(), "again.jpg", "left") == first
    assert file.photos(client.id) == [first]
    assert len(file.photo_bytes(first.sha256)) == first.size


def test_a_changed_or_lost_photo_is_told(tmp_path: Path) -> None:
    with ClientFile.open(tmp_path) as file:
        client = file.create_client("A (invented)")
        kept = file.add_photo(client.id, picture(), "a.jpg", "left")
        (blob,) = (p for p in (tmp_path / "blobs").rglob("*") if p.is_file())
        data = bytearray(blob.read_bytes())
        data[-3] ^= 1
        blob.write_bytes(bytes(data))
        with pytest.raises(DamagedError, match=kept.sha256[:12]):
            file.photo_bytes(kept.sha256)
        blob.unlink()
        with pytest.raises(DamagedError, match="gone"):
            file.photo_bytes(kept.sha256)


def test_drafts_are_kept_by_ear(file: ClientFile) -> None:
    client = file.create_client("A (invented)")
    assert file.draft(client.id, "left") is None
    assert file.save_draft(client.id, "left", {"a": 1}) == 1
    assert file.save_draft(client.id, "left", {"a": [2.5, "ü"]}) == 2
    assert file.draft(client.id, "left") == {"a": [2.5, "ü"]}
    assert file.draft(client.id, "right") is None


def test_a_revision_comes_back_as_it_was_saved(file: ClientFile, store: str) -> None:
    client = file.create_client("A (invented)")
    kept = file.add_photo(client.id, picture(), "a.jpg", "left")
    saved = file.save_revision(new(client.id, photos={"a.jpg": kept.sha256}), "token-1")
    assert file.save_revision(new(client.id, side="right"), "token-1") == saved
    assert saved.number == 1
    with ClientFile.open(store) as again:
        assert again.revisions(client.id) == [saved]
        assert again.revision(saved.id).saved == saved.saved


def test_what_was_saved_holds_against_raw_sql(file: ClientFile, store: str) -> None:
    client = file.create_client("A (invented)")
    kept = file.add_photo(client.id, picture(), "a.jpg", "left")
    saved = file.save_revision(new(client.id, photos={"a.jpg": kept.sha256}), "t")
    file.void_revision(saved.id, "Piercer (invented)", "a test")
    file.consents.record(client.id, given=True, by="Piercer (invented)")
    file.people.add("Piercer (invented)", Role.PIERCER, "invented password")
    file.set_retention(100)
    visited = NewRecord("visit", "Piercer (invented)", {"words": "invented"}, client.id)
    file.add_record(visited, "visit")
    file.add_record(NewRecord("stock", "Piercer (invented)", {"items": []}), "stock")
    file.erase_client(file.create_client("B (invented)").id)
    engine = raw_engine(store)
    for table in tables.FIXED:
        column = tables.METADATA.tables[table].columns.keys()[0]
        for verb in (f"UPDATE {table} SET {column} = {column}", f"DELETE FROM {table}"):
            with (
                pytest.raises(sa.exc.DBAPIError, match="never changed"),
                engine.begin() as connection,
            ):
                connection.execute(sa.text(verb))
    engine.dispose()
    assert file.revision(saved.id).saved == saved.saved
    assert file.verify() == []


def test_the_triggers_stand_after_the_newest_migration(file: ClientFile) -> None:
    with file.reading() as connection:
        found = triggers_there(connection)
    assert found == trigger_names(file.engine.dialect.name, tables.FIXED)


def test_the_tables_are_those_of_the_newest_migration(file: ClientFile, store: str) -> None:
    engine = raw_engine(store)
    inspector = sa.inspect(engine)
    for table in tables.METADATA.sorted_tables:
        found = {column["name"] for column in inspector.get_columns(table.name)}
        assert found == {column.name for column in table.columns}
    engine.dispose()


def test_saving_at_once_gives_each_its_own_number(file: ClientFile) -> None:
    client = file.create_client("A (invented)")
    with ThreadPoolExecutor(4) as pool:
        saved = list(
            pool.map(lambda i: file.save_revision(new(client.id), f"token {i}"), range(12))
        )
    assert sorted(revision.number for revision in saved) == list(range(1, 13))


def test_a_kill_between_blob_and_row_loses_nothing_acknowledged(tmp_path: Path) -> None:
    with ClientFile.open(tmp_path) as file:
        client = file.create_client("A (invented)")
        kept = file.add_photo(client.id, picture(1), "a.jpg", "left")
    script = f"""
        import os, signal, io
        from PIL import Image
        from rimspan.clientfile import ClientFile, blobs
        put = blobs.FolderBlobs.put
        def put_and_die(self, connection, photo, kept):
            put(self, connection, photo, kept)
            os.kill(os.getpid(), signal.SIGKILL)
        blobs.FolderBlobs.put = put_and_die
        out = io.BytesIO(); Image.new("RGB", (9, 9), (9, 9, 9)).save(out, "PNG")
        ClientFile.open({str(tmp_path)!r}).add_photo({client.id!r}, out.getvalue(), "b", "left")
    """
    ended = subprocess.run([sys.executable, "-c", textwrap.dedent(script)], check=False)
    assert ended.returncode == -signal.SIGKILL
    with ClientFile.open(tmp_path) as file:
        assert file.photos(client.id) == [kept]
        assert file.photo_bytes(kept.sha256)
        assert file.add_photo(client.id, picture(2), "c.jpg", "left").size > 0


@pytest.mark.parametrize("where", ["a file", "no engine", "no driver"])
def test_a_store_that_cannot_be_opened_is_told(where: str, tmp_path: Path) -> None:
    (tmp_path / "taken").write_text("x")
    (tmp_path / "rimspan.sqlite").write_bytes(b"not a database" * 100)
    store = {
        "a file": tmp_path / "taken",
        "no engine": tmp_path,
        "no driver": "nosuchdb://localhost/x",
    }[where]
    with pytest.raises(StoreError, match="can't be opened"):
        ClientFile.open(store)
