"""First tables

Organisations own buildings and evidence from the start; results are derived and can be dropped;
the change log is append-only from the first entry on.
"""

from __future__ import annotations

import sqlalchemy as sa
from alembic import op

from portfolio.db.append_only import lift, protect

revision = "0001"
down_revision = None
branch_labels = None
depends_on = None


def upgrade() -> None:

    op.create_table(
        "failed_sign_in",
        sa.Column("key", sa.String(length=64), nullable=False),
        sa.Column("failures", sa.Integer(), nullable=False),
        sa.Column("wait_until", sa.DateTime(timezone=True), nullable=False),
        sa.PrimaryKeyConstraint("key", name=op.f("pk_failed_sign_in")),
    )
    op.create_table(
        "log_head",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("entries", sa.Integer(), nullable=False),
        sa.Column("last_hash", sa.String(length=64), nullable=False),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_log_head")),
    )
    op.create_table(
        "organisation",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("ref", sa.String(length=60), nullable=False),
        sa.Column("name", sa.String(length=200), nullable=False),
        sa.Column(
            "kind",
            sa.Enum(
                "owner",
                "consultancy",
                "laboratory",
                name="kind",
                native_enum=False,
                create_constraint=True,
                length=40,
            ),
            nullable=False,
        ),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_organisation")),
        sa.UniqueConstraint("ref", name=op.f("uq_organisation_ref")),
    )
    op.create_table(
        "building",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("organisation_id", sa.Integer(), nullable=False),
        sa.Column("ref", sa.String(length=60), nullable=False),
        sa.Column("name", sa.String(length=200), nullable=False),
        sa.Column("address", sa.String(length=300), nullable=False),
        sa.Column("jurisdiction", sa.String(length=60), nullable=False),
        sa.Column("use", sa.String(length=40), nullable=False),
        sa.Column("storeys", sa.Integer(), nullable=True),
        sa.Column("homes", sa.Integer(), nullable=True),
        sa.Column("people", sa.Integer(), nullable=True),
        sa.Column("evacuation", sa.String(length=40), nullable=False),
        sa.Column("sprinklers", sa.String(length=40), nullable=False),
        sa.Column("note", sa.Text(), nullable=False),
        sa.Column("search_text", sa.Text(), nullable=False),
        sa.Column("revision", sa.Integer(), nullable=False),
        sa.ForeignKeyConstraint(
            ["organisation_id"], ["organisation.id"], name=op.f("fk_building_organisation_id")
        ),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_building")),
        sa.UniqueConstraint("organisation_id", "ref", name=op.f("uq_building_organisation_id_ref")),
    )
    with op.batch_alter_table("building", schema=None) as batch_op:
        batch_op.create_index(
            batch_op.f("ix_building_organisation_id"), ["organisation_id"], unique=False
        )

    op.create_table(
        "demand_share",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("owner_id", sa.Integer(), nullable=False),
        sa.Column("laboratory_id", sa.Integer(), nullable=False),
        sa.Column("is_named", sa.Boolean(), nullable=False),
        sa.Column("since", sa.Date(), nullable=False),
        sa.Column("granted_by", sa.String(length=200), nullable=False),
        sa.ForeignKeyConstraint(
            ["laboratory_id"], ["organisation.id"], name=op.f("fk_demand_share_laboratory_id")
        ),
        sa.ForeignKeyConstraint(
            ["owner_id"], ["organisation.id"], name=op.f("fk_demand_share_owner_id")
        ),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_demand_share")),
        sa.UniqueConstraint(
            "owner_id", "laboratory_id", name=op.f("uq_demand_share_owner_id_laboratory_id")
        ),
    )
    with op.batch_alter_table("demand_share", schema=None) as batch_op:
        batch_op.create_index(
            batch_op.f("ix_demand_share_laboratory_id"), ["laboratory_id"], unique=False
        )
        batch_op.create_index(batch_op.f("ix_demand_share_owner_id"), ["owner_id"], unique=False)

    op.create_table(
        "event",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("at", sa.DateTime(timezone=True), nullable=False),
        sa.Column("organisation_id", sa.Integer(), nullable=True),
        sa.Column("actor", sa.String(length=400), nullable=False),
        sa.Column("person_id", sa.Integer(), nullable=True),
        sa.Column("acting_organisation_id", sa.Integer(), nullable=True),
        sa.Column("action", sa.String(length=40), nullable=False),
        sa.Column("subject", sa.String(length=40), nullable=False),
        sa.Column("subject_id", sa.Integer(), nullable=False),
        sa.Column("subject_ref", sa.String(length=200), nullable=False),
        sa.Column("changes", sa.JSON(none_as_null=True), nullable=False),
        sa.Column("reason", sa.Text(), nullable=False),
        sa.Column("state", sa.JSON(none_as_null=True), nullable=True),
        sa.Column("previous_hash", sa.String(length=64), nullable=False),
        sa.Column("hash", sa.String(length=64), nullable=False),
        sa.ForeignKeyConstraint(
            ["organisation_id"], ["organisation.id"], name=op.f("fk_event_organisation_id")
        ),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_event")),
    )
    with op.batch_alter_table("event", schema=None) as batch_op:
        batch_op.create_index(
            batch_op.f("ix_event_organisation_id"), ["organisation_id"], unique=False
        )
        batch_op.create_index("ix_event_subject", ["subject", "subject_id"], unique=False)

    op.create_table(
        "invitation",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("organisation_id", sa.Integer(), nullable=False),
        sa.Column("email", sa.String(length=200), nullable=False),
        sa.Column("name", sa.String(length=200), nullable=False),
        sa.Column(
            "role",
            sa.Enum(
                "reader",
                "editor",
                "engineer",
                "administrator",
                name="role",
                native_enum=False,
                create_constraint=True,
                length=40,
            ),
            nullable=False,
        ),
        sa.Column("token_hash", sa.String(length=64), nullable=False),
        sa.Column("expires_at", sa.DateTime(timezone=True), nullable=False),
        sa.Column("used_at", sa.DateTime(timezone=True), nullable=True),
        sa.Column("invited_by", sa.String(length=200), nullable=False),
        sa.ForeignKeyConstraint(
            ["organisation_id"], ["organisation.id"], name=op.f("fk_invitation_organisation_id")
        ),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_invitation")),
        sa.UniqueConstraint("token_hash", name=op.f("uq_invitation_token_hash")),
    )
    with op.batch_alter_table("invitation", schema=None) as batch_op:
        batch_op.create_index(
            batch_op.f("ix_invitation_organisation_id"), ["organisation_id"], unique=False
        )

    op.create_table(
        "person",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("organisation_id", sa.Integer(), nullable=False),
        sa.Column("email", sa.String(length=200), nullable=False),
        sa.Column("name", sa.String(length=200), nullable=False),
        sa.Column(
            "role",
            sa.Enum(
                "reader",
                "editor",
                "engineer",
                "administrator",
                name="role",
                native_enum=False,
                create_constraint=True,
                length=40,
            ),
            nullable=False,
        ),
        sa.Column("password_hash", sa.String(length=300), nullable=False),
        sa.Column("is_active", sa.Boolean(), nullable=False),
        sa.ForeignKeyConstraint(
            ["organisation_id"], ["organisation.id"], name=op.f("fk_person_organisation_id")
        ),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_person")),
        sa.UniqueConstraint("email", name=op.f("uq_person_email")),
    )
    with op.batch_alter_table("person", schema=None) as batch_op:
        batch_op.create_index(
            batch_op.f("ix_person_organisation_id"), ["organisation_id"], unique=False
        )

    op.create_table(
        "test_record",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("organisation_id", sa.Integer(), nullable=False),
        sa.Column("ref", sa.String(length=60), nullable=False),
        sa.Column("title", sa.String(length=300), nullable=False),
        sa.Column("laboratory", sa.String(length=200), nullable=False),
        sa.Column("sponsor", sa.String(length=200), nullable=False),
        sa.Column("standard", sa.String(length=60), nullable=False),
        sa.Column("part", sa.String(length=10), nullable=False),
        sa.Column("edition", sa.String(length=60), nullable=False),
        sa.Column("tested_on", sa.Date(), nullable=True),
        sa.Column(
            "external_spread",
            sa.Enum(
                "met",
                "not-met",
                "unknown",
                name="external_spread",
                native_enum=False,
                create_constraint=True,
                length=40,
            ),
            nullable=False,
        ),
        sa.Column(
            "internal_spread",
            sa.Enum(
                "met",
                "not-met",
                "unknown",
                name="internal_spread",
                native_enum=False,
                create_constraint=True,
                length=40,
            ),
            nullable=False,
        ),
        sa.Column(
            "burn_through",
            sa.Enum(
                "met",
                "not-met",
                "unknown",
                name="burn_through",
                native_enum=False,
                create_constraint=True,
                length=40,
            ),
            nullable=True,
        ),
        sa.Column(
            "no_flames_above_rig",
            sa.Enum(
                "met",
                "not-met",
                "unknown",
                name="no_flames",
                native_enum=False,
                create_constraint=True,
                length=40,
            ),
            nullable=False,
        ),
        sa.Column(
            "no_early_end",
            sa.Enum(
                "met",
                "not-met",
                "unknown",
                name="no_early_end",
                native_enum=False,
                create_constraint=True,
                length=40,
            ),
            nullable=False,
        ),
        sa.Column("observations", sa.Text(), nullable=False),
        sa.Column(
            "printed_outcome",
            sa.Enum(
                "passed",
                "failed",
                "not-told",
                name="printed_outcome",
                native_enum=False,
                create_constraint=True,
                length=40,
            ),
            nullable=False,
        ),
        sa.Column("class_document", sa.String(length=60), nullable=False),
        sa.Column("class_edition", sa.String(length=60), nullable=False),
        sa.Column("class_annex", sa.String(length=10), nullable=False),
        sa.Column("class_report", sa.String(length=100), nullable=False),
        sa.Column(
            "standing",
            sa.Enum(
                "live",
                "disputed",
                "superseded",
                "withdrawn",
                name="standing",
                native_enum=False,
                create_constraint=True,
                length=40,
            ),
            nullable=False,
        ),
        sa.Column("standing_note", sa.Text(), nullable=False),
        sa.Column(
            "holding",
            sa.Enum(
                "in-full",
                "summary",
                "not-seen",
                name="holding",
                native_enum=False,
                create_constraint=True,
                length=40,
            ),
            nullable=False,
        ),
        sa.Column(
            "consent",
            sa.Enum(
                "own",
                "published",
                "given",
                "asked",
                "not-asked",
                "refused",
                name="consent",
                native_enum=False,
                create_constraint=True,
                length=40,
            ),
            nullable=False,
        ),
        sa.Column("leans_on", sa.JSON(none_as_null=True), nullable=False),
        sa.Column("source", sa.String(length=300), nullable=False),
        sa.Column("build_up", sa.JSON(none_as_null=True), nullable=False),
        sa.Column("revision", sa.Integer(), nullable=False),
        sa.ForeignKeyConstraint(
            ["organisation_id"], ["organisation.id"], name=op.f("fk_test_record_organisation_id")
        ),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_test_record")),
        sa.UniqueConstraint(
            "organisation_id", "ref", name=op.f("uq_test_record_organisation_id_ref")
        ),
    )
    with op.batch_alter_table("test_record", schema=None) as batch_op:
        batch_op.create_index(
            batch_op.f("ix_test_record_organisation_id"), ["organisation_id"], unique=False
        )

    op.create_table(
        "building_grant",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("building_id", sa.Integer(), nullable=False),
        sa.Column("organisation_id", sa.Integer(), nullable=False),
        sa.Column(
            "access",
            sa.Enum(
                "read", "edit", name="access", native_enum=False, create_constraint=True, length=40
            ),
            nullable=False,
        ),
        sa.Column("from_day", sa.Date(), nullable=False),
        sa.Column("until_day", sa.Date(), nullable=True),
        sa.Column("taken_back_at", sa.DateTime(timezone=True), nullable=True),
        sa.Column("granted_by", sa.String(length=200), nullable=False),
        sa.ForeignKeyConstraint(
            ["building_id"],
            ["building.id"],
            name=op.f("fk_building_grant_building_id"),
            ondelete="CASCADE",
        ),
        sa.ForeignKeyConstraint(
            ["organisation_id"], ["organisation.id"], name=op.f("fk_building_grant_organisation_id")
        ),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_building_grant")),
    )
    with op.batch_alter_table("building_grant", schema=None) as batch_op:
        batch_op.create_index(
            batch_op.f("ix_building_grant_building_id"), ["building_id"], unique=False
        )
        batch_op.create_index(
            "ix_building_grant_to", ["organisation_id", "building_id"], unique=False
        )

    op.create_table(
        "building_result",
        sa.Column("building_id", sa.Integer(), nullable=False),
        sa.Column("organisation_id", sa.Integer(), nullable=False),
        sa.Column(
            "coverage",
            sa.Enum(
                "covered",
                "contradicted",
                "to-assess",
                "too-little-known",
                "no-matching-evidence",
                name="coverage",
                native_enum=False,
                create_constraint=True,
                length=40,
            ),
            nullable=False,
        ),
        sa.Column("by_inference", sa.Boolean(), nullable=False),
        sa.Column("zones", sa.Integer(), nullable=False),
        sa.Column("gaps", sa.Integer(), nullable=False),
        sa.Column("in_conflict", sa.Integer(), nullable=False),
        sa.Column("top_floor_height_m", sa.Double(), nullable=True),
        sa.Column("height_band", sa.String(length=20), nullable=False),
        sa.Column("people", sa.Integer(), nullable=True),
        sa.Column(
            "position",
            sa.String(length=300).with_variant(sa.String(length=300, collation="C"), "postgresql"),
            nullable=False,
        ),
        sa.ForeignKeyConstraint(
            ["building_id"],
            ["building.id"],
            name=op.f("fk_building_result_building_id"),
            ondelete="CASCADE",
        ),
        sa.ForeignKeyConstraint(
            ["organisation_id"],
            ["organisation.id"],
            name=op.f("fk_building_result_organisation_id"),
        ),
        sa.PrimaryKeyConstraint("building_id", name=op.f("pk_building_result")),
    )
    with op.batch_alter_table("building_result", schema=None) as batch_op:
        batch_op.create_index(
            batch_op.f("ix_building_result_organisation_id"), ["organisation_id"], unique=False
        )
        batch_op.create_index(batch_op.f("ix_building_result_position"), ["position"], unique=False)

    op.create_table(
        "height_claim",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("building_id", sa.Integer(), nullable=False),
        sa.Column("metres", sa.Double(), nullable=False),
        sa.Column("method", sa.String(length=200), nullable=False),
        sa.Column("tolerance_m", sa.Double(), nullable=True),
        sa.Column("on", sa.Date(), nullable=True),
        sa.Column("source", sa.String(length=300), nullable=False),
        sa.ForeignKeyConstraint(
            ["building_id"],
            ["building.id"],
            name=op.f("fk_height_claim_building_id"),
            ondelete="CASCADE",
        ),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_height_claim")),
    )
    with op.batch_alter_table("height_claim", schema=None) as batch_op:
        batch_op.create_index(
            batch_op.f("ix_height_claim_building_id"), ["building_id"], unique=False
        )

    op.create_table(
        "sign_in",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("person_id", sa.Integer(), nullable=False),
        sa.Column("token_hash", sa.String(length=64), nullable=False),
        sa.Column("started_at", sa.DateTime(timezone=True), nullable=False),
        sa.Column("seen_at", sa.DateTime(timezone=True), nullable=False),
        sa.ForeignKeyConstraint(
            ["person_id"], ["person.id"], name=op.f("fk_sign_in_person_id"), ondelete="CASCADE"
        ),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_sign_in")),
        sa.UniqueConstraint("token_hash", name=op.f("uq_sign_in_token_hash")),
    )
    with op.batch_alter_table("sign_in", schema=None) as batch_op:
        batch_op.create_index(batch_op.f("ix_sign_in_person_id"), ["person_id"], unique=False)

    op.create_table(
        "test_consent",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("test_id", sa.Integer(), nullable=False),
        sa.Column("organisation_id", sa.Integer(), nullable=False),
        sa.Column(
            "consent",
            sa.Enum(
                "own",
                "published",
                "given",
                "asked",
                "not-asked",
                "refused",
                name="consent",
                native_enum=False,
                create_constraint=True,
                length=40,
            ),
            nullable=False,
        ),
        sa.Column("on", sa.Date(), nullable=True),
        sa.Column("until", sa.Date(), nullable=True),
        sa.Column("purpose", sa.String(length=300), nullable=False),
        sa.Column(
            "shows",
            sa.Enum(
                "everything",
                "reference-and-outcome",
                name="shows",
                native_enum=False,
                create_constraint=True,
                length=40,
            ),
            nullable=False,
        ),
        sa.Column("document", sa.String(length=300), nullable=False),
        sa.ForeignKeyConstraint(
            ["organisation_id"], ["organisation.id"], name=op.f("fk_test_consent_organisation_id")
        ),
        sa.ForeignKeyConstraint(
            ["test_id"],
            ["test_record.id"],
            name=op.f("fk_test_consent_test_id"),
            ondelete="CASCADE",
        ),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_test_consent")),
        sa.UniqueConstraint(
            "test_id", "organisation_id", name=op.f("uq_test_consent_test_id_organisation_id")
        ),
    )
    with op.batch_alter_table("test_consent", schema=None) as batch_op:
        batch_op.create_index(
            batch_op.f("ix_test_consent_organisation_id"), ["organisation_id"], unique=False
        )
        batch_op.create_index(batch_op.f("ix_test_consent_test_id"), ["test_id"], unique=False)

    op.create_table(
        "zone",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("building_id", sa.Integer(), nullable=False),
        sa.Column("ref", sa.String(length=60), nullable=False),
        sa.Column("description", sa.String(length=300), nullable=False),
        sa.Column("face", sa.String(length=60), nullable=False),
        sa.Column("from_storey", sa.Integer(), nullable=True),
        sa.Column("to_storey", sa.Integer(), nullable=True),
        sa.Column("area_m2", sa.Double(), nullable=True),
        sa.Column("is_attachment", sa.Boolean(), nullable=False),
        sa.Column("revision", sa.Integer(), nullable=False),
        sa.ForeignKeyConstraint(["building_id"], ["building.id"], name=op.f("fk_zone_building_id")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_zone")),
        sa.UniqueConstraint("building_id", "ref", name=op.f("uq_zone_building_id_ref")),
    )
    with op.batch_alter_table("zone", schema=None) as batch_op:
        batch_op.create_index(batch_op.f("ix_zone_building_id"), ["building_id"], unique=False)

    op.create_table(
        "building_coverage",
        sa.Column("building_id", sa.Integer(), nullable=False),
        sa.Column(
            "coverage",
            sa.Enum(
                "covered",
                "contradicted",
                "to-assess",
                "too-little-known",
                "no-matching-evidence",
                name="coverage",
                native_enum=False,
                create_constraint=True,
                length=40,
            ),
            nullable=False,
        ),
        sa.Column("by_inference", sa.Boolean(), nullable=False),
        sa.Column("organisation_id", sa.Integer(), nullable=False),
        sa.Column("height_band", sa.String(length=20), nullable=False),
        sa.Column("zones", sa.Integer(), nullable=False),
        sa.Column("area_m2", sa.Double(), nullable=False),
        sa.Column("area_unknown", sa.Integer(), nullable=False),
        sa.ForeignKeyConstraint(
            ["building_id"],
            ["building_result.building_id"],
            name=op.f("fk_building_coverage_building_id"),
            ondelete="CASCADE",
        ),
        sa.PrimaryKeyConstraint(
            "building_id", "coverage", "by_inference", name=op.f("pk_building_coverage")
        ),
    )
    op.create_table(
        "building_missing",
        sa.Column("building_id", sa.Integer(), nullable=False),
        sa.Column(
            "missing",
            sa.Enum(
                "unknown",
                "conflict",
                name="missing",
                native_enum=False,
                create_constraint=True,
                length=40,
            ),
            nullable=False,
        ),
        sa.Column("parameter", sa.String(length=60), nullable=False),
        sa.Column("organisation_id", sa.Integer(), nullable=False),
        sa.Column("gaps", sa.Integer(), nullable=False),
        sa.ForeignKeyConstraint(
            ["building_id"],
            ["building_result.building_id"],
            name=op.f("fk_building_missing_building_id"),
            ondelete="CASCADE",
        ),
        sa.PrimaryKeyConstraint(
            "building_id", "missing", "parameter", name=op.f("pk_building_missing")
        ),
    )
    with op.batch_alter_table("building_missing", schema=None) as batch_op:
        batch_op.create_index(
            "ix_building_missing_parameter",
            ["missing", "parameter", "organisation_id", "building_id", "gaps"],
            unique=False,
        )

    op.create_table(
        "building_wall",
        sa.Column("building_id", sa.Integer(), nullable=False),
        sa.Column("wall_key", sa.String(length=16), nullable=False),
        sa.Column("organisation_id", sa.Integer(), nullable=False),
        sa.Column("zones", sa.Integer(), nullable=False),
        sa.Column("area_m2", sa.Double(), nullable=False),
        sa.Column("area_unknown", sa.Integer(), nullable=False),
        sa.Column("sample_zone_id", sa.Integer(), nullable=False),
        sa.Column("top_floor_height_m", sa.Double(), nullable=True),
        sa.ForeignKeyConstraint(
            ["building_id"],
            ["building_result.building_id"],
            name=op.f("fk_building_wall_building_id"),
            ondelete="CASCADE",
        ),
        sa.PrimaryKeyConstraint("building_id", "wall_key", name=op.f("pk_building_wall")),
    )
    with op.batch_alter_table("building_wall", schema=None) as batch_op:
        batch_op.create_index(
            "ix_building_wall_alike",
            [
                "wall_key",
                "organisation_id",
                "building_id",
                "zones",
                "area_m2",
                "area_unknown",
                "sample_zone_id",
                "top_floor_height_m",
            ],
            unique=False,
        )

    op.create_table(
        "decision",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("zone_id", sa.Integer(), nullable=False),
        sa.Column("ruling", sa.Text(), nullable=False),
        sa.Column("by", sa.String(length=200), nullable=False),
        sa.Column("qualification", sa.String(length=200), nullable=False),
        sa.Column("on", sa.Date(), nullable=False),
        sa.Column("valid_until", sa.Date(), nullable=True),
        sa.Column("reasons", sa.Text(), nullable=False),
        sa.Column("documents", sa.Text(), nullable=False),
        sa.Column("coverage_then", sa.String(length=60), nullable=False),
        sa.ForeignKeyConstraint(["zone_id"], ["zone.id"], name=op.f("fk_decision_zone_id")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_decision")),
    )
    with op.batch_alter_table("decision", schema=None) as batch_op:
        batch_op.create_index(batch_op.f("ix_decision_zone_id"), ["zone_id"], unique=False)

    op.create_table(
        "settlement",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("zone_id", sa.Integer(), nullable=False),
        sa.Column("parameter", sa.String(length=60), nullable=False),
        sa.Column("survey_ref", sa.String(length=60), nullable=False),
        sa.Column("by", sa.String(length=200), nullable=False),
        sa.Column("on", sa.Date(), nullable=False),
        sa.Column("reason", sa.Text(), nullable=False),
        sa.ForeignKeyConstraint(["zone_id"], ["zone.id"], name=op.f("fk_settlement_zone_id")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_settlement")),
    )
    with op.batch_alter_table("settlement", schema=None) as batch_op:
        batch_op.create_index(batch_op.f("ix_settlement_zone_id"), ["zone_id"], unique=False)

    op.create_table(
        "survey",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("zone_id", sa.Integer(), nullable=False),
        sa.Column("ref", sa.String(length=60), nullable=False),
        sa.Column(
            "basis",
            sa.Enum(
                "opening-up",
                "laboratory",
                "certificate",
                "drawing",
                "outside",
                "assumption",
                name="basis",
                native_enum=False,
                create_constraint=True,
                length=40,
            ),
            nullable=False,
        ),
        sa.Column("on", sa.Date(), nullable=False),
        sa.Column("source", sa.String(length=300), nullable=False),
        sa.Column("build_up", sa.JSON(none_as_null=True), nullable=False),
        sa.ForeignKeyConstraint(["zone_id"], ["zone.id"], name=op.f("fk_survey_zone_id")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_survey")),
        sa.UniqueConstraint("zone_id", "ref", name=op.f("uq_survey_zone_id_ref")),
    )
    with op.batch_alter_table("survey", schema=None) as batch_op:
        batch_op.create_index(batch_op.f("ix_survey_zone_id"), ["zone_id"], unique=False)

    op.create_table(
        "zone_result",
        sa.Column("zone_id", sa.Integer(), nullable=False),
        sa.Column("building_id", sa.Integer(), nullable=False),
        sa.Column("organisation_id", sa.Integer(), nullable=False),
        sa.Column(
            "coverage",
            sa.Enum(
                "covered",
                "contradicted",
                "to-assess",
                "too-little-known",
                "no-matching-evidence",
                name="coverage",
                native_enum=False,
                create_constraint=True,
                length=40,
            ),
            nullable=False,
        ),
        sa.Column("by_inference", sa.Boolean(), nullable=False),
        sa.Column("covered_too", sa.Boolean(), nullable=False),
        sa.Column("is_gap", sa.Boolean(), nullable=False),
        sa.Column("has_conflict", sa.Boolean(), nullable=False),
        sa.Column(
            "position",
            sa.String(length=300).with_variant(sa.String(length=300, collation="C"), "postgresql"),
            nullable=False,
        ),
        sa.Column("details", sa.JSON(none_as_null=True), nullable=False),
        sa.Column("wall_key", sa.String(length=16), nullable=False),
        sa.Column("wall_text", sa.String(length=300), nullable=False),
        sa.Column("computed_on", sa.Date(), nullable=False),
        sa.Column("rule_version", sa.String(length=20), nullable=False),
        sa.ForeignKeyConstraint(
            ["building_id"],
            ["building.id"],
            name=op.f("fk_zone_result_building_id"),
            ondelete="CASCADE",
        ),
        sa.ForeignKeyConstraint(
            ["organisation_id"], ["organisation.id"], name=op.f("fk_zone_result_organisation_id")
        ),
        sa.ForeignKeyConstraint(
            ["zone_id"], ["zone.id"], name=op.f("fk_zone_result_zone_id"), ondelete="CASCADE"
        ),
        sa.PrimaryKeyConstraint("zone_id", name=op.f("pk_zone_result")),
    )
    with op.batch_alter_table("zone_result", schema=None) as batch_op:
        batch_op.create_index("ix_zone_result_alike", ["wall_key", "organisation_id"], unique=False)
        batch_op.create_index("ix_zone_result_building", ["building_id"], unique=False)
        batch_op.create_index(
            "ix_zone_result_order",
            [
                "position",
                "zone_id",
                "is_gap",
                "coverage",
                "by_inference",
                "organisation_id",
                "building_id",
            ],
            unique=False,
        )
        batch_op.create_index(
            "ix_zone_result_place",
            [
                "organisation_id",
                "position",
                "zone_id",
                "is_gap",
                "coverage",
                "by_inference",
                "building_id",
            ],
            unique=False,
        )

    op.create_table(
        "zone_test",
        sa.Column("zone_id", sa.Integer(), nullable=False),
        sa.Column("test_id", sa.Integer(), nullable=False),
        sa.Column(
            "way",
            sa.Enum(
                "covers",
                "against",
                "in-doubt",
                "nearest",
                name="way",
                native_enum=False,
                create_constraint=True,
                length=40,
            ),
            nullable=False,
        ),
        sa.Column("building_id", sa.Integer(), nullable=False),
        sa.Column("organisation_id", sa.Integer(), nullable=False),
        sa.ForeignKeyConstraint(
            ["test_id"], ["test_record.id"], name=op.f("fk_zone_test_test_id"), ondelete="CASCADE"
        ),
        sa.ForeignKeyConstraint(
            ["zone_id"],
            ["zone_result.zone_id"],
            name=op.f("fk_zone_test_zone_id"),
            ondelete="CASCADE",
        ),
        sa.PrimaryKeyConstraint("zone_id", "test_id", name=op.f("pk_zone_test")),
    )
    with op.batch_alter_table("zone_test", schema=None) as batch_op:
        batch_op.create_index(
            "ix_zone_test_by_test",
            ["test_id", "way", "organisation_id", "building_id"],
            unique=False,
        )

    protect(op.get_bind())


def downgrade() -> None:
    lift(op.get_bind())

    with op.batch_alter_table("zone_test", schema=None) as batch_op:
        batch_op.drop_index("ix_zone_test_by_test")

    op.drop_table("zone_test")
    with op.batch_alter_table("zone_result", schema=None) as batch_op:
        batch_op.drop_index("ix_zone_result_place")
        batch_op.drop_index("ix_zone_result_order")
        batch_op.drop_index("ix_zone_result_building")
        batch_op.drop_index("ix_zone_result_alike")

    op.drop_table("zone_result")
    with op.batch_alter_table("survey", schema=None) as batch_op:
        batch_op.drop_index(batch_op.f("ix_survey_zone_id"))

    op.drop_table("survey")
    with op.batch_alter_table("settlement", schema=None) as batch_op:
        batch_op.drop_index(batch_op.f("ix_settlement_zone_id"))

    op.drop_table("settlement")
    with op.batch_alter_table("decision", schema=None) as batch_op:
        batch_op.drop_index(batch_op.f("ix_decision_zone_id"))

    op.drop_table("decision")
    with op.batch_alter_table("building_wall", schema=None) as batch_op:
        batch_op.drop_index("ix_building_wall_alike")

    op.drop_table("building_wall")
    with op.batch_alter_table("building_missing", schema=None) as batch_op:
        batch_op.drop_index("ix_building_missing_parameter")

    op.drop_table("building_missing")
    op.drop_table("building_coverage")
    with op.batch_alter_table("zone", schema=None) as batch_op:
        batch_op.drop_index(batch_op.f("ix_zone_building_id"))

    op.drop_table("zone")
    with op.batch_alter_table("test_consent", schema=None) as batch_op:
        batch_op.drop_index(batch_op.f("ix_test_consent_test_id"))
        batch_op.drop_index(batch_op.f("ix_test_consent_organisation_id"))

    op.drop_table("test_consent")
    with op.batch_alter_table("sign_in", schema=None) as batch_op:
        batch_op.drop_index(batch_op.f("ix_sign_in_person_id"))

    op.drop_table("sign_in")
    with op.batch_alter_table("height_claim", schema=None) as batch_op:
        batch_op.drop_index(batch_op.f("ix_height_claim_building_id"))

    op.drop_table("height_claim")
    with op.batch_alter_table("building_result", schema=None) as batch_op:
        batch_op.drop_index(batch_op.f("ix_building_result_position"))
        batch_op.drop_index(batch_op.f("ix_building_result_organisation_id"))

    op.drop_table("building_result")
    with op.batch_alter_table("building_grant", schema=None) as batch_op:
        batch_op.drop_index("ix_building_grant_to")
        batch_op.drop_index(batch_op.f("ix_building_grant_building_id"))

    op.drop_table("building_grant")
    with op.batch_alter_table("test_record", schema=None) as batch_op:
        batch_op.drop_index(batch_op.f("ix_test_record_organisation_id"))

    op.drop_table("test_record")
    with op.batch_alter_table("person", schema=None) as batch_op:
        batch_op.drop_index(batch_op.f("ix_person_organisation_id"))

    op.drop_table("person")
    with op.batch_alter_table("invitation", schema=None) as batch_op:
        batch_op.drop_index(batch_op.f("ix_invitation_organisation_id"))

    op.drop_table("invitation")
    with op.batch_alter_table("event", schema=None) as batch_op:
        batch_op.drop_index("ix_event_subject")
        batch_op.drop_index(batch_op.f("ix_event_organisation_id"))

    op.drop_table("event")
    with op.batch_alter_table("demand_share", schema=None) as batch_op:
        batch_op.drop_index(batch_op.f("ix_demand_share_owner_id"))
        batch_op.drop_index(batch_op.f("ix_demand_share_laboratory_id"))

    op.drop_table("demand_share")
    with op.batch_alter_table("building", schema=None) as batch_op:
        batch_op.drop_index(batch_op.f("ix_building_organisation_id"))

    op.drop_table("building")
    op.drop_table("organisation")
    op.drop_table("log_head")
    op.drop_table("failed_sign_in")
