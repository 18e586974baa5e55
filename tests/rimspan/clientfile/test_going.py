"""A client's right to go: the key is destroyed, and does not come back with a backup."""

from __future__ import annotations

from datetime import timedelta
from pathlib import Path
from typing import Any

import pytest
import sqlalchemy as sa

from rimspan.clientfile import (
    ClientFile,
    RefusedError,
    Secret,
    UnknownError,
    restore,
    tables,
)
from rimspan.clientfile.erasing import Erasing
from tests.rimspan.clientfile.made import PASSPHRASE, PIERCER, Clock, behind, fill, new, picture

SECRET = Secret(PASSPHRASE, None, demo=False)


def test_an_erased_client_leaves_a_number_and_a_day(file: ClientFile, store: str) -> None:
    gone, stays = fill(file), fill(file, "Kim Sample (invented)", shade=60)
    (photo,) = file.photos(gone)
    revision = file.revisions(gone)[0]
    file.erase_client(gone, by=PIERCER)
    for ask in (
        lambda: file.client(gone),
        lambda: file.draft(gone, "left") or file.save_draft(gone, "left", {}),
        lambda: file.revision(revision.id),
        lambda: file.revisions(gone),
        lambda: file.add_photo(gone, picture(), "a.jpg", "left"),
        lambda: file.consents.of(gone),
        lambda: file.erase_client(gone),
    ):
        with pytest.raises(UnknownError, match="was erased"):
            ask()
    assert [c.id for c in file.clients()] == [stays]
    assert not file.holds(photo.sha256)
    assert list(file.tombstones()) == [gone]
    assert file.verify() == []
    read = file.revisions(stays)
    assert [r.number for r in read] == [2, 1]
    with behind(store) as connection:
        for table in (tables.client_key, tables.photo_index, tables.draft, tables.repeat_photo):
            wanted = sa.select(table.c.client_id)
            assert gone not in connection.scalars(wanted).all(), table.name
    with file.reading() as connection:
        assert photo.id not in set(file.blobs.ids(connection))


def test_the_key_is_gone_from_the_files_themselves(tmp_path: Path) -> None:
    """Neither the database nor its log holds the bytes of the destroyed key."""
    store = tmp_path / "store"
    with ClientFile.open(store) as file:
        client = fill(file)
        with behind(str(store)) as connection:
            key = tables.client_key
            wrapped = connection.scalar(sa.select(key.c.wrapped).where(key.c.client_id == client))
        lying = b"".join(p.read_bytes() for p in store.iterdir() if p.is_file())
        assert wrapped in lying
        file.erase_client(client)
        lying = b"".join(p.read_bytes() for p in store.iterdir() if p.is_file())
        assert wrapped not in lying


def test_who_was_told_forgets_the_photos(file: ClientFile) -> None:
    forgotten: list[str] = []
    file.when_gone.append(forgotten.extend)
    client = fill(file)
    digests = [photo.sha256 for photo in file.photos(client)]
    file.erase_client(client)
    assert forgotten == digests


def test_erasing_unlinks_the_piercers_repeats(file: ClientFile) -> None:
    from assess.repeatability import MarkSample

    client = fill(file)
    digest = file.photos(client)[0].sha256
    sample = MarkSample(PIERCER, digest, "one", "entry", 1, 1.0, 2.0)
    file.repeats.save(client, digest, PIERCER, [sample])
    file.erase_client(client)
    assert [(s.x_mm, s.y_mm) for s in file.repeats.samples()] == [(1.0, 2.0)]
    assert file.verify() == []


def test_two_chairs_erase_a_client_while_another_works(file: ClientFile, store: str) -> None:
    client = fill(file)
    with ClientFile.open(store) as other:
        assert other.client(client)
        file.erase_client(client)
        with pytest.raises(UnknownError, match="was erased"):
            other.save_revision(new(client), "late")
        with pytest.raises(UnknownError, match="was erased"):
            other.save_draft(client, "left", {"late": True})
    assert file.verify() == []


# Restoring


def test_a_restore_does_not_bring_back_who_was_erased_since(
    file: ClientFile, tmp_path: Path
) -> None:
    gone, stays = fill(file), fill(file, "Kim Sample (invented)", shade=60)
    old, newer = tmp_path / "old.rimspan", tmp_path / "newer.rimspan"
    file.back_up(old)
    file.erase_client(gone)
    file.back_up(newer)
    found = restore(old, tmp_path / "back", SECRET)  # the newer one lies beside it
    assert (found.clients, found.erased_again, found.lists_read) == (1, 1, 1)
    assert found.faults == []
    with ClientFile.open(tmp_path / "back") as back:
        assert [c.id for c in back.clients()] == [stays]
        with pytest.raises(UnknownError, match="was erased"):
            back.client(gone)
        assert back.verify() == []
        kept = back.photos(stays)
        assert len(kept) == 1
        assert len(list((tmp_path / "back" / "blobs").glob("??/*"))) == 1


def test_the_present_store_may_tell_who_was_erased(file: ClientFile, tmp_path: Path) -> None:
    gone = fill(file)
    old = tmp_path / "old.rimspan"
    file.back_up(old)
    present = tmp_path / "present"
    restore(old, present, SECRET)
    with ClientFile.open(present) as later:
        later.erase_client(gone)
    without = restore(old, tmp_path / "without", SECRET)
    assert (without.clients, without.lists_read) == (1, 0)
    found = restore(old, tmp_path / "back", SECRET, [present])
    assert (found.clients, found.erased_again, found.lists_read) == (0, 1, 1)


def test_a_forged_list_erases_nobody(file: ClientFile, tmp_path: Path) -> None:
    from zipfile import ZipFile

    client = fill(file)
    old = tmp_path / "old.rimspan"
    file.back_up(old)
    with ZipFile(old) as archive:
        head = archive.read("rimspan.json").decode()
    forged = head.replace('"erased": {}', f'"erased": {{"{client}": "2026-01-01T00:00:00+00:00"}}')
    assert forged != head
    with ZipFile(tmp_path / "forged.rimspan", "w") as archive:
        archive.writestr("rimspan.json", forged)
    found = restore(old, tmp_path / "back", SECRET)
    assert (found.clients, found.lists_read) == (1, 0)


# Retention, consents, walk-ins


def test_retention_is_what_the_studio_sets(store: str) -> None:
    clock = Clock()
    with ClientFile.open(store, clock=clock) as file:
        assert file.retention_days() is None
        assert file.due() == []
        old = fill(file, "Old Example (invented)")
        clock.pass_s(timedelta(days=300).total_seconds())
        young = fill(file, "Young Example (invented)", shade=60)
        clock.pass_s(timedelta(days=100).total_seconds())
        file.set_retention(365)
        assert file.retention_days() == 365
        assert [c.id for c in file.due()] == [old]
        file.set_retention(90)
        assert [c.id for c in file.due()] == [old, young]
        file.set_retention(None)
        assert file.due() == []
        assert file.verify() == []


def test_consent_is_recorded_and_withdrawn(file: ClientFile) -> None:
    client = file.create_client("A (invented)").id
    assert file.consents.of(client) == []
    file.add_photo(client, picture(1), "a.jpg", "left")
    file.consents.record(client, given=True, by=PIERCER, note="on paper")
    file.add_photo(client, picture(2), "b.jpg", "left")
    file.consents.record(client, given=False, by=PIERCER)
    with pytest.raises(RefusedError, match="withdrew the consent to photos"):
        file.add_photo(client, picture(3), "c.jpg", "left")
    assert [(c.given, c.note) for c in file.consents.of(client)] == [
        (True, "on paper"),
        (False, ""),
    ]
    assert len(file.photos(client)) == 2
    file.consents.record(client, given=True, by=PIERCER)
    assert file.add_photo(client, picture(3), "c.jpg", "left")
    assert file.verify() == []


def test_a_walk_in_is_not_kept_until_somebody_wants_it(file: ClientFile, store: str) -> None:
    passing, wanted = file.walk_in(), file.walk_in()
    for each, shade in ((passing, 1), (wanted, 2)):
        file.add_photo(each.id, picture(shade), "a.jpg", "left")
        file.save_draft(each.id, "left", {"answer": "invented"})
        with pytest.raises(RefusedError, match="keep the client first"):
            file.save_revision(new(each.id), f"token {shade}")
    assert file.clients() == []
    assert file.client(passing.id).name == ""
    kept = file.keep_walk_in(wanted.id, "A (invented)", "stays")
    assert file.clients() == [kept]
    assert file.save_revision(new(kept.id), "kept").number == 1
    assert file.verify() == []
    with ClientFile.open(store) as other:  # the key was in the first program's memory only
        with pytest.raises(UnknownError, match="a walk-in that nobody kept"):
            other.draft(passing.id, "left")
        assert other.draft(kept.id, "left") == {"answer": "invented"}
        assert len(other.photos(kept.id)) == 1
        assert other.verify() == []
    with pytest.raises(UnknownError, match="is no walk-in here"):
        file.keep_walk_in(wanted.id, "B (invented)")
    other = file.walk_in()
    file.let_go(other.id)
    with pytest.raises(UnknownError, match="is no walk-in here"):
        file.let_go(kept.id)
    assert file.let_walk_ins_go(before=timedelta(hours=1)) == 0
    assert file.let_walk_ins_go() == 1
    with file.reading() as connection:
        assert len(list(file.blobs.ids(connection))) == 1
    assert file.tombstones() == {}
    assert file.verify() == []


def steps_to_start(store: Path) -> int:
    """Return how many steps of its own machine SQLite takes to open a file and let walk-ins go."""
    taken = [0]

    def step() -> None:
        taken[0] += 1

    def counted(connection: Any, _record: Any) -> None:
        connection.set_progress_handler(step, 1)

    sa.event.listen(sa.Engine, "connect", counted)
    try:
        with ClientFile.open(store) as file:
            assert file.let_walk_ins_go(before=timedelta(days=1)) == 0
            return taken[0]
    finally:
        sa.event.remove(sa.Engine, "connect", counted)


def test_the_start_reads_no_more_of_a_larger_file(tmp_path: Path) -> None:
    """Counted, not timed: who is kept, or was erased long ago, isn't looked through."""
    taken = []
    for count in (4, 80):
        with ClientFile.open(tmp_path) as file:
            for number in range(count):
                client = file.create_client(f"Client {number} (invented)").id
                if number % 4 == 3:
                    file.add_photo(client, picture(number), "a.jpg", "left")
                    file.erase_client(client)
        taken.append(steps_to_start(tmp_path))
    assert taken[0] == taken[1]


def test_what_a_kill_left_of_an_erased_client_goes_at_the_next_start(
    file: ClientFile, monkeypatch: pytest.MonkeyPatch
) -> None:
    client = fill(file)
    with monkeypatch.context() as killed:
        killed.setattr(Erasing, "_after", _interrupted)
        with pytest.raises(KeyboardInterrupt):
            file.erase_client(client)
    with file.reading() as connection:
        assert len(list(file.blobs.ids(connection))) == 1
    assert file.verify() == []
    assert file.let_walk_ins_go(before=timedelta(days=1)) == 0
    with file.reading() as connection:
        assert list(file.blobs.ids(connection)) == []
        assert list(connection.execute(tables.leaving.select())) == []
    assert file.verify() == []


def _interrupted(*given: object) -> None:
    raise KeyboardInterrupt
