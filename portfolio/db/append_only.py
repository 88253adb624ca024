"""The change log is append-only in the database itself: triggers on both databases refuse more.

The one exception is bringing back a backup, which replaces everything in one transaction.
"""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager

import sqlalchemy as sa

_SAYS = "the change log is append-only"
_SQLITE = {
    f"event_no_{act}": (
        f"CREATE TRIGGER event_no_{act} BEFORE {act.upper()} ON event "
        f"BEGIN SELECT RAISE(ABORT, '{_SAYS}'); END"
    )
    for act in ("update", "delete")
} | {
    # to SQLite, REPLACE is an insertion that no trigger against deleting hears of
    "event_no_replace": (
        "CREATE TRIGGER event_no_replace BEFORE INSERT ON event "
        "WHEN EXISTS (SELECT 1 FROM event WHERE id = NEW.id) "
        f"BEGIN SELECT RAISE(ABORT, '{_SAYS}'); END"
    )
}
_POSTGRES_FUNCTION = (
    "CREATE OR REPLACE FUNCTION event_is_append_only() RETURNS trigger LANGUAGE plpgsql AS "
    f"$$ BEGIN RAISE EXCEPTION '{_SAYS}'; END $$"
)
_POSTGRES = {
    "event_no_change": (
        "CREATE TRIGGER event_no_change BEFORE UPDATE OR DELETE ON event "
        "FOR EACH ROW EXECUTE FUNCTION event_is_append_only()"
    ),
    "event_no_truncate": (
        "CREATE TRIGGER event_no_truncate BEFORE TRUNCATE ON event "
        "FOR EACH STATEMENT EXECUTE FUNCTION event_is_append_only()"
    ),
}


def protect(connection: sa.Connection) -> None:
    """Refuse from now on to change or remove an entry of the change log."""
    if connection.dialect.name == "postgresql":
        connection.exec_driver_sql(_POSTGRES_FUNCTION)
    for statement in _triggers(connection).values():
        connection.exec_driver_sql(statement)


def lift(connection: sa.Connection) -> None:
    """Take the protection away, until `protect` in the same transaction."""
    on = " ON event" if connection.dialect.name == "postgresql" else ""
    for name in _triggers(connection):
        connection.exec_driver_sql(f"DROP TRIGGER IF EXISTS {name}{on}")


@contextmanager
def lifted(connection: sa.Connection) -> Iterator[None]:
    """Without the protection inside, with it again afterwards; a failure rolls both back."""
    lift(connection)
    yield
    protect(connection)


def _triggers(connection: sa.Connection) -> dict[str, str]:
    return _POSTGRES if connection.dialect.name == "postgresql" else _SQLITE
