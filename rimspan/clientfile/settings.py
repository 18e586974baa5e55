"""What the studio sets for its client file; each change stays, the newest counts."""

from __future__ import annotations

import json
from collections.abc import Callable, Mapping
from dataclasses import dataclass
from datetime import datetime
from typing import Any

from sqlalchemy import Connection, Row, Select, select
from sqlalchemy.exc import IntegrityError

from rimspan.clientfile import tables
from rimspan.clientfile.base import TRIES, Base, canonical
from rimspan.clientfile.chain import Entry
from rimspan.clientfile.moments import utc
from rimspan.clientfile.seal import place


def setting_place(name: str, version: int) -> str:
    """Return where a setting lies."""
    return place("setting", "document", name, version)


@dataclass(frozen=True, slots=True)
class SettingVersion:
    """What was set from a moment on."""

    at: datetime
    document: Mapping[str, Any]


class Settings:
    """The settings of a client file."""

    def __init__(self, file: Base) -> None:
        self._file = file

    def get(self, name: str) -> dict[str, Any]:
        """Return what is set under a name; nothing is an empty mapping."""
        with self._file.reading() as connection:
            row = _newest(connection, name)
        return {} if row is None else self._opened(row)

    def versions(self, name: str) -> list[SettingVersion]:
        """Return everything that was ever set under a name, the first first."""
        wanted = _of(name).order_by(tables.setting.c.version)
        with self._file.reading() as connection:
            rows = connection.execute(wanted).all()
        return [SettingVersion(utc(row.at), self._opened(row)) for row in rows]

    def _opened(self, row: Row[Any]) -> dict[str, Any]:
        sealed = setting_place(row.name, row.version)
        return dict(json.loads(self._file.ring.studio.open(sealed, row.document)))

    def set(self, name: str, document: Mapping[str, Any], by: str = "") -> None:
        """Set it anew."""
        self.change(name, lambda _: document, by)

    def change(
        self, name: str, edit: Callable[[dict[str, Any]], Mapping[str, Any]], by: str = ""
    ) -> None:
        """Set what ``edit`` makes of what is set; done again where another chair was quicker."""
        for _ in range(TRIES):
            try:
                return self._changed(name, edit, by)
            except IntegrityError:  # another chair set this version
                continue
        raise RuntimeError("the setting could not be kept beside another chair's")

    def _changed(
        self, name: str, edit: Callable[[dict[str, Any]], Mapping[str, Any]], by: str
    ) -> None:
        file, setting = self._file, tables.setting
        with file.writing() as connection:
            row = _newest(connection, name)
            version = 1 if row is None else row.version + 1
            document = edit({} if row is None else self._opened(row))
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


def _of(name: str) -> Select[Any]:
    return select(tables.setting).where(tables.setting.c.name == name)


def _newest(connection: Connection, name: str) -> Row[Any] | None:
    wanted = _of(name).order_by(tables.setting.c.version.desc())
    return connection.execute(wanted.limit(1)).first()
