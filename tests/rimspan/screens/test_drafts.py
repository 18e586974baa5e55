"""Changes from several sides at once are all kept."""

from __future__ import annotations

from concurrent.futures import ThreadPoolExecutor
from pathlib import Path

import pytest

from rimspan.clientfile import ClientFile, RefusedError
from rimspan.screens.document import changed, hashes, with_marks, with_photo
from rimspan.screens.drafts import change_draft, draft_of, move_photo
from tests.rimspan.clientfile.made import PIERCER, new, picture


def test_a_draft_begins_empty(tmp_path: Path) -> None:
    with ClientFile.open(tmp_path) as file:
        client = file.create_client("Robin Example").id
        document = draft_of(file, client, "right")
    assert document["side"] == "right"
    assert document["photos"] == []


def test_no_change_is_lost_to_another(tmp_path: Path) -> None:
    with ClientFile.open(tmp_path) as file:
        client = file.create_client("Robin Example").id

        def bring(number: int) -> None:
            name = f"{number}.jpg"
            change_draft(file, client, "left", lambda d: with_photo(d, name, f"hash {number}"))

        with ThreadPoolExecutor(8) as pool:
            list(pool.map(bring, range(24)))
        kept = draft_of(file, client, "left")
    assert hashes(kept) == {f"{n}.jpg": f"hash {n}" for n in range(24)}


def test_what_changes_nothing_saves_nothing(tmp_path: Path) -> None:
    with ClientFile.open(tmp_path) as file:
        client = file.create_client("Robin Example").id
        change_draft(file, client, "left", dict)
        assert file.draft(client, "left") is None
        change_draft(file, client, "left", lambda d: changed(d, examined={"1": {"tissue": "firm"}}))
        assert file.draft(client, "left") is not None


def test_a_moved_photo_leaves_the_wrong_draft_for_the_right_one(tmp_path: Path) -> None:
    with ClientFile.open(tmp_path) as file:
        wrong, right = (file.create_client(name).id for name in ("Robin Example", "Kim Sample"))
        kept = file.add_photo(wrong, picture(), "a.jpg", "left")
        marks = {"placements": [{"label": "1", "entry": [1, 2]}]}
        change_draft(
            file,
            wrong,
            "left",
            lambda d: with_marks(with_photo(d, "a.jpg", kept.sha256), "a.jpg", marks),
        )
        saved = file.save_revision(new(wrong, photos={"a.jpg": kept.sha256}), "token")
        with pytest.raises(RefusedError, match="void that first"):
            move_photo(file, kept, right, PIERCER, "wrong file")
        assert hashes(draft_of(file, wrong, "left")) == {"a.jpg": kept.sha256}
        file.void_revision(saved.id, PIERCER, "another person's ear")
        move_photo(file, kept, right, PIERCER, "wrong file")
        assert draft_of(file, wrong, "left")["photos"] == []
        assert draft_of(file, right, "left")["photos"] == [
            {"file": "a.jpg", "x_sha256": kept.sha256}
        ]
        assert file.verify() == []
