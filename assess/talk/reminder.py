"""What a studio sends a client who is due: a text to copy, in which nothing of them stands."""

from __future__ import annotations

from assess.talk.sentences import Sentence, caution

AGAIN = Sentence(
    "visit.again",
    "Another look",
    "What was done or seen at the last visit is looked at again.",
)
REMINDER = Sentence(
    "reminder.due",
    "Hello, it is time for the next visit: {name}, from {first} to {last}. Tell us which day "
    "suits you.",
    "A message may be read by others: no name, no ear and nothing of health stands in it.",
)
REMINDER_LATE = Sentence(
    "reminder.late",
    "Hello, we expected you for the next visit: {name}, from {first} to {last}. Tell us how it "
    "is, and which day suits you.",
    "Who doesn't come may have trouble, or may be well: asking is the only way to know.",
)
REMINDER_CARE = caution(
    "reminder.care",
    "Redness that spreads, pus, fever, pain that grows: do not wait for us. See a doctor the same "
    "day. If an end sinks in, come the same day; if you can't reach us, see a doctor.",
    "A reminder must not make somebody wait for the studio.",
    en=("redness", "pus", "fever", "sinks|sinking", "doctor", "same day|today"),
    de=("Rötung", "Eiter", "Fieber", "einsinkt|sinkt", "Arzt|Ärztin", "selben Tag|heute"),
)

REMINDERS: tuple[Sentence, ...] = (AGAIN, REMINDER, REMINDER_LATE, REMINDER_CARE)
