"""Records beside the assessments: kept once, followed and never changed, gone with their client."""

from __future__ import annotations

import json
from concurrent.futures import ThreadPoolExecutor
from pathlib import Path
from threading import Barrier
from typing import Any

import pytest
import sqlalchemy as sa

from benchmarks.file_invented import content
from rimspan.clientfile import (
    ClientFile,
    ClientFileError,
    DamagedError,
    NewRecord,
    OvertakenError,
    RefusedError,
    Secret,
    UnknownError,
    export_client,
    import_client,
    restore,
    tables,
)
from rimspan.clientfile.record_kinds import KINDS
from tests.rimspan.clientfile.made import PASSPHRASE, PIERCER, behind, fill, noise

NOT_HERE = {"decided_by": PIERCER, "findings": ["soft tissue"], "elsewhere": ["the lobe"]}


def visit(client: str, words: str = "invented", **more: Any) -> NewRecord:
    return NewRecord("visit", PIERCER, {"words": words}, client, **more)


def stock(*items: str, after: int | None = None) -> NewRecord:
    return NewRecord("stock", PIERCER, {"items": list(items)}, after=after)


def test_a_record_reads_back_as_it_was_kept(file: ClientFile, store: str) -> None:
    client = file.create_client("A (invented)").id
    photo = file.add_photo(client, noise(1, 16), "a.jpg", "left")
    first = file.add_record(visit(client, photos=(photo.sha256,)), "one")
    second = file.add_record(visit(client, "again"), "two")
    other = file.add_record(NewRecord("not_here", PIERCER, NOT_HERE, client), "three")
    assert (first.number, second.number, other.number) == (1, 2, 1)
    with ClientFile.open(store) as again:
        assert again.records("visit", client) == [second, first]
        assert again.newest_record("visit", client) == second
        assert again.newest_record("not_here", client) == other
        assert again.newest_record("outcome", client) is None
        assert again.records_of_all("visit") == [second, first]
        assert again.verify() == []
    assert first.photos == (photo.sha256,)


def test_a_token_is_kept_once(file: ClientFile) -> None:
    client = file.create_client("A (invented)").id
    made = file.add_record(visit(client), "token")
    assert file.add_record(visit(client, "other words"), "token") == made
    with pytest.raises(RefusedError, match="another record"):
        file.add_record(NewRecord("outcome", PIERCER, {}, client), "token")
    assert file.records("visit", client) == [made]


def test_several_are_kept_together_or_not_at_all(file: ClientFile) -> None:
    client = file.create_client("A (invented)").id
    file.add_record(stock("one"), "first")
    with pytest.raises(OvertakenError):
        file.add_records([visit(client), stock("none", after=0)], "both")
    assert file.records("visit", client) == []
    both = file.add_records([visit(client), stock("none", after=1)], "both")
    assert file.add_records([visit(client), stock("none", after=1)], "both") == both
    assert file.records("stock")[0] == both[1]
    assert [each.number for each in file.records("stock")] == [2, 1]
    assert file.verify() == []


@pytest.mark.parametrize(
    ("new", "said"),
    [
        (NewRecord("no such kind", PIERCER, {}), "is no kind of record"),
        (NewRecord("visit", PIERCER, {}), "is no kind of record of a studio"),
        (NewRecord("stock", PIERCER, {}), "lacks items"),
        (NewRecord("stock", " ", {"items": []}), "without a name"),
        (NewRecord("stock", PIERCER, {"items": []}, photos=("0" * 64,)), "not in this client's"),
        (visit("0" * 36), "is not in this file"),
    ],
)
def test_what_cannot_be_kept_is_refused(file: ClientFile, new: NewRecord, said: str) -> None:
    with pytest.raises(ClientFileError, match=said):
        file.add_record(new, "token")
    assert file.verify() == []


def test_nothing_is_recorded_of_a_walk_in(file: ClientFile) -> None:
    walk_in = file.walk_in().id
    with pytest.raises(RefusedError, match="keep the client first"):
        file.add_record(visit(walk_in), "token")
    file.keep_walk_in(walk_in, "A (invented)")
    assert file.add_record(visit(walk_in), "token").number == 1


@pytest.mark.parametrize("table", ["client_record", "studio_record"])
@pytest.mark.parametrize("change", ["DELETE FROM {}", "UPDATE {} SET number = 9"])
def test_the_engine_refuses_to_change_one(
    file: ClientFile, store: str, table: str, change: str
) -> None:
    fill(file)
    with pytest.raises(sa.exc.DatabaseError, match="never changed"), behind(store) as connection:
        connection.execute(sa.text(change.format(table)))
    assert file.verify() == []


@pytest.mark.parametrize("name", ["client_record", "studio_record"])
def test_what_was_changed_behind_is_told(file: ClientFile, store: str, name: str) -> None:
    fill(file)
    table = tables.METADATA.tables[name]
    with behind(store, name) as connection:
        held = connection.scalar(sa.select(table.c.document))
        assert held is not None
        changed = bytes(held[:-1]) + bytes([held[-1] ^ 1])
        connection.execute(table.update().values(document=changed))
    said = file.verify()
    assert any("is not as it was saved" in line for line in said)
    assert any("is damaged" in line for line in said)
    with behind(store, name) as connection:
        connection.execute(table.delete())
    assert any("its row is gone" in line for line in file.verify())


def test_a_photo_that_belongs_to_one_stays(file: ClientFile, store: str) -> None:
    client, other = fill(file), file.create_client("B (invented)").id
    photo = file.add_photo(client, noise(5, 16), "b.jpg", "left")
    file.add_record(visit(client, photos=(photo.sha256,)), "token")
    with pytest.raises(RefusedError, match="belongs to the record visit 2"):
        file.move_photo(photo.id, other, PIERCER, "invented")
    index = tables.photo_index
    with behind(store) as connection:
        connection.execute(index.delete().where(index.c.photo_id == photo.id))
    assert any("record visit 2" in line and "is gone" in line for line in file.verify())


def test_they_go_with_their_client(file: ClientFile) -> None:
    gone, stays = fill(file), fill(file, "Kim Sample (invented)", 60)
    file.erase_client(gone)
    with pytest.raises(UnknownError, match="was erased"):
        file.records("visit", gone)
    assert [each.client_id for each in file.records_of_all("visit")] == [stays]
    assert file.verify() == []


def test_backup_and_restore_carry_them(file: ClientFile, tmp_path: Path) -> None:
    client = fill(file)
    file.back_up(tmp_path / "b.rimspan")
    secret = Secret(PASSPHRASE, None, demo=False)
    assert restore(tmp_path / "b.rimspan", tmp_path / "other", secret).faults == []
    with ClientFile.open(tmp_path / "other", PASSPHRASE) as other:
        assert other.records("visit", client) == file.records("visit", client)
        assert other.records("stock") == file.records("stock")


def test_an_export_brings_them_to_another_file(file: ClientFile, tmp_path: Path) -> None:
    client = fill(file)
    photo = file.photos(client)[0].sha256
    file.add_record(visit(client, "with a photo", photos=(photo,)), "token")
    folder = tmp_path / "export"
    export_client(file, client, folder)
    assert sorted(p.name for p in (folder / "records").iterdir()) == [
        "visit-0001.json",
        "visit-0002.json",
    ]
    with ClientFile.open(tmp_path / "other", PASSPHRASE) as other:
        brought = import_client(other, folder)
        assert content(other, brought.id) == content(file, client)
        assert other.records("stock") == []
        assert other.verify() == []


@pytest.mark.parametrize(
    "change",
    [
        {"kind": "stock"},
        {"kind": "no such kind"},
        {"photos": ["0" * 64]},
        {"number": "1"},
        {"more": 1},
    ],
)
def test_a_changed_export_is_not_imported(
    file: ClientFile, tmp_path: Path, change: dict[str, object]
) -> None:
    client = fill(file)
    export_client(file, client, tmp_path / "export")
    place = tmp_path / "export" / "records" / "visit-0001.json"
    place.write_text(json.dumps(json.loads(place.read_text()) | change))
    with pytest.raises(DamagedError):
        import_client(file, tmp_path / "export")
    assert [c.id for c in file.clients()] == [client]
    assert file.verify() == []


def test_every_kind_has_a_name_that_fits_and_is_of_somebody() -> None:
    for name, kind in KINDS.items():
        assert name == kind.name
        assert len(name) <= tables.client_record.c.kind.type.length
        assert kind.of in ("client", "studio")


def test_of_two_chairs_at_once_one_is_told(file: ClientFile, store: str) -> None:
    """Both count down from the same version of the stock; on both engines one of them is kept."""
    file.add_record(stock("two left"), "first")
    with ClientFile.open(store) as other, ThreadPoolExecutor(2) as chairs:
        begin = Barrier(2)

        def count_down(at: ClientFile, token: str) -> str:
            begin.wait()
            try:
                at.add_record(stock(f"one left, {token}", after=1), token)
            except OvertakenError:
                return "told"
            return "kept"

        both = [chairs.submit(count_down, at, name) for at, name in ((file, "a"), (other, "b"))]
        assert sorted(each.result() for each in both) == ["kept", "told"]
    assert len(file.records("stock")) == 2
    assert file.verify() == []
