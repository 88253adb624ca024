"""Life of evidence

Changes of standing, what they re-open, and packs that were handed out.
"""

from __future__ import annotations

import sqlalchemy as sa
from alembic import op

revision = "0003"
down_revision = "0002"
branch_labels = None
depends_on = None

_STANDINGS = ("live", "disputed", "superseded", "withdrawn")


def _word(name: str, *words: str) -> sa.Enum:
    return sa.Enum(*words, name=name, native_enum=False, create_constraint=True, length=40)


def upgrade() -> None:
    op.create_table(
        "standing_change",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("test_id", sa.Integer(), nullable=False),
        sa.Column("before", _word("before", *_STANDINGS), nullable=False),
        sa.Column("standing", _word("standing", *_STANDINGS), nullable=False),
        sa.Column("superseded_by", sa.String(length=60), nullable=False),
        sa.Column("on", sa.Date(), nullable=False),
        sa.Column("reason", sa.Text(), nullable=False),
        sa.Column("document", sa.String(length=300), nullable=False),
        sa.Column("by", sa.String(length=200), nullable=False),
        sa.ForeignKeyConstraint(
            ["test_id"],
            ["test_record.id"],
            name=op.f("fk_standing_change_test_id"),
            ondelete="CASCADE",
        ),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_standing_change")),
    )
    op.create_index(op.f("ix_standing_change_test_id"), "standing_change", ["test_id"])
    op.create_table(
        "reopened",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("organisation_id", sa.Integer(), nullable=False),
        sa.Column("building_id", sa.Integer(), nullable=True),
        sa.Column(
            "subject", _word("subject", "zone", "test", "pack", "certificate"), nullable=False
        ),
        sa.Column("subject_id", sa.Integer(), nullable=False),
        sa.Column("subject_ref", sa.String(length=200), nullable=False),
        sa.Column("because", sa.String(length=400), nullable=False),
        sa.Column("on", sa.Date(), nullable=False),
        sa.Column("before", sa.String(length=60), nullable=False),
        sa.Column("after", sa.String(length=60), nullable=False),
        sa.Column("looked_on", sa.Date(), nullable=True),
        sa.Column("looked_by", sa.String(length=200), nullable=False),
        sa.Column("note", sa.Text(), nullable=False),
        sa.ForeignKeyConstraint(
            ["organisation_id"], ["organisation.id"], name=op.f("fk_reopened_organisation_id")
        ),
        sa.ForeignKeyConstraint(
            ["building_id"],
            ["building.id"],
            name=op.f("fk_reopened_building_id"),
            ondelete="CASCADE",
        ),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_reopened")),
    )
    op.create_index(op.f("ix_reopened_building_id"), "reopened", ["building_id"])
    op.create_index("ix_reopened_of", "reopened", ["subject", "subject_id"])
    op.create_index("ix_reopened_open", "reopened", ["organisation_id", "looked_on", "building_id"])
    op.create_table(
        "pack_made",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("building_id", sa.Integer(), nullable=False),
        sa.Column("at", sa.DateTime(timezone=True), nullable=False),
        sa.Column("as_of", sa.Date(), nullable=False),
        sa.Column("by", sa.String(length=200), nullable=False),
        sa.Column("sha256", sa.String(length=64), nullable=False),
        sa.Column("test_ids", sa.JSON(), nullable=False),
        sa.Column("overtaken_on", sa.Date(), nullable=True),
        sa.Column("overtaken_because", sa.String(length=400), nullable=False),
        sa.ForeignKeyConstraint(
            ["building_id"],
            ["building.id"],
            name=op.f("fk_pack_made_building_id"),
            ondelete="CASCADE",
        ),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_pack_made")),
    )
    op.create_index(op.f("ix_pack_made_building_id"), "pack_made", ["building_id"])


def downgrade() -> None:
    for table in ("pack_made", "reopened", "standing_change"):
        op.drop_table(table)
