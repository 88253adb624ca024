"""Rows as JSON and back, whatever the database and the age of the schema."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from datetime import UTC, date, datetime
from typing import Any

import sqlalchemy as sa

_SCHEMA_TABLE = "alembic_version"
_BATCH = 2000


def tables_of(connection: sa.Connection) -> list[sa.Table]:
    """The tables as they are in the store, each after those it refers to."""
    metadata = sa.MetaData()
    metadata.reflect(connection)
    for table in metadata.tables.values():
        for column in table.columns:
            if isinstance(column.type, sa.JSON):
                # or nothing would come back as JSON's null, which is something to a query
                column.type.none_as_null = True
    return [table for table in metadata.sorted_tables if table.name != _SCHEMA_TABLE]


def rows_out(connection: sa.Connection, table: sa.Table) -> Iterator[dict[str, Any]]:
    """Every row as plain JSON values, in the order of the key."""
    query = sa.select(table).order_by(*table.primary_key.columns)
    with connection.execute(query, execution_options={"yield_per": _BATCH}) as rows:
        for row in rows.mappings():
            yield {key: _plain(value) for key, value in row.items()}


def rows_in(connection: sa.Connection, table: sa.Table, rows: Iterable[dict[str, Any]]) -> None:
    """Insert rows as `rows_out` gave them."""
    moments = [c.name for c in table.columns if isinstance(c.type, sa.DateTime)]
    days = [c.name for c in table.columns if isinstance(c.type, sa.Date)]
    batch: list[dict[str, Any]] = []
    for row in rows:
        for name in moments:
            row[name] = row[name] and datetime.fromisoformat(row[name])
        for name in days:
            row[name] = row[name] and date.fromisoformat(row[name])
        batch.append(row)
        if len(batch) == _BATCH:
            connection.execute(sa.insert(table), batch)
            batch = []
    if batch:
        connection.execute(sa.insert(table), batch)


def _plain(value: Any) -> Any:
    if isinstance(value, datetime):
        # SQLite forgets the zone; everything is kept in UTC
        return (value if value.tzinfo else value.replace(tzinfo=UTC)).astimezone(UTC).isoformat()
    return value.isoformat() if isinstance(value, date) else value
