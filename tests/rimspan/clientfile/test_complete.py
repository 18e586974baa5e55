"""Nothing is edited: what was wrong is void, what lay wrong is moved, and all of it shows."""

from __future__ import annotations

import random
from datetime import timedelta, timezone
from pathlib import Path

import pytest
import sqlalchemy as sa

from rimspan.clientfile import (
    ClientFile,
    ClientFileError,
    DamagedError,
    RefusedError,
    UnknownError,
    chain,
    tables,
)
from rimspan.clientfile.database import DATABASE, whole
from rimspan.clientfile.pages import unused
from tests.rimspan.clientfile.made import PIERCER, Clock, behind, fill, new, picture

PAGE_BYTES = 4096
SEALED = [
    ("client_key", "wrapped"),
    ("client_name", "name"),
    ("client_name", "note"),
    ("photo", "document"),
    ("draft", "document"),
    ("revision", "document"),
    ("void", "document"),
    ("consent", "document"),
    ("client_record", "document"),
    ("studio_record", "document"),
    ("chain", "detail"),
]


def test_a_void_revision_stays_as_it_was_with_the_reason(file: ClientFile, store: str) -> None:
    client = file.create_client("A (invented)").id
    saved = file.save_revision(new(client, pierced_by="Other (invented)"), "t")
    void = file.void_revision(saved.id, PIERCER, " the wrong ear ")
    assert void.void is not None
    assert (void.void.reason, void.void.by) == ("the wrong ear", PIERCER)
    assert void.saved == saved.saved
    assert (saved.measured_by, saved.decided_by, saved.pierced_by) == (
        "Apprentice (invented)",
        PIERCER,
        "Other (invented)",
    )
    with ClientFile.open(store) as again:
        assert again.revisions(client) == [void]
    with pytest.raises(RefusedError, match="is void already"):
        file.void_revision(saved.id, PIERCER, "again")
    assert file.verify() == []


@pytest.mark.parametrize(("by", "reason"), [("", "a reason"), (PIERCER, "  ")])
def test_void_needs_a_name_and_a_reason(file: ClientFile, by: str, reason: str) -> None:
    saved = file.save_revision(new(file.create_client("A (invented)").id), "t")
    with pytest.raises(RefusedError, match="without a name and a reason"):
        file.void_revision(saved.id, by, reason)
    assert file.revision(saved.id).void is None


def test_a_photo_goes_to_the_right_client_with_its_trace(file: ClientFile) -> None:
    wrong = file.create_client("A (invented)").id
    right = file.create_client("B (invented)").id
    photo = file.add_photo(wrong, picture(), "a.jpg", "left")
    plain = file.photo_bytes(photo.sha256)
    moved = file.move_photo(photo.id, right, PIERCER, "taken into the wrong file")
    assert file.photos(wrong) == []
    assert file.photos(right) == [moved]
    assert (moved.sha256, moved.filename, moved.side) == (photo.sha256, "a.jpg", "left")
    assert file.photo_bytes(photo.sha256) == plain
    (trace,) = (event for event in file.history.of(wrong) if event.kind == "move")
    assert (trace.record, trace.detail) == (photo.id, {"by": PIERCER, "to": moved.id})
    assert file.verify() == []
    with pytest.raises(UnknownError, match="moved or erased"):
        file.move_photo(photo.id, wrong, PIERCER, "back")


def test_a_photo_that_counts_is_not_moved_away(file: ClientFile) -> None:
    wrong, right = file.create_client("A (invented)").id, file.create_client("B (invented)").id
    photo = file.add_photo(wrong, picture(), "a.jpg", "left")
    saved = file.save_revision(new(wrong, photos={"a.jpg": photo.sha256}), "t")
    with pytest.raises(RefusedError, match="revision 1 was measured in it; void that first"):
        file.move_photo(photo.id, right, PIERCER, "wrong file")
    file.void_revision(saved.id, PIERCER, "another person's ear")
    file.move_photo(photo.id, right, PIERCER, "wrong file")
    assert file.verify() == []
    for to, reason in ((right, "again"), (wrong, " ")):
        moved = file.photos(right)[0]
        with pytest.raises(RefusedError):
            file.move_photo(moved.id, to, PIERCER, reason)


def test_a_revision_is_only_of_photos_that_are_the_client_s(file: ClientFile) -> None:
    one, other = file.create_client("A (invented)").id, file.create_client("B (invented)").id
    photo = file.add_photo(other, picture(), "a.jpg", "left")
    with pytest.raises(UnknownError, match="is not in this client's file"):
        file.save_revision(new(one, photos={"a.jpg": photo.sha256}), "t")


def test_the_photos_of_a_revision_are_known_in_any_order(file: ClientFile) -> None:
    client = file.create_client("A (invented)").id
    names = ["b.jpg", "c.jpg", "a.jpg"]
    photos = {
        name: file.add_photo(client, picture(shade), name, "left").sha256
        for shade, name in enumerate(names)
    }
    saved = file.save_revision(new(client, photos=photos), "t")
    assert saved.saved.photos == file.revision(saved.id).saved.photos == photos
    assert file.verify() == []


def test_another_name_keeps_the_one_before(file: ClientFile, store: str) -> None:
    client = file.create_client("A (invented)", "a note").id
    file.rename_client(client, "B (invented)", "another note")
    assert [c.name for c in file.clients()] == ["B (invented)"]
    assert file.clients("a (inv") == []
    with behind(store) as connection:
        counted = sa.select(sa.func.count()).select_from(tables.client_name)
        assert connection.scalar(counted) == 2
    with ClientFile.open(store) as again:
        assert (again.client(client).name, again.client(client).note) == (
            "B (invented)",
            "another note",
        )


def test_names_made_by_another_chair_are_found(file: ClientFile, store: str) -> None:
    assert file.clients() == []
    with ClientFile.open(store) as other:
        made = other.create_client("A (invented)")
        assert file.clients() == [made]
        other.rename_client(made.id, "B (invented)", "")
        assert [c.name for c in file.clients()] == ["B (invented)"]
        other.erase_client(made.id)
    assert file.clients() == []


def test_the_revisions_of_a_day_are_found_by_when_they_were_saved(store: str) -> None:
    clock = Clock()
    with ClientFile.open(store, clock=clock) as file:
        one, other = (file.create_client(name).id for name in ("A (invented)", "B (invented)"))
        saved = []
        for client in (one, other, one):
            saved.append(file.save_revision(new(client), str(len(saved))))
            clock.pass_s(3600)
        file.void_revision(saved[0].id, PIERCER, "a slip")
        start, end = saved[0].created_at, saved[2].created_at
        found = file.saved_between(start, end)
        assert [each.id for each in found] == [saved[0].id, saved[1].id]
        assert found[0].void is not None
        elsewhere = timezone(timedelta(hours=9))
        assert file.saved_between(start.astimezone(elsewhere), end) == found
        file.erase_client(other)
        assert [each.id for each in file.saved_between(start, end)] == [saved[0].id]
        assert file.saved_between(end + timedelta(days=1), end + timedelta(days=2)) == []
        assert file.newest_revision() == saved[2]


@pytest.mark.parametrize("kept", ["2026-11-26 18:29:25.11:189", "2026-11-26T18:29:25.118189"])
def test_a_damaged_moment_is_named_and_everything_else_looked_at(tmp_path: Path, kept: str) -> None:
    with ClientFile.open(tmp_path) as file:
        client = fill(file)
        with behind(str(tmp_path), "revision") as connection:
            changed = "UPDATE revision SET created_at = :kept WHERE number = 1"
            connection.execute(sa.text(changed), {"kept": kept})
        assert file.verify() == [f"revision 1 of client {client}: is not as it was saved"]
        with pytest.raises(DamagedError, match="a moment can't be read"):
            file.revisions(client)
        if "T" not in kept:  # another form of the same moment is backed up as that moment
            with pytest.raises(DamagedError, match="can't be read"):
                file.back_up(tmp_path / "b.rimspan")


def test_what_was_changed_beside_the_sealed_values_is_told(file: ClientFile, store: str) -> None:
    client = fill(file)
    (photo,) = file.photos(client)
    file.slots.new_recovery_key()
    slot = tables.key_slot
    with behind(store) as connection:
        connection.execute(tables.photo_index.update().values(side="right"))
        held = slot.c.kind == "recovery"
        document = bytearray(connection.scalar(sa.select(slot.c.document).where(held)))
        document[80] ^= 1
        connection.execute(slot.update().where(held).values(document=bytes(document)))
    said = file.verify()
    assert f"photo {photo.id} of client {client}: is listed under another ear or client" in said
    assert any(line.startswith("key_slot: the recovery slot") for line in said)


def test_bytes_changed_where_nothing_lies_are_told(tmp_path: Path) -> None:
    with ClientFile.open(tmp_path) as file:
        client = fill(file)
        file.save_draft(client, "right", {"long": "x" * 30_000})
        file.save_draft(client, "right", {})  # leaves pages that are kept for later
        file.save_draft(client, "left", {"long": "x" * 10_000})
        with file.reading() as connection:
            data, roots = whole(connection)
    places = [each for each in unused(data, roots) if each.zero and each.end > each.start]
    assert len(places) > 3
    path = tmp_path / "rimspan.sqlite"
    for each in (places[0], places[-1]):
        changed = bytearray(path.read_bytes())
        changed[each.end - 1] ^= 1
        path.write_bytes(bytes(changed))
        with ClientFile.open(tmp_path) as file:
            changed, said = file.verify()
        assert changed.startswith(f"page {each.page}, bytes ")
        assert f"(page {each.page}: something stands where nothing is kept)" in said
        path.write_bytes(data)
    header = bytearray(data)
    header[75] ^= 1
    path.write_bytes(bytes(header))
    with ClientFile.open(tmp_path) as file:
        assert any("page 1: the file's header was changed" in line for line in file.verify())


# The chain


def test_every_entry_links_to_the_one_before(file: ClientFile, store: str) -> None:
    client = fill(file)
    kinds = [event.kind for event in file.history.of(client)]
    assert kinds == ["client", "name", "consent", "photo", "revision", "revision", "void", "record"]
    with behind(store) as connection:
        rows = connection.execute(sa.select(tables.chain).order_by(tables.chain.c.seq)).all()
    before = chain.START
    for row in rows:
        values = {name: held for name, held in row._mapping.items() if name != "mac"}
        assert row.mac == chain.mark(file.ring, values, before)
        before = row.mac
    assert file.history.head() == chain.Head(len(rows), before)


@pytest.mark.parametrize(
    ("change", "said"),
    [
        ("UPDATE chain SET kind = 'name' WHERE seq = 3", "chain: entry 3"),
        ("UPDATE chain SET digest = 'x' WHERE seq = 2", "chain: entry 2"),
        ("DELETE FROM chain WHERE seq = 3", "chain: entries 3 to 3 are missing"),
        ("UPDATE chain SET at = (SELECT at FROM chain WHERE seq = 1) WHERE seq = 4", "entry 4"),
    ],
)
def test_a_changed_chain_is_told(file: ClientFile, store: str, change: str, said: str) -> None:
    fill(file)
    with behind(store, "chain") as connection:
        connection.execute(sa.text(change))
    assert any(said in line for line in file.verify())


def test_an_end_cut_off_shows_against_a_backup(
    file: ClientFile, store: str, tmp_path: Path
) -> None:
    fill(file)
    head = file.back_up(tmp_path / "b.rimspan")
    assert file.verify(head) == []
    with behind(store, "chain") as connection:
        connection.execute(sa.text("DELETE FROM chain WHERE seq >= 7"))
    for table in ("void", "client_record", "studio_record"):
        with behind(store, table) as connection:
            connection.execute(sa.text(f"DELETE FROM {table}"))
    assert file.verify() == []  # nothing in the file itself can tell
    assert any("isn't the one that the backup knows" in line for line in file.verify(head))


def test_rows_put_in_taken_out_or_changed_are_told(file: ClientFile, store: str) -> None:
    client = fill(file)
    revision = tables.revision
    with behind(store, "revision") as connection:
        row = dict(connection.execute(sa.select(revision)).first()._mapping)
        row |= {"id": "f" * 36, "number": 9, "token": "other"}
        connection.execute(revision.insert().values(**row))
        connection.execute(revision.update().where(revision.c.number == 2).values(side="right"))
    with behind(store, "consent") as connection:
        connection.execute(tables.consent.delete())
    said = file.verify()
    assert f"revision 9 of client {client}: is not in the chain" in said
    assert f"revision 2 of client {client}: is not as it was saved" in said
    assert any(line.startswith("consent") and "its row is gone" in line for line in said)


def test_a_photo_taken_out_of_the_list_is_told(file: ClientFile, store: str) -> None:
    client = fill(file)
    (photo,) = file.photos(client)
    with behind(store) as connection:
        connection.execute(tables.photo_index.delete())
    said = f"photo {photo.id} of client {client}: is listed no more, and nobody moved it"
    assert file.verify() == [said]


def test_a_damaged_name_hides_no_other(file: ClientFile, store: str) -> None:
    damaged = fill(file)
    whole = file.create_client("Kim Sample (invented)")
    name = tables.client_name
    with behind(store, "client_name") as connection:
        changed = name.update().where(name.c.client_id == damaged)
        connection.execute(changed.values(name=b"\x01" + bytes(40)))
    with ClientFile.open(store) as again:
        assert again.clients("kim") == [whole]
        assert [c.name for c in again.clients("damaged")] == [f"(damaged: client {damaged[:8]})"]


def test_a_lost_trigger_is_told(file: ClientFile, store: str) -> None:
    with behind(store) as connection:
        if connection.dialect.name == "sqlite":
            connection.execute(sa.text("DROP TRIGGER revision_no_update"))
        else:
            connection.execute(sa.text("DROP TRIGGER revision_fixed ON revision"))
    assert any("has lost the trigger revision_" in line for line in file.verify())


def test_what_goes_is_listed_and_nobody_else(file: ClientFile, store: str) -> None:
    stays, passing = file.create_client("A (invented)").id, file.walk_in().id
    assert file.verify() == []
    with behind(store) as connection:
        connection.execute(tables.leaving.update().values(client_id=stays))
    assert file.verify() == [
        f"client {passing}: is a walk-in and not listed as one",
        f"client {stays}: is listed as one who goes, and stays",
    ]
    assert file.let_walk_ins_go() == 0
    assert [client.id for client in file.clients()] == [stays]


def test_a_bit_turned_over_in_any_definition_is_told(tmp_path: Path) -> None:
    """Words of the tables, indices and triggers, of whatever effect: a space, a letter's case."""
    with ClientFile.open(tmp_path) as file, file.reading() as connection:
        wanted = "SELECT type, name, sql FROM sqlite_master WHERE sql IS NOT NULL"
        held = list(connection.exec_driver_sql(wanted))
    path = tmp_path / DATABASE
    whole, chance, told_by = path.read_bytes(), random.Random(5), set()
    for kind, name, sql in held:
        data = bytearray(whole)
        assert data.count(sql.encode()) == 1
        at = chance.randrange(len(sql.encode()))
        data[whole.find(sql.encode()) + at] ^= 1 << chance.randrange(8)
        path.write_bytes(bytes(data))
        try:
            with ClientFile.open(tmp_path) as file:
                said = file.verify()
            told_by.add("verify")
            assert any("the database itself" in line for line in said), (kind, name, at, said)
        except ClientFileError:
            told_by.add("open")
        for left in tmp_path.glob(f"{DATABASE}*"):
            left.unlink()
        path.write_bytes(whole)
    assert told_by == {"open", "verify"}
    with ClientFile.open(tmp_path) as file:
        assert file.verify() == []


@pytest.mark.parametrize(("table", "column"), SEALED)
def test_a_flipped_byte_in_any_sealed_value_is_named(
    file: ClientFile, store: str, table: str, column: str
) -> None:
    client = fill(file)
    found = tables.METADATA.tables[table]
    with behind(store, table) as connection:
        held = bytearray(connection.scalar(sa.select(found.c[column])))
        chance = random.Random(f"{table} {column}")
        held[chance.randrange(len(held))] ^= 1 << chance.randrange(8)
        connection.execute(found.update().values({column: bytes(held)}))
    said = file.verify()
    named = {"chain": "entry", "photo": "photo ", "studio_record": "studio "}
    assert any(named.get(table, client) in line for line in said), said


def test_a_flipped_byte_in_a_photo_is_named(tmp_path: Path) -> None:
    with ClientFile.open(tmp_path) as file:
        client = fill(file)
        (photo,) = file.photos(client)
        blob = tmp_path / "blobs" / photo.id[:2] / photo.id
        whole = blob.read_bytes()
        for at in (0, 5, len(whole) // 2, len(whole) - 1):
            data = bytearray(whole)
            data[at] ^= 4
            blob.write_bytes(bytes(data))
            assert file.verify() == [f"photo {photo.id} of client {client}: its bytes are damaged"]
        blob.unlink()
        assert file.verify() == [f"photo {photo.id} of client {client}: its bytes are gone"]
        blob.write_bytes(whole)
        assert file.verify() == []


def test_a_damaged_page_of_the_database_is_told(tmp_path: Path) -> None:
    with ClientFile.open(tmp_path) as file:
        for number in range(12):
            fill(file, f"Client {number} (invented)", shade=number)
    path = tmp_path / "rimspan.sqlite"
    whole = path.read_bytes()
    silent, said = [], []
    for seed in range(12):
        data = bytearray(whole)
        chance = random.Random(seed)
        page = chance.randrange(1, len(data) // PAGE_BYTES)
        data[page * PAGE_BYTES : page * PAGE_BYTES + 512] = chance.randbytes(512)
        path.write_bytes(bytes(data))
        try:
            with ClientFile.open(tmp_path) as file:
                silent += [] if file.verify() else [page]
        except ClientFileError as error:
            said.append(str(error))
    assert silent == []
    assert all("damaged" in line or "can't be opened" in line for line in said)
