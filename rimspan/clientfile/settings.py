"""What the studio sets for its client file; each change stays, the newest counts."""

from __future__ import annotations

import json
from collections.abc import Mapping
from typing import Any

from sqlalchemy import func, select

from rimspan.clientfile import tables
from rimspan.clientfile.base import Base, canonical
from rimspan.clientfile.chain import Entry
from rimspan.clientfile.seal import place


def setting_place(name: str, version: int) -> str:
    """Return where a setting lies."""
    return place("setting", "document", name, version)


class Settings:
    """The settings of a client file."""

    def __init__(self, file: Base) -> None:
        self._file = file

    def get(self, name: str) -> dict[str, Any]:
        """Return what is set under a name; nothing is an empty mapping."""
        setting = tables.setting
        wanted = select(setting).where(setting.c.name == name).order_by(setting.c.version.desc())
        with self._file.reading() as connection:
            row = connection.execute(wanted.limit(1)).first()
        if row is None:
            return {}
        opened = self._file.ring.studio.open(setting_place(name, row.version), row.document)
        return dict(json.loads(opened))

    def set(self, name: str, document: Mapping[str, Any], by: str = "") -> None:
        """Set it anew."""
        file, setting = self._file, tables.setting
        with file.writing() as connection:
            newest = select(func.max(setting.c.version)).where(setting.c.name == name)
            version = int(connection.scalar(newest) or 0) + 1
            values = {
                "name": name,
                "version": version,
                "document": file.ring.studio.close(
                    setting_place(name, version), canonical(document)
                ),
                "at": file.clock(),
            }
            entry = Entry("setting", record=f"{name}/{version}", detail={"by": by})
            file.keep(connection, setting, values, entry)
