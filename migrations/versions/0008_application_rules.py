"""Application rules

The rules that an organisation's engineers own, version by version.
"""

from __future__ import annotations

import sqlalchemy as sa
from alembic import op

revision = "0008"
down_revision = "0007"
branch_labels = None
depends_on = None

_KINDS = ("within", "not-more", "not-less", "equals", "not-worse", "present")


def upgrade() -> None:
    op.create_table(
        "application_rule",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("organisation_id", sa.Integer(), nullable=False),
        sa.Column("key", sa.String(length=60), nullable=False),
        sa.Column("version", sa.Integer(), nullable=False),
        sa.Column("title", sa.String(length=200), nullable=False),
        sa.Column("parameter", sa.String(length=60), nullable=False),
        sa.Column(
            "kind",
            sa.Enum(*_KINDS, name="kind", native_enum=False, create_constraint=True, length=40),
            nullable=False,
        ),
        sa.Column("amount", sa.Double(), nullable=True),
        sa.Column("equals", sa.JSON(none_as_null=True), nullable=False),
        sa.Column("families", sa.JSON(none_as_null=True), nullable=False),
        sa.Column("jurisdictions", sa.JSON(none_as_null=True), nullable=False),
        sa.Column("conditions", sa.JSON(none_as_null=True), nullable=False),
        sa.Column("since", sa.Date(), nullable=False),
        sa.Column("until", sa.Date(), nullable=True),
        sa.Column("document", sa.String(length=300), nullable=False),
        sa.Column("clause", sa.String(length=100), nullable=False),
        sa.Column("author", sa.String(length=200), nullable=False),
        sa.Column("reason", sa.Text(), nullable=False),
        sa.Column("examples", sa.JSON(none_as_null=True), nullable=False),
        sa.Column("recorded_on", sa.Date(), nullable=False),
        sa.ForeignKeyConstraint(
            ["organisation_id"],
            ["organisation.id"],
            name=op.f("fk_application_rule_organisation_id"),
        ),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_application_rule")),
        sa.UniqueConstraint(
            "organisation_id",
            "key",
            "version",
            name=op.f("uq_application_rule_organisation_id_key_version"),
        ),
    )


def downgrade() -> None:
    op.drop_table("application_rule")
