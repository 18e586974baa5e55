"""Clients after a piercing for the browser tests: all people are invented.

What a tablet would do in many taps is put into the client file by its own verbs: the insertion,
the photo right after it, an open visit with both photos marked, earlier visits with what was
followed.
"""

from __future__ import annotations

import secrets
from dataclasses import replace
from datetime import datetime, timedelta
from pathlib import Path

from assess.visit_record import WornNow
from rimspan.clientfile import ClientFile, Person
from rimspan.insertions import Happened, record_baseline, record_insertion, sittings
from rimspan.screens.document import new_document, with_marks, with_photo
from rimspan.stock_keeping import receive
from rimspan.visits import record_visit, visits_of
from tests.browser.conftest import ALEX
from tests.rimspan.clientfile.made import new
from tests.rimspan.conftest import placement, result
from tests.rimspan.screens.conftest import ADULT
from tests.rimspan.screens.test_recheck_page import followed
from tests.rimspan.screens.test_visit_page import ITEM, LENGTHS, LONG
from tests.second_visit import Shot, shot

WEEKS = 5
HAND_PX = 0.7
POSTS = 20
"""Of each length in stock."""


def alex(file: ClientFile) -> Person:
    """Return the manager of the invented staff."""
    return next(person for person in file.people.all() if person.name == ALEX)


def pierced(store: Path, name: str, days: int = 7 * WEEKS, *, post: str = "1") -> str:
    """Return a client whose post, by its key in the stock, went in some days ago."""
    with ClientFile.open(store) as file:
        return pierced_at(file, name, file.clock() - timedelta(days=days), post)


def pierced_at(file: ClientFile, name: str, at: datetime, post: str = "1") -> str:
    """Return a client whose post went in at a moment; the file's clock is left there."""
    file.clock = lambda: at
    client, by = file.create_client(name).id, alex(file)
    for length in LENGTHS:
        receive(file, by, replace(ITEM, length_mm=length, count=POSTS), f"{length}")
    found = result(placement("1"), confirmed_by=ALEX).model_dump(mode="json")
    saved = new(client, result=found, confirmed_by=ALEX, talk=ADULT["x_talk"])
    made = file.save_revision(saved, f"saved {client}")
    record_insertion(file, by, made.id, Happened(at, ALEX, {"1": post}), f"in {client}")
    return client


def photographed_after(store: Path, client: str, taken: Shot | None = None) -> str:
    """Keep the photo right after the insertion, and return its hash."""
    with ClientFile.open(store) as file:
        photo = file.add_photo(client, (taken or shot()).data, "after.jpg", "left")
        (sitting,) = sittings(file, client)
        record_baseline(
            file, alex(file), client, sitting.number, (photo.sha256,), f"after {client}"
        )
    return photo.sha256


def opened(store: Path, client: str, today: Shot, *, marked: bool = True) -> None:
    """Open a visit with the baseline's photo marked, and today's, that is marked too or not."""
    first = photographed_after(store, client)
    with ClientFile.open(store) as file:
        photo = file.add_photo(client, today.data, "today.jpg", "left")
        held = {}
        for which, name, digest, taken in (
            ("baseline", "after.jpg", first, shot()),
            ("now", "today.jpg", photo.sha256, today),
        ):
            photos = with_photo(new_document("left"), name, digest)
            if marked or which == "baseline":
                made = taken.marks("1", HAND_PX, seed=len(which))
                photos = with_marks(photos, name, made, ALEX)
            held[which] = {part: photos[part] for part in ("side", "card", "photos")}
        visit = {"revision": 1, "label": "1", "token": secrets.token_hex(16), "recheck": held}
        file.save_draft(client, "left", new_document("left") | {"x_visit": visit})


def followed_over(store: Path, client: str, tilts: dict[int, float]) -> None:
    """Keep visits so many days after the insertion at which that tilt was measured, deg."""
    with ClientFile.open(store) as file:
        for days, tilt in tilts.items():
            known = visits_of(file, client)
            worn = known[-1].visit.after if known else WornNow(1.2, LONG, "1", "L-INVENTED", "B-1")
            assert worn is not None
            held = replace(followed(days, tilt), before=worn, after=worn)
            record_visit(file, alex(file), client, held, f"followed {days} {client}")
