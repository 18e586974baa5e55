"""Opening a store: the engine, its settings, its migrations."""

from __future__ import annotations

import os
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Any

from alembic import command
from alembic.config import Config
from alembic.script import ScriptDirectory
from platformdirs import user_data_path
from sqlalchemy import Connection, Engine, create_engine, event, inspect, text
from sqlalchemy.engine import make_url
from sqlalchemy.exc import ArgumentError, SQLAlchemyError

from rimspan.clientfile.errors import StoreError
from rimspan.clientfile.holding import Holding
from rimspan.clientfile.keys import KeyRing

DATABASE = "rimspan.sqlite"
LOCK_KEY = 0x52696D
"""Names the advisory lock under which a server's tables are migrated."""
ALONE_KEY = 0x52696D61
"""Names the advisory lock under which a server clears away what was deleted."""
READS = "rimspan_reads"
HOLDING = "rimspan_holding"
CHANGES = "rimspan_changes"


def default_store() -> str:
    """Return the store that RIMSPAN_STORE names, else a folder in the user's data directory."""
    return os.environ.get("RIMSPAN_STORE") or str(user_data_path("rimspan", appauthor=False))


def is_url(store: str | Path) -> bool:
    """Return whether a store is a database URL and not a folder."""
    return "://" in str(store)


def shown(store: str | Path) -> str:
    """Return a store's name without a password in it."""
    return make_url(str(store)).render_as_string() if is_url(store) else str(store)


def raw_engine(store: str | Path) -> Engine:
    """Return an engine on the store, its tables as they are.

    Raises
    ------
    StoreError
        If there can't be one.
    """
    try:
        return _server(str(store)) if is_url(store) else _embedded(Path(store))
    except (ArgumentError, ImportError, OSError) as error:
        said = getattr(error, "strerror", None) or str(error).splitlines()[0]
        raise StoreError(f"{store}: can't be opened ({said}); check RIMSPAN_STORE") from None


@contextmanager
def opening(store: str | Path, engine: Engine) -> Iterator[None]:
    """Turn what a database says while it is opened into a refusal, and let go of the engine."""
    try:
        yield
    except BaseException as error:
        engine.dispose()
        if isinstance(error, UnicodeDecodeError):  # the words that define a table were damaged
            said = "the database itself is damaged"
        elif isinstance(error, SQLAlchemyError):
            said = str(getattr(error, "orig", error)).splitlines()[0]
        else:
            raise
        raise StoreError(f"{shown(store)}: can't be opened ({said}); check the store") from None


@contextmanager
def reading(engine: Engine) -> Iterator[Connection]:
    """Yield a connection on the store as it is at one moment; it holds nobody up."""
    options: dict[str, Any] = {READS: True}
    if engine.dialect.name == "postgresql":
        options |= {"isolation_level": "REPEATABLE READ", "postgresql_readonly": True}
    with engine.connect().execution_options(**options) as connection, connection.begin():
        yield connection


def _server(url: str) -> Engine:
    return create_engine(url, pool_pre_ping=True, hide_parameters=True)


def _embedded(folder: Path) -> Engine:
    folder.mkdir(mode=0o700, parents=True, exist_ok=True)
    holding = Holding(folder.resolve() / DATABASE)
    engine = create_engine(
        f"sqlite:///{folder / DATABASE}",
        connect_args={"timeout": 30},
        hide_parameters=True,
        execution_options={HOLDING: holding},
    )
    event.listen(engine, "do_connect", lambda *_: holding.connecting())
    event.listen(engine, "connect", _settings)
    event.listen(engine, "connect", lambda *_: holding.connected())  # if that went well
    for closing in ("close", "close_detached"):
        event.listen(engine, closing, lambda *_: holding.disconnected())
    event.listen(engine, "engine_disposed", lambda _: holding.closed())
    event.listen(engine, "begin", _begin)
    event.listen(engine, "commit", _commit)
    return engine


def holding_of(engine: Engine) -> Holding | None:
    """Return an engine's hold on the embedded database; None on a server's."""
    held: Holding | None = engine.get_execution_options().get(HOLDING)
    return held


def record_pages(engine: Engine, ring: KeyRing) -> None:
    """Let the embedded database's pages be recorded when it is closed, and held against that."""
    holding = holding_of(engine)
    if holding is not None:
        holding.key = ring.page_key()


def _settings(connection: Any, _record: Any) -> None:  # noqa: ANN401  (the driver's connection)
    connection.isolation_level = None  # transactions begin where _begin says
    # secure_delete writes zeros over what is deleted, so that a destroyed key is gone.
    for pragma in ("journal_mode=WAL", "synchronous=FULL", "foreign_keys=ON", "secure_delete=ON"):
        connection.execute(f"PRAGMA {pragma}").close()


def _begin(connection: Connection) -> None:
    # Taking the write lock at once, two chairs wait for each other instead of failing.
    reads = connection.get_execution_options().get(READS, False)
    connection.exec_driver_sql("BEGIN" if reads else "BEGIN IMMEDIATE")
    if not reads:
        connection.info[CHANGES] = _changes(connection)


def _commit(connection: Connection) -> None:
    """Take the record of the pages away before a change is kept, and only then."""
    options = connection.get_execution_options()
    if not options.get(READS, False) and connection.info[CHANGES] != _changes(connection):
        options[HOLDING].changing()


def _changes(connection: Connection) -> tuple[object, ...]:
    """Return what differs once rows or definitions were changed."""
    driver: Any = connection.connection.driver_connection
    return driver.total_changes, connection.exec_driver_sql("PRAGMA schema_version").scalar()


def migration_lock(connection: Connection) -> None:
    """Wait until nobody else migrates a server's tables; the embedded store is locked already."""
    if connection.dialect.name == "postgresql":
        connection.execute(text("SELECT pg_advisory_xact_lock(:key)"), {"key": LOCK_KEY})


def _config() -> Config:
    config = Config()
    config.set_main_option("script_location", str(Path(__file__).with_name("migrations")))
    return config


def newest_schema() -> str:
    """Return the number of the newest migration."""
    return str(ScriptDirectory.from_config(_config()).get_current_head())


def schema_of(connection: Connection) -> str | None:
    """Return the number of the migration that a store stands at; None for an empty one."""
    if not inspect(connection).has_table("alembic_version"):
        return None
    found = connection.scalar(text("SELECT version_num FROM alembic_version"))
    return None if found is None else str(found)


def migrate(connection: Connection, to: str = "head", **given: object) -> None:
    """Bring the tables to a migration.

    Parameters
    ----------
    given : what a migration needs besides the connection, by name
    """
    config = _config()
    config.attributes |= {"connection": connection, **given}
    command.upgrade(config, to)


def whole(connection: Connection) -> tuple[bytes, list[int]]:
    """Return the embedded database's bytes at this moment, and its tables' and indices' pages.

    All of it is in memory then: photos, which are most of a client file, lie elsewhere.
    """
    raw: Any = connection.connection.driver_connection
    held = connection.exec_driver_sql("SELECT rootpage FROM sqlite_master WHERE rootpage > 0")
    data: bytes = raw.serialize()
    return data, [1, *held.scalars()]


def flush(engine: Engine) -> None:
    """Write what was deleted over in the files themselves, as far as the engine can.

    The embedded store's log is emptied; a server's old row versions are cleared away.
    """
    if engine.dialect.name == "sqlite":
        _alone(engine, "PRAGMA wal_checkpoint(TRUNCATE)")
    else:
        _alone(engine, "VACUUM client_key, photo_index, draft, repeat_photo")


def write_anew(engine: Engine) -> None:
    """Write the whole database anew, so that nothing is left of what was in it before."""
    if engine.dialect.name == "sqlite":
        _alone(engine, "VACUUM", "PRAGMA wal_checkpoint(TRUNCATE)")
    else:
        _alone(engine, "VACUUM FULL")


def _alone(engine: Engine, *statements: str) -> None:
    """Execute statements that no transaction may be round."""
    holding = holding_of(engine)
    if holding is not None:
        holding.changing()
    raw = engine.raw_connection()
    driver: Any = raw.driver_connection
    raw.detach()  # not back into the pool with another setting or a lock
    try:
        cursor = raw.cursor()
        if engine.dialect.name == "postgresql":
            driver.autocommit = True
            # A server doesn't notice at once that a program died: what it began must end first.
            cursor.execute(f"SELECT pg_advisory_lock({ALONE_KEY})")
        for statement in statements:
            cursor.execute(statement)
        cursor.close()
    except engine.dialect.loaded_dbapi.Error as error:
        said = str(error).splitlines()[0]
        raise StoreError(f"what was deleted can't be cleared away ({said}); do it again") from None
    finally:
        raw.close()
