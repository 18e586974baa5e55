"""A piercer's past marks: kept once, corrected with the draft, nothing of the client in them."""

from __future__ import annotations

import json
from collections.abc import Iterable
from concurrent.futures import ThreadPoolExecutor
from dataclasses import replace

import pytest
import sqlalchemy as sa

from assess.repeatability import MarkSample, pooled_scatter
from rimspan.clientfile import ClientFile, DamagedError, UnknownError, tables
from rimspan.clientfile.database import raw_engine

ALEX, KIM = "Alex Invented", "Kim Sample"
PHOTO, OTHER = "a" * 64, "b" * 64
LABEL = "beside Robin's scar (invented)"


def marks(by: str = ALEX, passes: int = 3, photo: str = PHOTO) -> list[MarkSample]:
    return [
        MarkSample(by, photo, LABEL, point, number, 10.0 + number / 8, y)
        for point, y in (("entry", 20.0), ("exit", 27.0))
        for number in range(1, passes + 1)
    ]


def everything(store: str) -> dict[str, list[tuple[object, ...]]]:
    """Return all rows of the two tables, as they lie in the database."""
    engine = raw_engine(store)
    with engine.begin() as connection:
        rows = {
            table.name: [tuple(row) for row in connection.execute(sa.select(table))]
            for table in (tables.repeat_photo, tables.repeat_mark)
        }
    engine.dispose()
    return rows


def places(samples: Iterable[MarkSample]) -> list[tuple[str, str, int, float, float]]:
    return sorted((s.by, s.point, s.number, s.x_mm, s.y_mm) for s in samples)


@pytest.fixture
def client(file: ClientFile) -> str:
    return file.create_client("Robin Example (invented)").id


def test_marks_come_back_with_their_numbers(file: ClientFile, client: str, store: str) -> None:
    file.repeats.save(client, PHOTO, ALEX, marks())
    with ClientFile.open(store) as again:
        assert places(again.repeats.samples()) == places(marks())
        assert pooled_scatter(again.repeats.samples(ALEX)) == pooled_scatter(marks())


def test_the_same_marks_twice_change_nothing(file: ClientFile, client: str, store: str) -> None:
    file.repeats.save(client, PHOTO, ALEX, marks())
    before = everything(store)
    assert len(before["repeat_mark"]) == 6
    file.repeats.save(client, PHOTO, ALEX, marks())
    assert everything(store) == before


def test_what_was_corrected_or_taken_back_is_not_kept(file: ClientFile, client: str) -> None:
    file.repeats.save(client, PHOTO, ALEX, marks())
    moved = [replace(s, x_mm=s.x_mm + 1) if s.number == 2 else s for s in marks(passes=2)]
    file.repeats.save(client, PHOTO, ALEX, moved)
    assert places(file.repeats.samples()) == places(moved)
    file.repeats.save(client, PHOTO, ALEX, [])
    assert file.repeats.samples() == []


def test_chairs_that_save_the_same_marks_at_once_keep_them_once(
    file: ClientFile, client: str, store: str
) -> None:
    with ThreadPoolExecutor(4) as pool:
        list(pool.map(lambda _: file.repeats.save(client, PHOTO, ALEX, marks()), range(8)))
    assert {name: len(rows) for name, rows in everything(store).items()} == {
        "repeat_photo": 1,
        "repeat_mark": 6,
    }


def test_piercers_and_photos_are_kept_apart(file: ClientFile, client: str) -> None:
    file.repeats.save(client, PHOTO, ALEX, marks())
    file.repeats.save(client, PHOTO, KIM, marks(KIM, passes=2))
    file.repeats.save(client, OTHER, ALEX, marks(photo=OTHER))
    assert len(file.repeats.samples()) == 6 + 4 + 6
    assert places(file.repeats.samples(KIM)) == places(marks(KIM, passes=2))
    alex = pooled_scatter(file.repeats.samples(ALEX))
    assert alex is not None
    assert (alex.points, alex.photos, alex.dof) == (4, 2, 16)


def test_one_photo_of_two_piercers_is_known_as_one(file: ClientFile, client: str) -> None:
    for by in (ALEX, KIM):
        file.repeats.save(client, PHOTO, by, marks(by))
    assert len({s.place for s in file.repeats.samples()}) == 2


def test_somebody_elses_marks_are_a_mistake(file: ClientFile, client: str) -> None:
    with pytest.raises(ValueError, match="Kim"):
        file.repeats.save(client, PHOTO, ALEX, marks(KIM))
    assert file.repeats.samples() == []


def test_an_unknown_client_is_refused(file: ClientFile) -> None:
    with pytest.raises(UnknownError, match="nobody"):
        file.repeats.save("nobody", PHOTO, ALEX, marks())


def test_the_marks_hold_nothing_of_the_client(file: ClientFile, client: str, store: str) -> None:
    file.repeats.save(client, PHOTO, ALEX, marks())
    kept = everything(store)
    ((secret, owner, tag),) = kept["repeat_photo"]
    assert owner == client
    assert PHOTO not in str(tag)
    opened = [str(sample) for sample in file.repeats.samples()]
    rows = [str(value) for row in kept["repeat_mark"] for value in row]
    for text in [*opened, *rows]:
        for planted in (client, PHOTO, LABEL, "scar", str(secret)):
            assert planted not in text


def test_after_unlinking_only_the_piercers_millimetres_are_left(
    file: ClientFile, client: str, store: str
) -> None:
    file.repeats.save(client, PHOTO, ALEX, marks())
    other = file.create_client("Kim Example (invented)").id
    file.repeats.save(other, OTHER, ALEX, marks(photo=OTHER))
    file.repeats.unlink(client)
    kept = everything(store)
    assert [row[1] for row in kept["repeat_photo"]] == [other]
    assert len(kept["repeat_mark"]) == 12
    first = places(s for s in file.repeats.samples() if s.label)
    assert first == places([*marks(), *marks(photo=OTHER)])
    # The same photo again is a new one: nothing leads from it to the marks that were left.
    file.repeats.save(client, PHOTO, ALEX, marks())
    assert len(file.repeats.samples()) == 18
    assert len({s.photo for s in file.repeats.samples()}) == 3


def test_the_marks_are_sealed_to_their_place(file: ClientFile, client: str, store: str) -> None:
    """What was not sealed at that very place is told, not read."""
    file.repeats.save(client, PHOTO, ALEX, marks())
    engine = raw_engine(store)
    with engine.begin() as connection:
        mark = tables.repeat_mark
        connection.execute(mark.update().values(document=json.dumps({"by": ALEX}).encode()))
    engine.dispose()
    with pytest.raises(DamagedError, match="repeat_mark/"):
        file.repeats.samples()


def test_the_stamp_tells_other_marks_from_the_same(file: ClientFile, client: str) -> None:
    empty = file.repeats.stamp()
    file.repeats.save(client, PHOTO, ALEX, marks())
    kept = file.repeats.stamp()
    file.repeats.save(client, PHOTO, ALEX, marks())
    assert file.repeats.stamp() == kept != empty
    file.repeats.save(client, PHOTO, ALEX, [replace(s, x_mm=s.x_mm + 1) for s in marks()])
    moved = file.repeats.stamp()
    assert moved != kept
    file.repeats.save(client, PHOTO, ALEX, marks(passes=2))
    assert file.repeats.stamp() not in {empty, kept, moved}
