"""Random ways to use a client file, against a model of what must be in it."""

from __future__ import annotations

import shutil
import tempfile
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from dataclasses import dataclass, field
from pathlib import Path

import pytest
from hypothesis import HealthCheck, settings
from hypothesis import strategies as st
from hypothesis.stateful import (
    RuleBasedStateMachine,
    initialize,
    invariant,
    precondition,
    rule,
    run_state_machine_as_test,
)

from rimspan.clientfile import ClientFile, NewRecord, RefusedError, Secret, restore
from tests.rimspan.clientfile.conftest import server_store
from tests.rimspan.clientfile.made import PASSPHRASE, PIERCER, new, noise

SIDES = ("left", "right")
PICK = st.integers(0, 1_000)
WORDS = st.text(st.characters(exclude_categories=["Cs"]), max_size=12)


@dataclass
class Person:
    """What the model knows of one client."""

    name: str
    photos: dict[str, str] = field(default_factory=dict)
    """Hash of a photo -> side."""
    drafts: dict[str, str] = field(default_factory=dict)
    revisions: list[tuple[str, tuple[str, ...], str | None]] = field(default_factory=list)
    """What was measured, in which photos, and why it is void."""

    records: dict[str, list[tuple[str, tuple[str, ...]]]] = field(default_factory=dict)
    """Kind -> words and photos, the first first."""

    def copy(self) -> Person:
        records = {kind: list(held) for kind, held in self.records.items()}
        photos, drafts = dict(self.photos), dict(self.drafts)
        return Person(self.name, photos, drafts, list(self.revisions), records)


class Studio(RuleBasedStateMachine):
    """A client file in use; after every step it is whole, and holds what the model holds."""

    new_store: Callable[[], str]

    @initialize()
    def begin(self) -> None:
        self.folder = Path(tempfile.mkdtemp(prefix="rimspan-model-"))
        self.store, self.passphrase = self.new_store(), PASSPHRASE
        self.file = ClientFile.open(self.store, self.passphrase)
        self.people: dict[str, Person] = {}
        self.backups: list[tuple[Path, str, dict[str, Person], list[str]]] = []
        self.stocked: list[str] = []
        self.erased: set[str] = set()
        self.count = 0

    def _one(self, pick: int) -> str:
        return sorted(self.people)[pick % len(self.people)]

    def _next(self) -> int:
        self.count += 1
        return self.count

    @rule(name=WORDS)
    def create(self, name: str) -> None:
        client = self.file.create_client(name)
        self.people[client.id] = Person(name.strip())

    @precondition(lambda self: self.people)
    @rule(pick=PICK, name=WORDS)
    def rename(self, pick: int, name: str) -> None:
        client = self._one(pick)
        self.file.rename_client(client, name, "")
        self.people[client].name = name.strip()

    @precondition(lambda self: self.people)
    @rule(pick=PICK, side=st.sampled_from(SIDES))
    def add_photo(self, pick: int, side: str) -> None:
        client = self._one(pick)
        kept = self.file.add_photo(client, noise(self._next(), 8), "a.jpg", side)
        self.people[client].photos[kept.sha256] = side

    @precondition(lambda self: self.people)
    @rule(pick=PICK, side=st.sampled_from(SIDES), words=WORDS)
    def draft(self, pick: int, side: str, words: str) -> None:
        client = self._one(pick)
        self.file.save_draft(client, side, {"words": words})
        self.people[client].drafts[side] = words

    @precondition(lambda self: self.people)
    @rule(pick=PICK, words=WORDS)
    def save(self, pick: int, words: str) -> None:
        client = self._one(pick)
        photos = tuple(sorted(self.people[client].photos))[:2]
        named = {f"{9 - n}.jpg": digest for n, digest in enumerate(photos)}
        revision = new(client, result={"words": words}, photos=named)
        token = f"token {self._next()}"
        saved = self.file.save_revision(revision, token)
        assert self.file.save_revision(revision, token) == saved
        self.people[client].revisions.append((words, photos, None))

    @precondition(lambda self: any(p.revisions for p in self.people.values()))
    @rule(pick=PICK, reason=WORDS.filter(str.strip))
    def void(self, pick: int, reason: str) -> None:
        known = [(c, n) for c in sorted(self.people) for n in range(len(self.people[c].revisions))]
        client, at = known[pick % len(known)]
        words, photos, void = self.people[client].revisions[at]
        revision = self.file.revisions(client)[::-1][at]
        if void is not None:
            with pytest.raises(RefusedError):
                self.file.void_revision(revision.id, PIERCER, reason)
            return
        self.file.void_revision(revision.id, PIERCER, reason)
        self.people[client].revisions[at] = (words, photos, reason.strip())

    @precondition(lambda self: self.people)
    @rule(pick=PICK, words=WORDS, kind=st.sampled_from(("visit", "outcome")))
    def record(self, pick: int, words: str, kind: str) -> None:
        client = self._one(pick)
        photos = tuple(sorted(self.people[client].photos))[: pick % 2]
        made = NewRecord(kind, PIERCER, {"words": words}, client, photos)
        token = f"token {self._next()}"
        kept = self.file.add_record(made, token)
        assert self.file.add_record(made, token) == kept
        self.people[client].records.setdefault(kind, []).append((words, photos))

    @rule(words=WORDS)
    def stock(self, words: str) -> None:
        new = NewRecord("stock", PIERCER, {"items": [words]}, after=len(self.stocked))
        self.file.add_record(new, f"token {self._next()}")
        self.stocked.append(words)

    @precondition(lambda self: len(self.people) > 1)
    @rule(pick=PICK, to=PICK)
    def move(self, pick: int, to: int) -> None:
        client, right = self._one(pick), self._one(to)
        person = self.people[client]
        if client == right or not person.photos:
            return
        digest = sorted(person.photos)[pick % len(person.photos)]
        (photo,) = (p for p in self.file.photos(client) if p.sha256 == digest)
        counts = any(digest in photos and void is None for _, photos, void in person.revisions)
        held = any(digest in p for each in person.records.values() for _, p in each)
        if counts or held:
            with pytest.raises(RefusedError, match=r"void that first|which never changes"):
                self.file.move_photo(photo.id, right, PIERCER, "invented")
            return
        self.file.move_photo(photo.id, right, PIERCER, "invented")
        self.people[right].photos[digest] = person.photos.pop(digest)

    @precondition(lambda self: self.people)
    @rule(pick=PICK)
    def erase(self, pick: int) -> None:
        client = self._one(pick)
        self.file.erase_client(client)
        del self.people[client]
        self.erased.add(client)

    @rule()
    def back_up(self) -> None:
        place = self.folder / f"{self._next()}.rimspan"
        self.file.back_up(place)
        kept = {client: person.copy() for client, person in self.people.items()}
        self.backups.append((place, self.passphrase, kept, list(self.stocked)))

    @precondition(lambda self: self.backups)
    @rule(pick=PICK)
    def restore(self, pick: int) -> None:
        place, passphrase, kept, stocked = self.backups[pick % len(self.backups)]
        with ClientFile.open(self.store, self.passphrase) as present:
            present.back_up(self.folder / f"{self._next()}.rimspan")  # knows who was erased
        self.file.close()
        self.store, self.passphrase = self.new_store(), passphrase
        assert restore(place, self.store, Secret(passphrase, None, demo=False)).faults == []
        self.file = ClientFile.open(self.store, passphrase)
        self.people = {c: p.copy() for c, p in kept.items() if c not in self.erased}
        self.stocked = list(stocked)

    @rule()
    def change_passphrase(self) -> None:
        self.passphrase = f"invented words number {self._next()}"
        self.file.slots.change_passphrase(self.passphrase)

    @rule()
    def start_anew(self) -> None:
        self.file.close()
        self.file = ClientFile.open(self.store, self.passphrase)

    @invariant()
    def whole(self) -> None:
        if hasattr(self, "file"):
            self.check()

    def check(self) -> None:
        """Compare all that is in the file with the model."""
        assert self.file.verify() == []
        assert {c.id: c.name for c in self.file.clients()} == {
            client: person.name for client, person in self.people.items()
        }
        for client, person in self.people.items():
            photos = {p.sha256: p.side for p in self.file.photos(client)}
            assert photos == person.photos
            for digest in photos:
                assert self.file.photo_bytes(digest)
            for side in SIDES:
                draft = self.file.draft(client, side)
                assert (draft and draft["words"]) == person.drafts.get(side)
            saved = self.file.revisions(client)[::-1]
            assert [r.number for r in saved] == list(range(1, len(saved) + 1))
            read = [
                (
                    r.result["words"],
                    tuple(sorted(r.saved.photos.values())),
                    r.void and r.void.reason,
                )
                for r in saved
            ]
            assert read == person.revisions
            for kind, held in person.records.items():
                found = self.file.records(kind, client)[::-1]
                assert [(r.document["words"], r.photos) for r in found] == held
        stock = self.file.records("stock")[::-1]
        assert [r.document["items"][0] for r in stock] == self.stocked
        assert not self.erased & set(self.people)

    def teardown(self) -> None:
        if not hasattr(self, "file"):
            return
        self.file.close()
        shutil.rmtree(self.folder)


@contextmanager
def folders(tmp_path: Path) -> Iterator[Callable[[], str]]:
    count = iter(range(1_000_000))
    yield lambda: str(tmp_path / f"store {next(count)}")


@contextmanager
def servers(tmp_path: Path) -> Iterator[Callable[[], str]]:
    opened = []

    def store() -> str:
        opened.append(server_store())
        return next(opened[-1])

    try:
        yield store
    finally:
        for each in opened:
            next(each, None)


@pytest.mark.parametrize(
    ("stores", "examples"),
    [(folders, 12), pytest.param(servers, 3, marks=pytest.mark.postgres)],
)
def test_random_use_is_as_the_model_says(
    stores: Callable[[Path], object], examples: int, tmp_path: Path
) -> None:
    with stores(tmp_path) as new_store:  # type: ignore[attr-defined]

        class Used(Studio):
            pass

        Used.new_store = staticmethod(new_store)
        run_state_machine_as_test(
            Used,
            settings=settings(
                max_examples=examples,
                stateful_step_count=25,
                deadline=None,
                derandomize=True,
                database=None,
                suppress_health_check=list(HealthCheck),
            ),
        )
