"""The demo: what it lays out, where it refuses, and that it is invented."""

from __future__ import annotations

import json
from collections import Counter
from collections.abc import Iterator
from datetime import date
from itertools import pairwise
from pathlib import Path

import pytest

from assess.talk.plan import DOWNSIZING
from rimspan.cli import main
from rimspan.clientfile import ClientFile, canonical
from rimspan.demo import story
from rimspan.demo.client import CLIENTS, PIERCER
from rimspan.demo.lay_out import SIGN, SIGN_WORDS, samples
from rimspan.demo.story import HALFWAY, HEALED, POST
from rimspan.following import due, outcomes_of
from rimspan.insertions import sittings
from rimspan.screens.document import measurable
from rimspan.stock_keeping import stock_of
from rimspan.visits import piercings, visits_of
from sample_images.to_demo import SHIPPED, shipped_files


@pytest.fixture(scope="module")
def demo(tmp_path_factory: pytest.TempPathFactory) -> Path:
    folder = tmp_path_factory.mktemp("demo") / "into"
    assert main(["demo", "--into", str(folder)]) == 0
    return folder


def content(folder: Path) -> dict[str, bytes]:
    return {p.relative_to(folder).as_posix(): p.read_bytes() for p in folder.rglob("*.j*")}


def test_the_shipped_samples_are_the_sample_images() -> None:
    """Where this fails after rendering anew: python -m sample_images.to_demo."""
    packaged = {
        f"{ear.name}/{found.name}": found.read_bytes()
        for ear in samples().iterdir()
        for found in ear.iterdir()
    }
    assert packaged == shipped_files()


def test_photos_and_marks_are_laid_out(demo: Path) -> None:
    for name, data in shipped_files().items():
        assert (demo / "samples" / name).read_bytes() == data


def test_the_folder_says_that_nothing_in_it_is_real(demo: Path) -> None:
    assert (demo / SIGN).read_text("utf-8").startswith(SIGN_WORDS)
    for ear in SHIPPED:
        marks = json.loads((demo / "samples" / ear / "marks.json").read_text("utf-8"))
        assert "rendered" in marks["x_note"]


def test_a_saved_draft_of_the_demo_is_measured_from_what_was_saved(file: ClientFile) -> None:
    """So its Answer page shows what was confirmed, by whom and when."""
    seen = 0
    for client in file.clients():
        for revision in file.revisions(client.id)[:1]:
            draft = file.draft(client.id, revision.side)
            assert draft is not None
            assert draft["x_saved"]["id"] == revision.id
            assert canonical(measurable(draft)) == canonical(revision.marks)
            seen += 1
    assert seen == 2


@pytest.fixture
def file(demo: Path) -> Iterator[ClientFile]:
    with ClientFile.open(demo) as opened:
        yield opened


def client_of(file: ClientFile, name: str) -> str:
    return next(client.id for client in file.clients() if client.name == name)


def test_the_client_file_holds_four_invented_clients_with_drafts(file: ClientFile) -> None:
    clients = {client.name: client for client in file.clients()}
    assert set(clients) == {*CLIENTS, HALFWAY}
    assert all("invented" in name for name in clients)
    assert "invented" in PIERCER
    for client in clients.values():
        assert "Invented" in client.note
        assert file.draft(client.id, "left") or file.draft(client.id, "right")
    counted = {name: len(file.revisions(client.id)) for name, client in clients.items()}
    assert {name: count for name, count in counted.items() if count} == {HEALED: 2, HALFWAY: 1}
    assert file.verify() == []
    assert not file.sealed


def test_one_client_s_story_goes_from_the_first_talk_to_healed(file: ClientFile) -> None:
    client = client_of(file, HEALED)
    day, talk = sorted(file.revisions(client), key=lambda each: each.number, reverse=True)
    (sitting,) = sittings(file, client)
    pierced = sitting.insertion.at.date()
    assert talk.created_at.astimezone().date() < pierced == day.created_at.astimezone().date()
    assert sitting.revision == day.number
    assert not sitting.insertion.in_spite_of
    assert len(sitting.baseline) == 1
    (piercing,) = piercings(file, client, day)
    visits = [kept.visit for kept in piercing.visits]
    assert [visit.done for visit in visits] == ["keep", "shorten", "keep"]
    # Common practice, no source: the shorter post after four to six weeks.
    assert 28 <= (visits[1].on - pierced).days <= 42
    for before, visit in pairwise(visits):
        assert before.next_check is not None
        assert before.next_check.days.first <= visit.on <= before.next_check.days.last
    measured = visits[1]
    assert measured.recheck is not None
    assert sum("no measurable change" in said for said in measured.recheck.sentences) == 4
    assert measured.downsizing is not None
    assert measured.after is not None
    assert measured.after.length_mm == measured.downsizing.from_stock_mm
    (healed,) = outcomes_of(file, client)
    assert healed.became == "healed"
    assert visits[-1].on < healed.on < date.today()


def test_every_post_of_the_story_is_of_an_invented_lot_and_counted_down(file: ClientFile) -> None:
    items = stock_of(file).stock.items
    assert all("INVENTED" in item.lot and "INVENTED" in item.batch for item in items)
    used = [
        put.stock_key
        for name in (HEALED, HALFWAY)
        for sitting in sittings(file, client_of(file, name))
        for put in sitting.insertion.put_in
    ]
    used += [
        kept.visit.after.stock_key
        for kept in visits_of(file, client_of(file, HEALED))
        if kept.visit.done == "shorten" and kept.visit.after is not None
    ]
    assert len(used) == 3
    assert {i.key: POST.count - i.count for i in items if i.count < POST.count} == Counter(used)


def test_the_other_client_is_due_for_the_shorter_post(file: ClientFile) -> None:
    (expected,) = due(file)["due"]
    assert (expected.who.name, expected.check.name) == (HALFWAY, DOWNSIZING)


def test_laid_out_again_it_changes_nothing(demo: Path) -> None:
    marks = demo / "samples" / "flat" / "marks.json"
    before, kept = content(demo), marks.read_bytes()
    with ClientFile.open(demo) as file:
        entries = file.history.head().seq
    marks.write_text("{}", encoding="utf-8")
    assert main(["demo", "--into", str(demo)]) == 0
    assert marks.read_text("utf-8") == "{}"
    marks.write_bytes(kept)
    assert content(demo) == before
    with ClientFile.open(demo) as file:
        assert file.history.head().seq == entries


def test_a_telling_that_was_broken_off_goes_on_where_it_was(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    def stop(*_: object) -> None:
        raise KeyboardInterrupt

    with monkeypatch.context() as broken:
        broken.setattr(story, "record_baseline", stop)
        assert main(["demo", "--into", str(tmp_path)]) == 130
    assert main(["demo", "--into", str(tmp_path)]) == 0
    with ClientFile.open(tmp_path) as file:
        client = client_of(file, HEALED)
        assert len(file.revisions(client)) == 2
        (sitting,) = sittings(file, client)
        assert not sitting.lacks_baseline
        assert len(outcomes_of(file, client)) == 1
        assert file.verify() == []


@pytest.mark.parametrize("there", ["notes.txt", "README.txt"])
def test_a_folder_that_isnt_a_demo_is_refused(
    tmp_path: Path, capsys: pytest.CaptureFixture[str], there: str
) -> None:
    (tmp_path / there).write_text("mine", encoding="utf-8")
    assert main(["demo", "--into", str(tmp_path)]) == 2
    assert "isn't the demo" in capsys.readouterr().err
    assert [p.name for p in tmp_path.iterdir()] == [there]


def test_a_file_is_refused(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    (tmp_path / "file").write_text("mine", encoding="utf-8")
    assert main(["demo", "--into", str(tmp_path / "file")]) == 2
    assert capsys.readouterr().err.count("\n") == 1


def test_a_laid_out_sample_measures(demo: Path, capsys: pytest.CaptureFixture[str]) -> None:
    marks = demo / "samples" / "pronounced" / "marks-examined.json"
    assert main(["measure", str(marks)]) == 0
    assert "The rim supports this placement" in capsys.readouterr().out


def test_the_laid_out_visits_show_no_measurable_change(
    demo: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """The post is where it was by the pictures' making."""
    folder = demo / "samples" / "pronounced"
    visits = [str(folder / f"marks-{name}.json") for name in ("right-after", "week-5")]
    assert main(["recheck", *visits]) == 0
    assert "no measurable change" in capsys.readouterr().out.casefold()
