"""Records of tests

What a report bears, assessments in place of tests, and which outcome an engineer says counts.
"""

from __future__ import annotations

from typing import Any

import sqlalchemy as sa
from alembic import op

revision = "0004"
down_revision = "0003"
branch_labels = None
depends_on = None

_OUTCOMES = ("passed", "failed", "not-told")


def _word(name: str, *words: str) -> sa.Enum:
    return sa.Enum(*words, name=name, native_enum=False, create_constraint=True, length=40)


def _text(name: str, length: int) -> sa.Column[Any]:
    return sa.Column(name, sa.String(length), server_default="", nullable=False)


def _columns() -> list[sa.Column[Any]]:
    kind = _word("kind", "test", "assessment")
    return [
        sa.Column("kind", kind, server_default="test", nullable=False),
        _text("author", 200),
        _text("report_ref", 100),
        _text("report_issue", 40),
        sa.Column("report_on", sa.Date(), nullable=True),
        sa.Column("run_seconds", sa.Integer(), nullable=True),
        sa.Column("ruled_outcome", _word("ruled_outcome", *_OUTCOMES), nullable=True),
        _text("ruled_by", 200),
        _text("ruled_qualification", 200),
        sa.Column("ruled_on", sa.Date(), nullable=True),
        sa.Column("ruled_reason", sa.Text(), server_default="", nullable=False),
        _text("ruled_document", 300),
        sa.Column("ruled_printed", _word("ruled_printed", *_OUTCOMES), nullable=True),
        sa.Column("ruled_criteria", _word("ruled_criteria", *_OUTCOMES), nullable=True),
    ]


def upgrade() -> None:
    with op.batch_alter_table("test_record") as batch_op:
        for column in _columns():
            batch_op.add_column(column)


def downgrade() -> None:
    with op.batch_alter_table("test_record") as batch_op:
        for column in reversed(_columns()):
            if isinstance(column.type, sa.Enum):
                batch_op.drop_constraint(op.f(f"ck_test_record_{column.name}"), type_="check")
            batch_op.drop_column(column.name)
