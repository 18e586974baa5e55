"""Nobody without the key reads anything, nor puts one value in another's place."""

from __future__ import annotations

import json
import subprocess
import sys
from pathlib import Path

import pytest
import sqlalchemy as sa
from cryptography.hazmat.primitives.ciphers import Cipher, algorithms, modes

from rimspan.clientfile import (
    ClientFile,
    DamagedError,
    LockedError,
    NewRecord,
    RefusedError,
    Role,
    StoreError,
    WrongKeyError,
    keys,
    needs,
    tables,
)
from rimspan.clientfile.recovery import new_recovery_key, read_recovery_key
from rimspan.clientfile.seal import AesSeal
from tests.rimspan.clientfile.made import PASSPHRASE, behind, fill, new, noise

NAME, NOTE, ANSWER, FILENAME = "Zqname Planted", "zqnote planted", "zqanswer", "zqfile.jpg"
OTHER_PASSPHRASE = "quite other invented words"


def everything(store: str) -> bytes:
    """Return whatever lies in a store: its files, or all rows of its server's tables."""
    parts = []
    if "://" not in store:
        parts = [p.read_bytes() for p in Path(store).rglob("*") if p.is_file()]
    with behind(store) as connection:
        for table in tables.METADATA.sorted_tables:
            for row in connection.execute(sa.select(table)):
                parts += [v if isinstance(v, bytes) else str(v).encode() for v in row]
    return b"\0".join(parts)


def test_nothing_planted_is_found_in_the_store(file: ClientFile, store: str) -> None:
    client = file.create_client(NAME, NOTE).id
    file.rename_client(client, f"{NAME} again", f"{NOTE} again")
    photo = file.add_photo(client, noise(1), FILENAME, "left")
    plain = file.photo_bytes(photo.sha256)
    file.save_draft(client, "left", {"health": ANSWER, "photo": photo.sha256})
    saved = file.save_revision(
        new(client, photos={FILENAME: photo.sha256}, marks={"health": ANSWER}), "token"
    )
    file.void_revision(saved.id, "Zqpiercer", f"because {ANSWER}")
    file.consents.record(client, given=True, by="Zqpiercer", note=NOTE)
    held = {"decided_by": "Zqpiercer", "findings": [ANSWER], "elsewhere": []}
    file.add_record(NewRecord("not_here", "Zqpiercer", held, client, (photo.sha256,)), "record")
    file.add_record(NewRecord("stock", "Zqpiercer", {"items": [NOTE]}), "stock")
    file.people.add("Zqpiercer", Role.PIERCER, "zqpassword")
    lying = everything(store)
    planted = [NAME, NOTE, ANSWER, FILENAME, "Zqpiercer", "zqpassword", photo.sha256, PASSPHRASE]
    for word in planted:
        assert word.encode() not in lying, word
    for at in range(0, len(plain) - 24, 24):
        assert plain[at : at + 24] not in lying
    assert client.encode() in lying  # it would be found where it lies open


def test_a_sealed_value_is_aes_gcm_with_its_place_as_associated_data() -> None:
    """Opened by the plain cipher, not by the class that closed it."""
    key = bytes(range(32))
    closed = AesSeal(key, "scope").close("table/column/1", b"what is kept")
    nonce, body, tag = closed[1:13], closed[13:-16], closed[-16:]
    opening = Cipher(algorithms.AES(key), modes.GCM(nonce, tag)).decryptor()
    opening.authenticate_additional_data(b"scope\ntable/column/1")
    assert opening.update(body) + opening.finalize() == b"what is kept"
    assert closed[:1] == b"\x01"


def test_the_same_value_twice_is_not_known_for_the_same() -> None:
    seal = AesSeal(bytes(32), "scope")
    assert seal.close("place", b"same") != seal.close("place", b"same")


@pytest.mark.parametrize(
    ("table", "column", "where"),
    [
        ("client_name", "name", "client_id"),
        ("client_key", "wrapped", "client_id"),
        ("draft", "document", "client_id"),
        ("revision", "document", "client_id"),
        ("photo", "document", "client_id"),
        ("consent", "document", "client_id"),
        ("void", "document", "client_id"),
        ("client_record", "document", "client_id"),
    ],
)
def test_values_of_two_clients_cannot_be_swapped(
    file: ClientFile, store: str, table: str, column: str, where: str
) -> None:
    one, other = fill(file), fill(file, "Kim Sample (invented)", shade=60)
    assert file.verify() == []
    found = tables.METADATA.tables[table]
    with behind(store, table) as connection:
        held = {
            client: connection.scalar(
                sa.select(found.c[column]).where(found.c[where] == client).limit(1)
            )
            for client in (one, other)
        }
        for client, from_client in ((one, other), (other, one)):
            changed = found.update().where(found.c[where] == client)
            connection.execute(changed.values({column: held[from_client]}))
    said = "\n".join(file.verify())
    assert one in said
    assert other in said
    if table != "consent":
        with ClientFile.open(store) as again, pytest.raises(DamagedError):
            read_all(again, one)


def read_all(file: ClientFile, client: str) -> None:
    file.client(client)
    file.draft(client, "left")
    file.revisions(client)
    file.records("visit", client)
    for photo in file.photos(client):
        file.photo_bytes(photo.sha256)


def test_a_name_is_not_taken_for_a_note_nor_an_old_draft_for_a_new_one(
    file: ClientFile, store: str
) -> None:
    client = fill(file)
    draft = tables.draft
    with behind(store) as connection:
        before = connection.scalar(sa.select(draft.c.document))
    file.save_draft(client, "left", {"answer": "newer"})
    with behind(store, "client_name") as connection:
        name = tables.client_name
        connection.execute(name.update().values(note=sa.select(name.c.name).scalar_subquery()))
        connection.execute(draft.update().values(document=before))
    with ClientFile.open(store) as again:
        with pytest.raises(DamagedError, match="client_name/note"):
            again.client(client)
        with pytest.raises(DamagedError, match="draft/document"):
            again.draft(client, "left")


def test_revisions_cannot_change_numbers_nor_photos_ears(file: ClientFile, store: str) -> None:
    client = fill(file)
    revision = tables.revision
    with behind(store, "revision") as connection:
        for old, other in ((1, 3), (2, 1), (3, 2)):
            changed = revision.update().where(revision.c.number == old)
            connection.execute(changed.values(number=other))
    with pytest.raises(DamagedError, match="revision/document"):
        file.revisions(client)
    with behind(store, "photo") as connection:
        connection.execute(tables.photo.update().values(side="right"))
    with pytest.raises(DamagedError, match="photo/document"):
        file.photos(client)


def test_photos_cannot_be_swapped(tmp_path: Path) -> None:
    with ClientFile.open(tmp_path) as file:
        one, other = fill(file), fill(file, "Kim Sample (invented)", shade=60)
        paths = [tmp_path / "blobs" / p.id[:2] / p.id for c in (one, other) for p in file.photos(c)]
        first, second = (path.read_bytes() for path in paths)
        paths[0].write_bytes(second)
        paths[1].write_bytes(first)
        with pytest.raises(DamagedError, match="is damaged"):
            file.photo_bytes(file.photos(one)[0].sha256)
        assert len([line for line in file.verify() if "bytes are damaged" in line]) == 2


# What opens a store


def test_without_a_passphrase_it_stays_locked(
    file: ClientFile, store: str, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.delenv("RIMSPAN_PASSPHRASE")
    assert needs(store) == "passphrase"
    with pytest.raises(LockedError, match="is locked; give its passphrase"):
        ClientFile.open(store)
    with pytest.raises(WrongKeyError, match="the passphrase doesn't open"):
        ClientFile.open(store, OTHER_PASSPHRASE)
    with ClientFile.open(store, PASSPHRASE) as again:
        assert again.clients() == []


def test_a_new_store_needs_a_passphrase_that_is_long_enough(
    store: str, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.delenv("RIMSPAN_PASSPHRASE")
    with pytest.raises(LockedError, match="has no passphrase yet"):
        ClientFile.open(store)
    with pytest.raises(RefusedError, match="shorter than 12"):
        ClientFile.open(store, "short")
    assert needs(store) == "new"
    assert "://" in store or not Path(store).exists()
    with ClientFile.open(store, PASSPHRASE) as file:
        assert file.sealed


def test_a_demo_store_opens_to_everybody_and_never_becomes_another(
    store: str, monkeypatch: pytest.MonkeyPatch
) -> None:
    with ClientFile.open(store, demo=True) as file:
        fill(file)
        with pytest.raises(RefusedError, match="demo store"):
            file.slots.change_passphrase(OTHER_PASSPHRASE)
        with pytest.raises(RefusedError, match="demo store"):
            file.slots.new_recovery_key()
    monkeypatch.delenv("RIMSPAN_PASSPHRASE")
    assert needs(store) is None
    with ClientFile.open(store) as again:
        assert not again.sealed
        assert again.verify() == []


def test_a_new_passphrase_writes_nothing_else_anew(file: ClientFile, store: str) -> None:
    client = fill(file)
    before = rows(store)
    file.slots.change_passphrase(OTHER_PASSPHRASE)
    after = rows(store)
    changed = {name for name in after if after[name] != before[name]}
    assert changed == {"key_slot", "chain"}
    assert after["chain"][: len(before["chain"])] == before["chain"]
    with pytest.raises(WrongKeyError):
        ClientFile.open(store, PASSPHRASE)
    with ClientFile.open(store, OTHER_PASSPHRASE) as again:
        assert again.client(client).name == "Robin Example (invented)"
        assert again.verify() == []


def rows(store: str) -> dict[str, list[tuple[object, ...]]]:
    with behind(store) as connection:
        return {
            table.name: [tuple(row) for row in connection.execute(sa.select(table))]
            for table in tables.METADATA.sorted_tables
        }


def test_the_recovery_key_opens_it_however_it_is_written(file: ClientFile, store: str) -> None:
    with pytest.raises(WrongKeyError, match="no recovery key was ever made"):
        ClientFile.open(store, recovery_key=new_recovery_key())
    key = file.slots.new_recovery_key()
    sloppy = key.lower().replace("-", " ").replace("o", "0").replace("i", "1")
    with ClientFile.open(store, recovery_key=sloppy) as again:
        again.slots.change_passphrase(OTHER_PASSPHRASE)
    with ClientFile.open(store, OTHER_PASSPHRASE) as again:
        newer = again.slots.new_recovery_key()
    for wrong in (key, new_recovery_key()):
        with pytest.raises(WrongKeyError, match="isn't this client file's"):
            ClientFile.open(store, recovery_key=wrong)
    with ClientFile.open(store, recovery_key=newer) as again:
        assert again.verify() == []


@pytest.mark.parametrize("wrong", ["", "AAAA", "-".join(["AAAA"] * 9)])
def test_a_slip_in_the_recovery_key_is_told(wrong: str) -> None:
    with pytest.raises(WrongKeyError, match="nine groups"):
        read_recovery_key(wrong)


def test_every_wrong_sign_in_a_recovery_key_is_told() -> None:
    """Four check signs of 5 bits: one slip in a million would pass unseen."""
    key = new_recovery_key()
    for at, sign in enumerate(key):
        if sign != "-":
            slip = key[:at] + ("A" if sign != "A" else "B") + key[at + 1 :]
            with pytest.raises(WrongKeyError, match="nine groups"):
                read_recovery_key(slip)


def test_a_lost_and_a_damaged_key_are_told_apart(file: ClientFile, store: str) -> None:
    slot = tables.key_slot
    with behind(store) as connection:
        kept = connection.scalar(sa.select(slot.c.document))
        held = json.loads(kept)
        held["wrapped"] = held["wrapped"][:-2] + ("00" if held["wrapped"][-2:] != "00" else "11")
        connection.execute(slot.update().values(document=json.dumps(held).encode()))
    with pytest.raises(DamagedError, match="slot of the store's key is damaged"):
        ClientFile.open(store)
    with behind(store) as connection:
        connection.execute(slot.delete())
    with pytest.raises(StoreError, match="has lost its key"):
        ClientFile.open(store)


def test_a_client_whose_key_is_gone_is_told(file: ClientFile, store: str) -> None:
    client = fill(file)
    with behind(store) as connection:
        connection.execute(tables.client_key.delete())
    with pytest.raises(DamagedError, match="its key is gone"):
        file.draft(client, "left")
    said = f"client {client}: its key is gone, and nothing says that it was erased"
    assert said in file.verify()


def test_what_a_passphrase_costs_is_what_the_standard_says() -> None:
    """RFC 9106, section 4: t=3, p=4, m=2^16 KiB (64 MiB), 128-bit salt, 256-bit tag."""
    # Asked of another process: in this one the tests have made it cheap.
    ask = "from rimspan.clientfile.keys import PASSPHRASE_COST as c; print(*c.__getstate__())"
    said = subprocess.run([sys.executable, "-c", ask], capture_output=True, text=True, check=True)
    assert said.stdout.split() == ["3", "4", "65536"]
    assert (keys.SALT_BYTES * 8, keys.KEY_BYTES * 8) == (128, 256)
