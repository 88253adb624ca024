"""What would settle

The smallest sets of facts that could settle each zone that is too little known, and how often each
fact is in one. Both are derived: what was computed before is due again.
"""

from __future__ import annotations

import sqlalchemy as sa
from alembic import op

revision = "0007"
down_revision = "0006"
branch_labels = None
depends_on = None


def upgrade() -> None:
    op.create_table(
        "zone_settling",
        sa.Column("zone_id", sa.Integer(), nullable=False),
        sa.Column("building_id", sa.Integer(), nullable=False),
        sa.Column("organisation_id", sa.Integer(), nullable=False),
        sa.Column("kind", sa.String(length=16), nullable=False),
        sa.Column("sets", sa.Text(), nullable=False),
        sa.ForeignKeyConstraint(
            ["zone_id"],
            ["zone_result.zone_id"],
            name=op.f("fk_zone_settling_zone_id"),
            ondelete="CASCADE",
        ),
        sa.PrimaryKeyConstraint("zone_id", name=op.f("pk_zone_settling")),
    )
    op.create_index(
        "ix_zone_settling_kind",
        "zone_settling",
        ["kind", "organisation_id", "building_id", "zone_id"],
    )
    op.create_table(
        "building_to_find",
        sa.Column("building_id", sa.Integer(), nullable=False),
        sa.Column("parameter", sa.String(length=60), nullable=False),
        sa.Column("way", sa.String(length=20), nullable=False),
        sa.Column("organisation_id", sa.Integer(), nullable=False),
        sa.Column("zones", sa.Integer(), nullable=False),
        sa.Column("alone", sa.Integer(), nullable=False),
        sa.Column("area_m2", sa.Double(), nullable=False),
        sa.Column("area_unknown", sa.Integer(), nullable=False),
        sa.ForeignKeyConstraint(
            ["building_id"],
            ["building_result.building_id"],
            name=op.f("fk_building_to_find_building_id"),
            ondelete="CASCADE",
        ),
        sa.PrimaryKeyConstraint(
            "building_id", "parameter", "way", name=op.f("pk_building_to_find")
        ),
    )
    op.create_index(
        "ix_building_to_find_fact",
        "building_to_find",
        [
            "parameter",
            "way",
            "organisation_id",
            "building_id",
            "zones",
            "alone",
            "area_m2",
            "area_unknown",
        ],
    )
    op.execute(
        "UPDATE zone_result SET computed_on = '1900-01-01' WHERE coverage = 'too-little-known'"
    )


def downgrade() -> None:
    op.drop_table("building_to_find")
    op.drop_table("zone_settling")
