"""What the embedded database says its tables, indices and triggers are, against what was made.

Nothing else guards those words: no seal, no digest, and SQLite takes them as it finds them.
"""

from __future__ import annotations

from functools import cache

from sqlalchemy import Connection, create_engine

from rimspan.clientfile.database import migrate
from rimspan.clientfile.keys import new_ring

Definitions = dict[tuple[str, str], tuple[str, str | None]]
"""By kind and name: the table that it is of, and the words that made it."""


def changed_definitions(connection: Connection) -> list[str]:
    """Return what isn't defined to the letter as the migrations define it, or is too many.

    Every migration makes its tables in the same words, whatever it found before.
    """
    wanted, found = _made(), _definitions(connection)
    changed = {*wanted, *found} - {key for key in wanted if found.get(key) == wanted[key]}
    return sorted(f"the {kind} {name}" for kind, name in changed)


@cache
def _made() -> Definitions:
    """Return the definitions of a new store."""
    engine = create_engine("sqlite://")
    with engine.begin() as connection:
        migrate(connection, ring=new_ring(), slots={}, blobs=None)
        found = _definitions(connection)
    engine.dispose()
    return found


def _definitions(connection: Connection) -> Definitions:
    held = connection.exec_driver_sql("SELECT type, name, tbl_name, sql FROM sqlite_master")
    return {(row.type, row.name): (row.tbl_name, row.sql) for row in held}
