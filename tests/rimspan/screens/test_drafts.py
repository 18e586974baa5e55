"""Changes from several sides at once are all kept."""

from __future__ import annotations

from concurrent.futures import ThreadPoolExecutor
from pathlib import Path

from rimspan.clientfile import ClientFile
from rimspan.screens.document import changed, hashes, with_photo
from rimspan.screens.drafts import change_draft, draft_of


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
