"""Two invented clients after the first talk: one as far as healed, one due for the shorter post.

Told by the services that the screens and commands use, each step at the invented day of which it
is: the file that it is kept in must tell the time by a :class:`Calendar`.  Told again, it only adds
what is missing.
"""

from __future__ import annotations

import json
from collections.abc import Mapping
from dataclasses import dataclass, replace
from datetime import UTC, date, datetime, time, timedelta
from importlib.resources.abc import Traversable
from typing import Any

from assess.ends import End
from assess.outcome_counts import OutcomeRecord
from assess.stock import StockItem
from assess.talk.chair import CHAIR
from assess.talk.questions import QUESTIONS
from assess.talk.record import with_age, with_answer, with_step, with_written
from assess.visit_measured import Downsized, Recheck
from assess.visit_record import VisitRecord, WornNow, next_check
from assess.visit_signs import Done
from rimspan.assessment import assess_marks
from rimspan.clientfile import Client, ClientFile, Person, Revision
from rimspan.consultation import confirm_as, save
from rimspan.demo.client import NOTE, PIERCER, draft_of, photos_kept
from rimspan.demo.recheck import held_against, marked, shorter_today
from rimspan.following import outcomes_of, record_outcome
from rimspan.insertions import Happened, record_baseline, record_insertion
from rimspan.not_here import record_wish
from rimspan.stock_keeping import NEW, offered, receive, stock_of
from rimspan.studio import consent, decider
from rimspan.studio_clock import day_of
from rimspan.visits import Kept, piercings, record_visit, visits_of

HEALED = "Demo client A (invented, rendered ear)"
HALFWAY = "Demo client D (invented, rendered ear)"

LENGTHS_MM = (7.9375, 8.73125, 9.525, 10.31875, 11.1125, 11.90625)
LONG_MM, SHORT_MM = 10.31875, 7.9375
LOT, BATCH = "INVENTED-L{at}", "INVENTED-B1"
POST = StockItem(
    NEW,
    "barbell",
    1.2,
    LONG_MM,
    (End("ball", 3.0, 3.0), End("ball", 3.0, 3.0)),
    "Ti-6Al-4V ELI",
    "ASTM F136",
    LOT,
    BATCH,
    6,
    thread="internal",
)

NOON = time(12)
BEFORE_DAYS = 260
"""How long before the day of laying out the first talk was."""
PIERCED_DAYS, HALFWAY_DAYS = 7, 225
"""From the first talk to A's piercing and to D's: that is five weeks before the last day."""
LOOKS_DAYS = {"first": 15, "shorter": 36, "later": 90}
"""From A's piercing to the visits; D has had the first only."""
HEALED_DAYS = 168


class Calendar:
    """The clock of an invented file: it stands where the story is, and runs once that is told."""

    def __init__(self) -> None:
        self.day: date | None = None
        self._steps = 0

    def turn_to(self, day: date) -> None:
        """Stand at noon of a day."""
        self.day, self._steps = day, 0

    def __call__(self) -> datetime:
        """Return the moment: a second after the one before."""
        if self.day is None:
            return datetime.now(UTC)
        self._steps += 1
        return datetime.combine(self.day, NOON).astimezone() + timedelta(seconds=self._steps)


@dataclass(frozen=True, slots=True)
class Studio:
    """The invented studio that tells it: its file, its clock, its piercer, its pictures."""

    file: ClientFile
    calendar: Calendar
    piercer: Person
    samples: Traversable
    first: date
    """The day of A's first talk."""

    def on(self, days: int) -> date:
        """Turn the calendar to so many days after the first talk, and return the day."""
        day = self.first + timedelta(days=days)
        self.calendar.turn_to(day)
        return day


def tell(file: ClientFile, calendar: Calendar, samples: Traversable) -> None:
    """Put both clients with all that is kept of them into a demo's file, where it isn't there."""
    known = {client.name: client for client in file.clients()}
    piercer = next(person for person in file.people.all() if person.name == PIERCER)
    if HEALED in known:
        first = day_of(file, known[HEALED].created_at)
    else:
        first = day_of(file, calendar()) - timedelta(days=BEFORE_DAYS)
    studio = Studio(file, calendar, decider(file, piercer), samples, first)
    if HEALED not in known or not outcomes_of(file, known[HEALED].id):
        _stock(studio)
        _healed(studio, known.get(HEALED))
    if HALFWAY not in known or not visits_of(file, known[HALFWAY].id):
        _halfway(studio, known.get(HALFWAY))
    calendar.day = None


def _stock(studio: Studio) -> None:
    studio.on(-1)
    for at, length_mm in enumerate(LENGTHS_MM, start=1):
        item = replace(POST, length_mm=length_mm, lot=LOT.format(at=at))
        receive(studio.file, studio.piercer, item, f"demo stock {at}")


def _healed(studio: Studio, known: Client | None) -> None:
    file, by = studio.file, studio.piercer
    sample = studio.samples.joinpath("pronounced")
    marks = json.loads(sample.joinpath("marks-examined.json").read_text("utf-8"))
    studio.on(0)
    client = _talked(studio, HEALED, known)
    talk = with_written(
        _talk(studio.first, PIERCED_DAYS),
        "note",
        "Invented: wants a small ball, no ring while it heals.",
    )
    one = [photo for photo in marks["photos"] if photo["file"] == "square-on.jpg"]
    _assessed(studio, client, {**marks, "photos": one}, sample, talk, "demo A talk")
    record_wish(
        file, by, client.id, "a ring, once it has healed (invented)", f"demo wish {client.id}"
    )
    pierced = studio.on(PIERCED_DAYS)
    for step in CHAIR:
        talk = with_step(talk, step.id, done=True)
    revision = _assessed(studio, client, marks, sample, talk, "demo A day")
    baseline = marked(file, client.id, sample, "right-after", after=True)
    _put_in(studio, revision, "A", tuple(baseline.kept.photos.values()))
    follow = _Following(studio, client, revision, "A", pierced)
    follow.visit("first", "keep", "Invented: calm, cleaned twice a day.")
    studio.on(PIERCED_DAYS + LOOKS_DAYS["shorter"])
    now = marked(file, client.id, sample, "week-5")
    changed = held_against(baseline, now, "A", LONG_MM)
    (piercing,) = piercings(file, client.id, revision)
    shorter = shorter_today(file, piercing, now, _post(file, LONG_MM))
    said = "Invented: swelling gone, the long post moves."
    follow.visit("shorter", "shorten", said, recheck=changed, downsizing=shorter)
    follow.visit("later", "keep", "Invented: no soreness for weeks.")
    ended = studio.on(PIERCED_DAYS + HEALED_DAYS)
    said = "Invented: no soreness, no swelling, no crust for two months."
    healed = OutcomeRecord(revision.number, "A", ended, "healed", PIERCER, said)
    record_outcome(file, by, client.id, healed, f"demo outcome {client.id}")


def _halfway(studio: Studio, known: Client | None) -> None:
    sample = studio.samples.joinpath("three")
    marks = json.loads(sample.joinpath("marks-examined.json").read_text("utf-8"))
    marks = _only(marks, "middle")
    pierced = studio.on(HALFWAY_DAYS)
    client = _talked(studio, HALFWAY, known)
    revision = _assessed(studio, client, marks, sample, _talk(pierced, 0), "demo D day")
    _put_in(studio, revision, "middle", ())
    follow = _Following(studio, client, revision, "middle", pierced)
    follow.visit("first", "keep", "Invented: a little swollen still, as expected by then.")


def _only(marks: Mapping[str, Any], label: str) -> dict[str, Any]:
    """Return the marks of one placement."""
    photos = [
        {**photo, "placements": [p for p in photo["placements"] if p["label"] == label]}
        for photo in marks["photos"]
    ]
    found = {name: {label: marks[name][label]} for name in ("caliper", "examined")}
    return {**marks, **found, "photos": photos}


def _talk(on: date, days: int) -> dict[str, Any]:
    """Return the talk of a day, with the piercing planned so many days after."""
    set_down = {"day": (on + timedelta(days=days)).isoformat(), "decided": "goes_ahead"}
    talk = with_age(set_down, at_least_years=18, identity_checked=True)
    for question in QUESTIONS:
        calm = next((a.id for a in question.answers if a.id in {"none", "free"}), None)
        talk = talk if calm is None else with_answer(talk, question.id, [calm])
    return talk


def _talked(studio: Studio, name: str, known: Client | None) -> Client:
    """Return the client, with the consent to photos."""
    client = known or studio.file.create_client(name, note=NOTE, by=PIERCER)
    if not studio.file.consents.of(client.id):
        consent(studio.file, studio.piercer, client.id, given=True, note="Invented.")
    return client


def _assessed(
    studio: Studio,
    client: Client,
    marks: Mapping[str, Any],
    sample: Traversable,
    talk: Mapping[str, Any],
    token: str,
) -> Revision:
    """Return the confirmed assessment, with the posts of the stock; it is the draft's too."""
    file, by, token = studio.file, studio.piercer, f"{token} {client.id}"
    kept = photos_kept(file, client.id, marks, sample)
    number, posts = offered(file, studio.calendar().date())
    told = {name: held for name, held in marks.items() if name != "x_note"}
    told["posts"] = [post.model_dump(mode="json") for post in posts]
    stored = {name: file.photo_bytes(sha256) for name, sha256 in kept.items()}
    found = replace(assess_marks(told, stored), talk=talk)
    word = confirm_as(found, by, examined_and_decides=True)
    saved = save(file, client.id, found, word, measured_by=PIERCER, token=token)
    draft = draft_of(told, kept, talk, token)
    draft |= {"x_stock": number, "x_saved": {"id": saved.id, "number": saved.number}}
    file.save_draft(client.id, str(marks["side"]), draft)
    return saved


def _put_in(studio: Studio, revision: Revision, label: str, photos: tuple[str, ...]) -> None:
    """Record the long post, and the photos right after, by their hashes."""
    file, by, client = studio.file, studio.piercer, revision.client_id
    happened = Happened(studio.calendar(), PIERCER, {label: _key(file, LONG_MM)})
    token = f"demo in {client}"
    sitting = record_insertion(file, by, revision.id, happened, token)
    if photos:
        record_baseline(file, by, client, sitting.number, photos, f"{token} after")


def _key(file: ClientFile, length_mm: float) -> str:
    return next(i.key for i in stock_of(file).stock.items if i.length_mm == length_mm)


def _post(file: ClientFile, length_mm: float) -> WornNow:
    item = stock_of(file).stock.item(_key(file, length_mm))
    return WornNow(item.gauge_mm, item.length_mm, item.key, item.lot, item.batch)


@dataclass(frozen=True, slots=True)
class _Following:
    """Visits of one piercing."""

    studio: Studio
    client: Client
    revision: Revision
    label: str
    pierced: date

    def visit(
        self,
        look: str,
        done: Done,
        note: str,
        *,
        recheck: Recheck | None = None,
        downsizing: Downsized | None = None,
    ) -> Kept:
        """Keep a visit: what was done, the note of it, and what was measured."""
        studio, file = self.studio, self.studio.file
        on = studio.on((self.pierced - studio.first).days + LOOKS_DAYS[look])
        before = _post(file, SHORT_MM if look == "later" else LONG_MM)
        after = _post(file, SHORT_MM) if done == "shorten" else before
        visit = VisitRecord(
            self.revision.number,
            self.label,
            on,
            self.pierced,
            done,
            PIERCER,
            before,
            after,
            next_check=next_check((), done, self.pierced, on),
            note=note,
            recheck=recheck,
            downsizing=downsizing,
        )
        token = f"demo {look} {self.client.id}"
        return record_visit(file, studio.piercer, self.client.id, visit, token)
