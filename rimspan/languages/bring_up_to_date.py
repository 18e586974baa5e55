"""``python -m rimspan.languages.bring_up_to_date``: the catalogues, after a text changed.

Keeps what is translated; a text that is new, or reads differently, is left empty or marked as
unsure for whoever translates.
"""

from __future__ import annotations

import io
from pathlib import Path

from babel.messages.catalog import Catalog
from babel.messages.pofile import write_po

from assess.talk.catalogue import texts
from assess.talk.sentences import LANGUAGES
from rimspan.languages import catalogue

HEADER = "# {language} for Rimspan: each context names a text of assess.talk.\n"


def up_to_date(old: Catalog, code: str) -> bytes:
    """Return the file of a catalogue with every text in it, in the order of the sources."""
    new = Catalog(locale=code, domain="rimspan", header_comment="", fuzzy=False)
    by_name = {message.context: message for message in old if message.id}
    for name, english in texts().items():
        before = by_name.get(name)
        changed = before is not None and before.id != english
        new.add(
            english,
            str(before.string) if before is not None else "",
            context=name,
            flags=("fuzzy",) if changed or (before is not None and before.fuzzy) else (),
        )
    file = io.BytesIO()
    write_po(file, new, width=96, omit_header=True)
    head = HEADER.format(language=code) + (
        'msgid ""\nmsgstr ""\n"Content-Type: text/plain; charset=utf-8\\n"\n'
        f'"Language: {code}\\n"\n\n'
    )
    return head.encode() + file.getvalue()


def main() -> None:
    """Write every catalogue anew."""
    for code in LANGUAGES[1:]:
        path = Path(__file__).with_name(f"{code}.po")
        path.write_bytes(up_to_date(catalogue(code), code))


if __name__ == "__main__":
    main()
