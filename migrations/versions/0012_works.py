"""Works

What is decided of a wall, its statuses, interim measures, and addresses to subscribe to the dates;
documents may support works, and their completion.
"""

from __future__ import annotations

import sqlalchemy as sa
from alembic import op

revision = "0012"
down_revision = "0011"
branch_labels = None
depends_on = None

_DECIDED = ("not-decided", "survey", "assessment", "test", "replacement", "none-needed")
_STATUS = ("identified", "appraised", "planned", "started", "awaiting-sign-off", "complete")
_FACTS = ("building", "survey", "decision", "settlement", "test", "consent", "certificate")
_FACT_CHECK = "ck_document_support_fact"


def _word(name: str, words: tuple[str, ...]) -> sa.Enum:
    return sa.Enum(*words, name=name, native_enum=False, create_constraint=True, length=40)


def _text(name: str, longest: int) -> sa.Column[str]:
    return sa.Column(name, sa.String(longest), nullable=False)


def _facts(words: tuple[str, ...]) -> None:
    told = f"fact IN ({', '.join(repr(word) for word in words)})"
    with op.batch_alter_table("document_support") as batch_op:
        batch_op.drop_constraint(op.f(_FACT_CHECK), type_="check")
        batch_op.create_check_constraint(op.f(_FACT_CHECK), told)


def upgrade() -> None:
    op.create_table(
        "works",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("building_id", sa.Integer(), nullable=False),
        _text("ref", 60),
        _text("uid", 36),
        _text("title", 200),
        sa.Column("decided", _word("decided", _DECIDED), nullable=False),
        sa.Column("decided_reason", sa.Text(), nullable=False),
        sa.Column("status", _word("status", _STATUS), nullable=False),
        sa.Column("status_on", sa.Date(), nullable=False),
        sa.Column("built_on", sa.Date(), nullable=True),
        _text("programme", 100),
        _text("responsible", 200),
        _text("funding_route", 300),
        _text("currency", 3),
        sa.Column("funding_minor", sa.BigInteger(), nullable=True),
        sa.Column("estimate_minor", sa.BigInteger(), nullable=True),
        sa.Column("outturn_minor", sa.BigInteger(), nullable=True),
        sa.Column("due_on", sa.Date(), nullable=True),
        _text("due_reason", 300),
        sa.Column("residents_told_on", sa.Date(), nullable=True),
        sa.Column("residents_next_on", sa.Date(), nullable=True),
        sa.Column("note", sa.Text(), nullable=False),
        sa.Column("revision", sa.Integer(), nullable=False),
        sa.ForeignKeyConstraint(
            ["building_id"], ["building.id"], name=op.f("fk_works_building_id")
        ),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_works")),
        sa.UniqueConstraint("building_id", "ref", name=op.f("uq_works_building_id_ref")),
        sa.UniqueConstraint("uid", name=op.f("uq_works_uid")),
    )
    for column in ("building_id", "status", "due_on", "residents_next_on"):
        op.create_index(op.f(f"ix_works_{column}"), "works", [column])
    op.create_table(
        "works_zone",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("works_id", sa.Integer(), nullable=False),
        sa.Column("zone_id", sa.Integer(), nullable=False),
        sa.ForeignKeyConstraint(
            ["works_id"], ["works.id"], name=op.f("fk_works_zone_works_id"), ondelete="CASCADE"
        ),
        sa.ForeignKeyConstraint(["zone_id"], ["zone.id"], name=op.f("fk_works_zone_zone_id")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_works_zone")),
        sa.UniqueConstraint("works_id", "zone_id", name=op.f("uq_works_zone_works_id_zone_id")),
    )
    op.create_index(op.f("ix_works_zone_zone_id"), "works_zone", ["zone_id"])
    op.create_table(
        "works_step",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("works_id", sa.Integer(), nullable=False),
        sa.Column("status", _word("status", _STATUS), nullable=False),
        sa.Column("on", sa.Date(), nullable=False),
        sa.Column("documents", sa.Text(), nullable=False),
        sa.Column("reason", sa.Text(), nullable=False),
        _text("recorded_by", 400),
        sa.Column("recorded_on", sa.Date(), nullable=False),
        sa.ForeignKeyConstraint(["works_id"], ["works.id"], name=op.f("fk_works_step_works_id")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_works_step")),
    )
    op.create_index(op.f("ix_works_step_works_id"), "works_step", ["works_id"])
    op.create_table(
        "interim_measure",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("works_id", sa.Integer(), nullable=False),
        _text("uid", 36),
        _text("measure", 200),
        sa.Column("started_on", sa.Date(), nullable=False),
        sa.Column("review_on", sa.Date(), nullable=True),
        sa.Column("ended_on", sa.Date(), nullable=True),
        sa.Column("monthly_minor", sa.BigInteger(), nullable=True),
        sa.Column("revision", sa.Integer(), nullable=False),
        sa.ForeignKeyConstraint(
            ["works_id"], ["works.id"], name=op.f("fk_interim_measure_works_id")
        ),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_interim_measure")),
        sa.UniqueConstraint("uid", name=op.f("uq_interim_measure_uid")),
    )
    for column in ("works_id", "review_on"):
        op.create_index(op.f(f"ix_interim_measure_{column}"), "interim_measure", [column])
    op.create_table(
        "calendar_link",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("organisation_id", sa.Integer(), nullable=False),
        sa.Column("person_id", sa.Integer(), nullable=True),
        _text("token_hash", 64),
        _text("made_by", 400),
        sa.Column("made_on", sa.Date(), nullable=False),
        sa.Column("revoked_on", sa.Date(), nullable=True),
        sa.ForeignKeyConstraint(
            ["organisation_id"], ["organisation.id"], name=op.f("fk_calendar_link_organisation_id")
        ),
        sa.ForeignKeyConstraint(
            ["person_id"],
            ["person.id"],
            name=op.f("fk_calendar_link_person_id"),
            ondelete="CASCADE",
        ),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_calendar_link")),
        sa.UniqueConstraint("token_hash", name=op.f("uq_calendar_link_token_hash")),
    )
    op.create_index(op.f("ix_calendar_link_organisation_id"), "calendar_link", ["organisation_id"])
    _facts((*_FACTS, "works", "completion"))


def downgrade() -> None:
    # the older schema has no place for what they support
    op.execute("DELETE FROM document_support WHERE fact IN ('works', 'completion')")
    _facts(_FACTS)
    for table in ("calendar_link", "interim_measure", "works_step", "works_zone", "works"):
        op.drop_table(table)
