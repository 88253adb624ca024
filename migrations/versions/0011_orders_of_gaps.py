"""Orders of gaps

The orders that organisations write, version by version; whether a facing is a combustible metal
composite; a stamp of all results. A position has the owner's reference in it from here on, so what
was computed before is due again.
"""

from __future__ import annotations

import sqlalchemy as sa
from alembic import op

revision = "0011"
down_revision = "0010"
branch_labels = None
depends_on = None

_RESULTS = ("zone_result", "building_result")


def upgrade() -> None:
    op.create_table(
        "gap_order",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("organisation_id", sa.Integer(), nullable=False),
        sa.Column("key", sa.String(length=60), nullable=False),
        sa.Column("version", sa.Integer(), nullable=False),
        sa.Column("title", sa.String(length=200), nullable=False),
        sa.Column("steps", sa.JSON(none_as_null=True), nullable=False),
        sa.Column("author", sa.String(length=400), nullable=False),
        sa.Column("reason", sa.Text(), nullable=False),
        sa.Column("recorded_on", sa.Date(), nullable=False),
        sa.ForeignKeyConstraint(
            ["organisation_id"], ["organisation.id"], name=op.f("fk_gap_order_organisation_id")
        ),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_gap_order")),
        sa.UniqueConstraint(
            "organisation_id",
            "key",
            "version",
            name=op.f("uq_gap_order_organisation_id_key_version"),
        ),
    )
    op.create_table(
        "result_stamp",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("stamp", sa.String(length=32), nullable=False),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_result_stamp")),
    )
    for table in _RESULTS:
        op.add_column(
            table,
            sa.Column("metal_composite", sa.String(length=5), server_default="", nullable=False),
        )
    op.execute("UPDATE zone_result SET computed_on = '1900-01-01'")


def downgrade() -> None:
    for table in _RESULTS:
        op.drop_column(table, "metal_composite")
    op.drop_table("result_stamp")
    op.drop_table("gap_order")
