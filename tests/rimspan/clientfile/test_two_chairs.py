"""Two chairs, or two programs, on one client's draft: nothing of either is written over."""

from __future__ import annotations

from concurrent.futures import ThreadPoolExecutor

import pytest

from rimspan.clientfile import ClientFile, OvertakenError
from rimspan.screens.document import changed
from rimspan.screens.drafts import Hand, change_draft, draft_of


def test_a_draft_that_another_chair_changed_is_not_written_over(store: str) -> None:
    with ClientFile.open(store) as one, ClientFile.open(store) as two:
        client = one.create_client("Robin Example (invented)").id
        for number in (0, 1):
            assert two.numbered_draft(client, "left")[1] == number
            one.save_draft(client, "left", {"by": "one", "number": number}, over=number)
            with pytest.raises(OvertakenError, match="another chair"):
                two.save_draft(client, "left", {"by": "two"}, over=number)
            assert two.draft(client, "left") == {"by": "one", "number": number}
        assert one.verify() == []


def test_changes_of_two_programs_at_once_all_stay(store: str) -> None:
    """Each has its own lock: only the running number in the file holds them apart."""
    with ClientFile.open(store) as one, ClientFile.open(store) as two:
        client = one.create_client("Robin Example (invented)").id

        def add(who: int) -> None:
            file = (one, two)[who % 2]
            change_draft(
                file,
                client,
                "left",
                lambda old: changed(old, examined={**old["examined"], str(who): {}}),
                Hand(f"Chair {who % 2}", f"{who % 2}"),
            )

        with ThreadPoolExecutor(4) as pool:
            list(pool.map(add, range(12)))
        found = draft_of(one, client, "left")
        assert set(found["examined"]) == {str(who) for who in range(12)}
        assert found["x_changed"]["by"] in {"Chair 0", "Chair 1"}
        assert one.numbered_draft(client, "left")[1] == 12
