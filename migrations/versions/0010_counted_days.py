"""Counted days

How the counts of coverage and of missing facts move from day to day.
"""

from __future__ import annotations

import sqlalchemy as sa
from alembic import op

revision = "0010"
down_revision = "0009"
branch_labels = None
depends_on = None


def upgrade() -> None:
    op.create_table(
        "counted_day",
        sa.Column("organisation_id", sa.Integer(), nullable=False),
        sa.Column("day", sa.Date(), nullable=False),
        sa.Column("method", sa.String(length=60), nullable=False),
        sa.ForeignKeyConstraint(
            ["organisation_id"], ["organisation.id"], name=op.f("fk_counted_day_organisation_id")
        ),
        sa.PrimaryKeyConstraint("organisation_id", "day", name=op.f("pk_counted_day")),
    )
    op.create_table(
        "count_change",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("day", sa.Date(), nullable=False),
        sa.Column("organisation_id", sa.Integer(), nullable=False),
        sa.Column("building_id", sa.Integer(), nullable=False),
        sa.Column("jurisdiction", sa.String(length=60), nullable=False),
        sa.Column("use", sa.String(length=40), nullable=False),
        sa.Column("height_band", sa.String(length=20), nullable=False),
        sa.Column("measure", sa.String(length=20), nullable=False),
        sa.Column("series", sa.String(length=40), nullable=False),
        sa.Column("count", sa.Integer(), nullable=False),
        sa.Column("area_m2", sa.Double(), nullable=False),
        sa.ForeignKeyConstraint(
            ["building_id"],
            ["building.id"],
            name=op.f("fk_count_change_building_id"),
            ondelete="CASCADE",
        ),
        sa.ForeignKeyConstraint(
            ["organisation_id"], ["organisation.id"], name=op.f("fk_count_change_organisation_id")
        ),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_count_change")),
    )
    op.create_index("ix_count_change_of", "count_change", ["organisation_id", "building_id", "day"])


def downgrade() -> None:
    op.drop_index("ix_count_change_of", table_name="count_change")
    op.drop_table("count_change")
    op.drop_table("counted_day")
