"""What every table shares: naming of constraints, enumerations stored by value."""

from __future__ import annotations

from enum import Enum
from typing import Any

import sqlalchemy as sa
from sqlalchemy.orm import DeclarativeBase

NAMING = {
    "ix": "ix_%(table_name)s_%(column_0_N_name)s",
    "uq": "uq_%(table_name)s_%(column_0_N_name)s",
    "ck": "ck_%(table_name)s_%(constraint_name)s",
    "fk": "fk_%(table_name)s_%(column_0_name)s",
    "pk": "pk_%(table_name)s",
}


class Base(DeclarativeBase):
    """All tables, with constraints named so that migrations find them on both databases."""

    metadata = sa.MetaData(naming_convention=NAMING)
    type_annotation_map = {
        dict[str, Any]: sa.JSON(none_as_null=True),
        list[Any]: sa.JSON(none_as_null=True),
    }


def stored_enum(kind: type[Enum], name: str) -> sa.Enum:
    """An enumeration kept by its value, guarded by a CHECK on both databases."""
    return sa.Enum(
        kind,
        name=name,
        native_enum=False,
        create_constraint=True,
        length=40,
        values_callable=lambda members: [member.value for member in members],
    )
