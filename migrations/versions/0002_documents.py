"""Documents with the facts that they support, and certificates of materials

What is claimed of a wall rests on papers; until now only their references could be noted. All
tables are new, so no row that is there changes.
"""

from __future__ import annotations

import sqlalchemy as sa
from alembic import op

revision = "0002"
down_revision = "0001"
branch_labels = None
depends_on = None


def upgrade() -> None:
    op.create_table(
        "certificate",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("organisation_id", sa.Integer(), nullable=False),
        sa.Column("ref", sa.String(length=100), nullable=False),
        sa.Column("issued_by", sa.String(length=200), nullable=False),
        sa.Column("product", sa.String(length=200), nullable=False),
        sa.Column("material", sa.String(length=200), nullable=False),
        sa.Column("reaction_class", sa.String(length=20), nullable=False),
        sa.Column("calorific_value", sa.Double(), nullable=True),
        sa.Column("valid_from", sa.Date(), nullable=True),
        sa.Column("valid_until", sa.Date(), nullable=True),
        sa.Column("revision", sa.Integer(), nullable=False),
        sa.ForeignKeyConstraint(
            ["organisation_id"], ["organisation.id"], name=op.f("fk_certificate_organisation_id")
        ),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_certificate")),
        sa.UniqueConstraint(
            "organisation_id", "ref", name=op.f("uq_certificate_organisation_id_ref")
        ),
    )
    op.create_table(
        "document",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("organisation_id", sa.Integer(), nullable=False),
        sa.Column("sha256", sa.String(length=64), nullable=False),
        sa.Column("size", sa.Integer(), nullable=False),
        sa.Column("media", sa.String(length=60), nullable=False),
        sa.Column("file_name", sa.String(length=120), nullable=False),
        sa.Column(
            "kind",
            sa.Enum(
                "report",
                "drawing",
                "photograph",
                "certificate",
                "consent",
                "other",
                name="kind",
                native_enum=False,
                create_constraint=True,
                length=40,
            ),
            nullable=False,
        ),
        sa.Column("reference", sa.String(length=200), nullable=False),
        sa.Column("on", sa.Date(), nullable=True),
        sa.Column(
            "seen_by",
            sa.Enum(
                "own",
                "with-fact",
                name="seen_by",
                native_enum=False,
                create_constraint=True,
                length=40,
            ),
            nullable=False,
        ),
        sa.Column("added_by", sa.String(length=400), nullable=False),
        sa.Column("added_on", sa.Date(), nullable=False),
        sa.ForeignKeyConstraint(
            ["organisation_id"], ["organisation.id"], name=op.f("fk_document_organisation_id")
        ),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_document")),
        sa.UniqueConstraint(
            "organisation_id", "sha256", name=op.f("uq_document_organisation_id_sha256")
        ),
    )
    with op.batch_alter_table("document", schema=None) as batch_op:
        batch_op.create_index(batch_op.f("ix_document_sha256"), ["sha256"], unique=False)

    op.create_table(
        "document_support",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("document_id", sa.Integer(), nullable=False),
        sa.Column(
            "fact",
            sa.Enum(
                "building",
                "survey",
                "decision",
                "settlement",
                "test",
                "consent",
                "certificate",
                name="fact",
                native_enum=False,
                create_constraint=True,
                length=40,
            ),
            nullable=False,
        ),
        sa.Column("fact_id", sa.Integer(), nullable=False),
        sa.Column("layer", sa.Integer(), nullable=False),
        sa.Column("building_id", sa.Integer(), nullable=True),
        sa.Column("zone_id", sa.Integer(), nullable=True),
        sa.Column("test_id", sa.Integer(), nullable=True),
        sa.Column("certificate_id", sa.Integer(), nullable=True),
        sa.Column("added_by", sa.String(length=400), nullable=False),
        sa.Column("added_on", sa.Date(), nullable=False),
        sa.ForeignKeyConstraint(
            ["building_id"], ["building.id"], name=op.f("fk_document_support_building_id")
        ),
        sa.ForeignKeyConstraint(
            ["certificate_id"], ["certificate.id"], name=op.f("fk_document_support_certificate_id")
        ),
        sa.ForeignKeyConstraint(
            ["document_id"],
            ["document.id"],
            name=op.f("fk_document_support_document_id"),
            ondelete="CASCADE",
        ),
        sa.ForeignKeyConstraint(
            ["test_id"], ["test_record.id"], name=op.f("fk_document_support_test_id")
        ),
        sa.ForeignKeyConstraint(["zone_id"], ["zone.id"], name=op.f("fk_document_support_zone_id")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_document_support")),
        sa.UniqueConstraint(
            "document_id",
            "fact",
            "fact_id",
            "layer",
            name=op.f("uq_document_support_document_id_fact_fact_id_layer"),
        ),
    )
    with op.batch_alter_table("document_support", schema=None) as batch_op:
        batch_op.create_index(
            batch_op.f("ix_document_support_building_id"), ["building_id"], unique=False
        )
        batch_op.create_index(
            batch_op.f("ix_document_support_certificate_id"), ["certificate_id"], unique=False
        )
        batch_op.create_index(batch_op.f("ix_document_support_test_id"), ["test_id"], unique=False)
        batch_op.create_index(batch_op.f("ix_document_support_zone_id"), ["zone_id"], unique=False)


def downgrade() -> None:
    with op.batch_alter_table("document_support", schema=None) as batch_op:
        batch_op.drop_index(batch_op.f("ix_document_support_zone_id"))
        batch_op.drop_index(batch_op.f("ix_document_support_test_id"))
        batch_op.drop_index(batch_op.f("ix_document_support_certificate_id"))
        batch_op.drop_index(batch_op.f("ix_document_support_building_id"))

    op.drop_table("document_support")
    with op.batch_alter_table("document", schema=None) as batch_op:
        batch_op.drop_index(batch_op.f("ix_document_sha256"))

    op.drop_table("document")
    op.drop_table("certificate")
