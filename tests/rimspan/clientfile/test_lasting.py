"""Nothing acknowledged is lost: backups, full disks, and programs killed at any moment."""

from __future__ import annotations

import errno
import json
import os
import random
import signal
import subprocess
import sys
import threading
from pathlib import Path
from zipfile import ZipFile

import pytest

from rimspan.clientfile import (
    ClientFile,
    DamagedError,
    RefusedError,
    Secret,
    StoreError,
    WrongKeyError,
    blobs,
    export_client,
    import_client,
    read_header,
    restore,
)
from tests.rimspan.clientfile.made import PASSPHRASE, PIERCER, fill, new, noise, picture

SECRET = Secret(PASSPHRASE, None, demo=False)
ROOT = Path(__file__).parents[3]


def content(file: ClientFile) -> dict[str, object]:
    """Return what a client file says, without the ids and moments that a new one gives anew."""
    found: dict[str, object] = {}
    for client in file.clients():
        found[client.name] = (
            client.note,
            {side: file.draft(client.id, side) for side in ("left", "right")},
            [
                (r.number, r.side, r.result, r.void and r.void.reason)
                for r in file.revisions(client.id)
            ],
            [(p.filename, p.side, p.sha256) for p in file.photos(client.id)],
            [(c.given, c.by) for c in file.consents.of(client.id)],
        )
    return found


# Backups


def test_a_restored_backup_is_the_file_that_it_was(file: ClientFile, tmp_path: Path) -> None:
    fill(file)
    fill(file, "Kim Sample (invented)", shade=60)
    file.set_retention(100)
    before = content(file)
    made = file.back_up(tmp_path / "b.rimspan")
    assert read_header(tmp_path / "b.rimspan") == made
    assert made.vouched(file.ring)
    fill(file, "Later Example (invented)", shade=30)
    found = restore(tmp_path / "b.rimspan", tmp_path / "back", SECRET)
    assert (found.clients, found.faults) == (2, [])
    with ClientFile.open(tmp_path / "back") as back:
        assert content(back) == before
        assert back.retention_days() == 100
        assert back.verify(made) == []
        fill(back, "New Example (invented)", shade=90)
        assert back.verify(made) == []


def test_a_backup_goes_into_a_server_too(file: ClientFile, server: str, tmp_path: Path) -> None:
    fill(file)
    before = content(file)
    file.back_up(tmp_path / "b.rimspan")
    assert restore(tmp_path / "b.rimspan", server, SECRET).faults == []
    with ClientFile.open(server) as back:
        assert content(back) == before
        fill(back, "New Example (invented)", shade=90)
        assert back.verify() == []


def test_nothing_is_restored_over_a_file_or_by_a_wrong_passphrase(
    file: ClientFile, store: str, tmp_path: Path
) -> None:
    fill(file)
    place = tmp_path / "b.rimspan"
    file.back_up(place)
    with pytest.raises(RefusedError, match="only restored into a new one"):
        restore(place, store, SECRET)
    with pytest.raises(RefusedError, match="is there already"):
        file.back_up(place)
    with pytest.raises(WrongKeyError):
        restore(place, tmp_path / "back", Secret("other invented words", None, demo=False))
    with pytest.raises(StoreError, match="can't be read"):
        restore(tmp_path / "none.rimspan", tmp_path / "back", SECRET)
    assert not (tmp_path / "back").exists()
    assert file.verify() == []


def test_a_backup_opens_with_the_passphrase_of_its_day(file: ClientFile, tmp_path: Path) -> None:
    fill(file)
    file.back_up(tmp_path / "b.rimspan")
    file.slots.change_passphrase("other invented words")
    assert restore(tmp_path / "b.rimspan", tmp_path / "back", SECRET).faults == []


@pytest.mark.parametrize("seed", range(8))
def test_a_damaged_backup_is_told_and_nothing_restored(tmp_path: Path, seed: int) -> None:
    with ClientFile.open(tmp_path / "store") as file:
        fill(file)
        file.back_up(tmp_path / "b.rimspan")
    place, chance = tmp_path / "b.rimspan", random.Random(seed)
    with ZipFile(place) as archive:
        # Somewhere in what a member holds; between them is nothing that is read.
        info = chance.choice([i for i in archive.infolist() if i.file_size])
        at = info.header_offset + 30 + len(info.filename) + 20 + chance.randrange(info.file_size)
    data = bytearray(place.read_bytes())
    data[at] ^= 1 << chance.randrange(8)
    place.write_bytes(bytes(data))
    with pytest.raises((DamagedError, WrongKeyError)):
        restore(place, tmp_path / "back", SECRET)
    assert not (tmp_path / "back" / "rimspan.sqlite").exists()


def test_a_cut_off_backup_is_told(tmp_path: Path) -> None:
    with ClientFile.open(tmp_path / "store") as file:
        fill(file)
        file.back_up(tmp_path / "b.rimspan")
    place = tmp_path / "b.rimspan"
    whole = place.read_bytes()
    for share in (0.0, 0.3, 0.9, 0.999):
        place.write_bytes(whole[: int(len(whole) * share)])
        with pytest.raises(DamagedError, match="is no backup"):
            restore(place, tmp_path / "back", SECRET)


def test_a_backup_while_chairs_save_is_of_one_moment(file: ClientFile, tmp_path: Path) -> None:
    client = fill(file)
    stop = threading.Event()

    def save() -> None:
        number = 0
        while not stop.is_set():
            number += 1
            kept = file.add_photo(client, noise(number, 16), f"{number}.jpg", "left")
            file.save_revision(new(client, photos={"a": kept.sha256}), f"during {number}")

    saving = threading.Thread(target=save)
    saving.start()
    try:
        heads = [file.back_up(tmp_path / f"{n}.rimspan") for n in range(3)]
    finally:
        stop.set()
        saving.join()
    for number, head in enumerate(heads):
        found = restore(tmp_path / f"{number}.rimspan", tmp_path / f"back {number}", SECRET)
        assert found.faults == []
        assert file.verify(head) == []


# Export and import


def test_an_exported_client_comes_back_whole(file: ClientFile, store: str, tmp_path: Path) -> None:
    client = fill(file)
    export_client(file, client, tmp_path / "out")
    names = {p.relative_to(tmp_path / "out").parts[0] for p in (tmp_path / "out").rglob("*")}
    assert names == {"README.txt", "client.json", "photos", "drafts", "revisions", "records"}
    held = json.loads((tmp_path / "out" / "client.json").read_text("utf-8"))
    assert held["history"][0]["kind"] == "client"
    with ClientFile.open(tmp_path / "other") as other:
        made = import_client(other, tmp_path / "out")
        assert made.id != client
        assert content(other) == content(file)
        assert [r.created_at for r in other.revisions(made.id)] == [
            r.created_at for r in file.revisions(client)
        ]
        assert other.verify() == []


def test_a_folder_that_is_not_empty_is_not_exported_into(file: ClientFile, tmp_path: Path) -> None:
    client = fill(file)
    (tmp_path / "mine.txt").write_text("mine")
    with pytest.raises(RefusedError, match="isn't empty"):
        export_client(file, client, tmp_path)


@pytest.mark.parametrize("fault", ["photo", "json", "outside", "lost", "format"])
def test_a_changed_export_is_not_imported_by_halves(tmp_path: Path, fault: str) -> None:
    out = tmp_path / "out"
    with ClientFile.open(tmp_path / "store") as file:
        export_client(file, fill(file), out)
        (photo,) = (out / "photos").glob("*.jpg")
        if fault == "photo":
            photo.write_bytes(picture(7))
        elif fault == "json":
            (out / "revisions" / "0002.json").write_text("{")
        elif fault == "outside":
            (tmp_path / "secret.jpg").write_bytes(photo.read_bytes())
            listed = (out / "photos" / "photos.json").read_text("utf-8")
            changed = listed.replace(f"photos/{photo.name}", "../secret.jpg")
            (out / "photos" / "photos.json").write_text(changed)
        elif fault == "lost":
            photo.unlink()
        else:
            held = (out / "client.json").read_text("utf-8")
            (out / "client.json").write_text(held.replace("rimspan-client/1", "other/1"))
        with pytest.raises(DamagedError):
            import_client(file, out)
        assert len(file.clients()) == 1
        assert file.verify() == []


# Full disks


def test_a_full_disk_loses_nothing_and_is_told(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    with ClientFile.open(tmp_path / "store") as file:
        client = fill(file)
        before = content(file)

        def full(handle: int) -> None:
            raise OSError(errno.ENOSPC, os.strerror(errno.ENOSPC))

        with monkeypatch.context() as patched:
            patched.setattr(blobs.os, "fsync", full)
            with pytest.raises(StoreError, match=r"No space left.*nothing of this was kept"):
                file.add_photo(client, picture(9), "b.jpg", "left")
            with pytest.raises(StoreError, match="No space left"):
                file.back_up(tmp_path / "b.rimspan")
        assert not list(tmp_path.rglob(".new-*"))
        assert not list(tmp_path.glob("*.part"))
        assert content(file) == before
        assert file.verify() == []


def test_a_full_database_loses_nothing_and_is_told(tmp_path: Path) -> None:
    with ClientFile.open(tmp_path / "store") as file:
        client = fill(file)
        before = content(file)
        file.engine.dispose()
        with file.engine.connect() as connection:
            pages = connection.exec_driver_sql("PRAGMA page_count").scalar()
            connection.exec_driver_sql(f"PRAGMA max_page_count={pages + 2}")
            connection.rollback()
        # The pool has one connection, which now has the limit.
        with pytest.raises(StoreError, match=r"full.*nothing of this was kept"):
            file.save_draft(client, "right", {"long": "x" * 40_000})
        file.engine.dispose()
        after = content(file)
        for name, kept in before.items():
            assert after[name][2:] == kept[2:]
        assert file.verify() == []


# Kills at a certain moment; those at random are in test_reliability.py


def test_a_kill_amid_a_backup_leaves_no_backup(tmp_path: Path) -> None:
    with ClientFile.open(tmp_path / "store") as file:
        client = fill(file)
        for number in range(30):
            file.add_photo(client, noise(number), f"{number}.jpg", "left")
    script = f"""
import os, signal
from pathlib import Path
from rimspan.clientfile import ClientFile, dumping
write, count = dumping.Archive.write, [0]
def write_and_die(self, name, parts):
    write(self, name, parts)
    count[0] += 1
    if count[0] == 25:
        os.kill(os.getpid(), signal.SIGKILL)
dumping.Archive.write = write_and_die
ClientFile.open({str(tmp_path / "store")!r}).back_up(Path({str(tmp_path / "b.rimspan")!r}))
"""
    ended = subprocess.run([sys.executable, "-c", script], check=False, cwd=ROOT)
    assert ended.returncode == -signal.SIGKILL
    assert not (tmp_path / "b.rimspan").exists()
    with ClientFile.open(tmp_path / "store") as file:
        assert file.verify() == []
        file.back_up(tmp_path / "b.rimspan")
    assert restore(tmp_path / "b.rimspan", tmp_path / "back", SECRET).faults == []


def test_a_kill_amid_a_restore_can_be_done_again(tmp_path: Path) -> None:
    with ClientFile.open(tmp_path / "store") as file:
        fill(file)
        before = content(file)
        file.back_up(tmp_path / "b.rimspan")
    script = f"""
import os, signal
from pathlib import Path
from rimspan.clientfile import Secret, restore, blobs
put = blobs.FolderBlobs.put
def put_and_die(self, connection, photo, kept):
    put(self, connection, photo, kept)
    os.kill(os.getpid(), signal.SIGKILL)
blobs.FolderBlobs.put = put_and_die
secret = Secret({PASSPHRASE!r}, None, demo=False)
restore(Path({str(tmp_path / "b.rimspan")!r}), {str(tmp_path / "back")!r}, secret)
"""
    ended = subprocess.run([sys.executable, "-c", script], check=False, cwd=ROOT)
    assert ended.returncode == -signal.SIGKILL
    assert restore(tmp_path / "b.rimspan", tmp_path / "back", SECRET).faults == []
    with ClientFile.open(tmp_path / "back") as back:
        assert content(back) == before


def test_a_kill_amid_an_import_leaves_no_half_client(tmp_path: Path) -> None:
    with ClientFile.open(tmp_path / "store") as file:
        export_client(file, fill(file), tmp_path / "out")
        before = content(file)
    script = f"""
import os, signal
from pathlib import Path
from rimspan.clientfile import ClientFile, import_client
def die(*given, **more):
    os.kill(os.getpid(), signal.SIGKILL)
ClientFile.void_revision = die
import_client(ClientFile.open({str(tmp_path / "store")!r}), Path({str(tmp_path / "out")!r}))
"""
    ended = subprocess.run([sys.executable, "-c", script], check=False, cwd=ROOT)
    assert ended.returncode == -signal.SIGKILL
    with ClientFile.open(tmp_path / "store") as file:
        assert content(file) == before
        assert file.verify() == []
        assert file.let_walk_ins_go() == 1
        assert file.verify() == []
        import_client(file, tmp_path / "out")
        assert len(file.clients()) == 2


def test_who_saved_it_shows_in_the_history(file: ClientFile) -> None:
    client = file.create_client("A (invented)", by=PIERCER).id
    file.save_revision(new(client), "t")
    last = file.history.of(client)[-1]
    assert last.detail == {"measured_by": "Apprentice (invented)", "decided_by": PIERCER}
