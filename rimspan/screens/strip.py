"""The strip of stations: what each of them lacks in the open draft."""

from __future__ import annotations

from rimspan.assessment import Assessment
from rimspan.screens import state, work
from rimspan.screens.document import Document
from rimspan.screens.plan_draft import plan_of
from rimspan.screens.stations import (
    answer_word,
    count_word,
    marks_word,
    photos_word,
    plan_word,
    sign_word,
    talk_word,
    unread_word,
)
from rimspan.screens.store import client_file
from rimspan.screens.talk_draft import talk_of
from rimspan.studio import age_rules


def stations_lack(read: bool) -> dict[str, str]:
    """Return each station's word for the open draft; its photos are read only if asked."""
    document = state.document()
    return _free(document) | (_dear(document) if read else {})


def _free(document: Document) -> dict[str, str]:
    return {
        "client": f"{state.side()} ear",
        "talk": talk_word(talk_of(document), age_rules(client_file())),
        "photos": count_word(len(document["photos"])),
        "marks": marks_word(document),
        "answer": unread_word(document),
        "plan": plan_word(plan_of(document)),
        "sign": sign_word((document.get("x_saved") or {}).get("number")),
    }


def _dear(document: Document) -> dict[str, str]:
    found = work.answer(document) if document["photos"] or document["caliper"] else None
    result = work.result_of(found) if isinstance(found, Assessment) else None
    return {
        "photos": photos_word(work.readings(document), document["side"]),
        "answer": answer_word(result),
    }
