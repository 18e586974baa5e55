"""The text that reminds somebody of a visit: made here, sent by a person, never by the program."""

from __future__ import annotations

from assess.talk.reminder import REMINDER, REMINDER_CARE, REMINDER_LATE
from assess.visit_record import NextCheck
from rimspan.languages import Language


def reminder(check: NextCheck, words: Language, *, late: bool) -> str:
    """Return the text: what for and which days, and what doesn't wait for the studio.

    Nothing of the client stands in it, for others may read a message.
    """
    asked = REMINDER_LATE if late else REMINDER
    days = check.days
    first = words.say(
        asked.id,
        name=words.say(check.name),
        first=words.day(days.first),
        last=words.day(days.last),
    )
    return f"{first}\n\n{words.say(REMINDER_CARE.id)}"
