"""Opening a store: the engine, its settings, its migrations."""

from __future__ import annotations

import os
from pathlib import Path
from typing import Any

from alembic import command
from alembic.config import Config
from platformdirs import user_data_path
from sqlalchemy import Connection, Engine, create_engine, event, text
from sqlalchemy.engine import make_url
from sqlalchemy.exc import ArgumentError, SQLAlchemyError

from rimspan.clientfile.errors import StoreError

DATABASE = "rimspan.sqlite"
LOCK_KEY = 0x52696D
"""Names the advisory lock under which a server's tables are migrated."""


def default_store() -> str:
    """Return the store that RIMSPAN_STORE names, else a folder in the user's data directory."""
    return os.environ.get("RIMSPAN_STORE") or str(user_data_path("rimspan", appauthor=False))


def is_url(store: str | Path) -> bool:
    """Return whether a store is a database URL and not a folder."""
    return "://" in str(store)


def open_engine(store: str | Path) -> Engine:
    """Return an engine on the store with its tables at the newest migration.

    Raises
    ------
    StoreError
        If the store can't be opened.
    """
    try:
        engine = _server(str(store)) if is_url(store) else _embedded(Path(store))
    except (ArgumentError, ImportError, OSError) as error:
        said = getattr(error, "strerror", None) or str(error).splitlines()[0]
        raise StoreError(f"{store}: can't be opened ({said}); check RIMSPAN_STORE") from None
    try:
        with engine.begin() as connection:
            _migrate(connection)
    except SQLAlchemyError as error:
        engine.dispose()
        said = str(getattr(error, "orig", error)).splitlines()[0]
        raise StoreError(f"{_shown(store)}: can't be opened ({said}); check the store") from None
    return engine


def _shown(store: str | Path) -> str:
    return make_url(str(store)).render_as_string() if is_url(store) else str(store)


def _server(url: str) -> Engine:
    return create_engine(url, pool_pre_ping=True, hide_parameters=True)


def _embedded(folder: Path) -> Engine:
    folder.mkdir(parents=True, exist_ok=True)
    engine = create_engine(
        f"sqlite:///{folder / DATABASE}", connect_args={"timeout": 30}, hide_parameters=True
    )
    event.listen(engine, "connect", _settings)
    event.listen(engine, "begin", _begin)
    return engine


def _settings(connection: Any, _record: Any) -> None:  # noqa: ANN401  (the driver's connection)
    connection.isolation_level = None  # transactions begin where _begin says
    for pragma in ("journal_mode=WAL", "synchronous=FULL", "foreign_keys=ON"):
        connection.execute(f"PRAGMA {pragma}").close()


def _begin(connection: Connection) -> None:
    # Taking the write lock at once, two chairs wait for each other instead of failing.
    connection.exec_driver_sql("BEGIN IMMEDIATE")


def _migrate(connection: Connection) -> None:
    if connection.dialect.name == "postgresql":
        connection.execute(text("SELECT pg_advisory_xact_lock(:key)"), {"key": LOCK_KEY})
    config = Config()
    config.set_main_option("script_location", str(Path(__file__).with_name("migrations")))
    config.attributes["connection"] = connection
    command.upgrade(config, "head")
