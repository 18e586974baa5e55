"""Triggers that forbid to change or delete a row, against the program and raw SQL alike."""

from __future__ import annotations

from sqlalchemy import Connection, text

VERBS = ("UPDATE", "DELETE")


def fix(connection: Connection, table: str) -> None:
    """Forbid to change, delete or empty a table's rows."""
    said = f"a saved {table.replace('_', ' ')} is never changed"
    if connection.dialect.name == "sqlite":
        statements = [
            f"CREATE TRIGGER {table}_no_{verb.lower()} BEFORE {verb} ON {table} "
            f"BEGIN SELECT RAISE(ABORT, '{said}'); END"
            for verb in VERBS
        ]
    else:
        statements = [
            f"CREATE FUNCTION {table}_fixed() RETURNS trigger LANGUAGE plpgsql AS "
            f"$$ BEGIN RAISE EXCEPTION '{said}'; END $$",
            f"CREATE TRIGGER {table}_fixed BEFORE UPDATE OR DELETE ON {table} "
            f"FOR EACH ROW EXECUTE FUNCTION {table}_fixed()",
            f"CREATE TRIGGER {table}_kept BEFORE TRUNCATE ON {table} "
            f"FOR EACH STATEMENT EXECUTE FUNCTION {table}_fixed()",
        ]
    for statement in statements:
        connection.exec_driver_sql(statement)


def release(connection: Connection, table: str) -> None:
    """Take a table's triggers away, for a migration that makes it anew."""
    if connection.dialect.name == "sqlite":
        for verb in VERBS:
            connection.exec_driver_sql(f"DROP TRIGGER {table}_no_{verb.lower()}")
        return
    for name in ("fixed", "kept"):
        connection.exec_driver_sql(f"DROP TRIGGER {table}_{name} ON {table}")
    connection.exec_driver_sql(f"DROP FUNCTION {table}_fixed()")


def trigger_names(dialect: str, tables: tuple[str, ...]) -> set[str]:
    """Return the triggers that must be there for tables to be fixed."""
    ends = ("no_update", "no_delete") if dialect == "sqlite" else ("fixed", "kept")
    return {f"{table}_{end}" for table in tables for end in ends}


def triggers_there(connection: Connection) -> set[str]:
    """Return the triggers that are there and at work."""
    if connection.dialect.name == "sqlite":
        wanted = "SELECT name FROM sqlite_master WHERE type = 'trigger'"
    else:
        wanted = "SELECT tgname FROM pg_trigger WHERE NOT tgisinternal AND tgenabled <> 'D'"
    return set(connection.scalars(text(wanted)))
