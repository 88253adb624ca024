"""Inserts very many rows at once: a session, and its looking at every value, would take longer than
the store itself."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from typing import Any

import sqlalchemy as sa
from sqlalchemy.orm import Session

from portfolio.db.base import Base

Rows = list[tuple[Any, ...]]
"""Values in the order of the columns that are named beside them."""


def insert_rows(session: Session, kind: type[Base], names: Sequence[str], rows: Rows) -> None:
    """Insert rows whose values have the order of `names`; the session does not come to know them.

    A JSON column is given as its text: what many rows share is then spelled out only once.
    """
    if not rows:
        return
    connection = session.connection()
    dialect = connection.dialect
    statement = sa.insert(kind).compile(dialect=dialect, column_keys=names)
    columns: list[Iterable[Any]] = list(zip(*rows, strict=True))
    for place, name in enumerate(names):
        column_type = kind.__table__.c[name].type
        processor = column_type.dialect_impl(dialect).bind_processor(dialect)
        if processor is not None and not isinstance(column_type, sa.JSON):
            columns[place] = map(processor, columns[place])
    plain: Any
    if order := getattr(statement, "positiontup", None):
        plain = list(zip(*(columns[names.index(name)] for name in order), strict=True))
    else:
        plain = [dict(zip(names, values, strict=True)) for values in zip(*columns, strict=True)]
    connection.exec_driver_sql(str(statement), plain)
