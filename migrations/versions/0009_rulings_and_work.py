"""Rulings and work

What a decision rested on, what of it has changed, and who confirmed it since; and the kind of work
that a zone is looked at for. Decisions of before keep no basis: the pages say so.
"""

from __future__ import annotations

import sqlalchemy as sa
from alembic import op

revision = "0009"
down_revision = "0008"
branch_labels = None
depends_on = None


def upgrade() -> None:
    op.add_column(
        "zone", sa.Column("work", sa.String(length=20), server_default="", nullable=False)
    )
    op.add_column("zone", sa.Column("work_counted_on", sa.Date(), nullable=True))
    op.add_column("decision", sa.Column("valid_from", sa.Date(), nullable=True))
    op.add_column("decision", sa.Column("rested_on", sa.JSON(none_as_null=True), nullable=True))
    op.create_table(
        "decision_confirmation",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("decision_id", sa.Integer(), nullable=False),
        sa.Column("by", sa.String(length=200), nullable=False),
        sa.Column("qualification", sa.String(length=200), nullable=False),
        sa.Column("on", sa.Date(), nullable=False),
        sa.Column("reason", sa.Text(), nullable=False),
        sa.Column("valid_until", sa.Date(), nullable=True),
        sa.Column("rested_on", sa.JSON(none_as_null=True), nullable=False),
        sa.Column("recorded_on", sa.Date(), nullable=False),
        sa.ForeignKeyConstraint(
            ["decision_id"],
            ["decision.id"],
            name=op.f("fk_decision_confirmation_decision_id"),
            ondelete="CASCADE",
        ),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_decision_confirmation")),
    )
    op.create_index(
        op.f("ix_decision_confirmation_decision_id"), "decision_confirmation", ["decision_id"]
    )
    op.create_table(
        "decision_mark",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("decision_id", sa.Integer(), nullable=False),
        sa.Column("confirmation_id", sa.Integer(), nullable=True),
        sa.Column("what", sa.String(length=200), nullable=False),
        sa.Column("before", sa.Text(), nullable=False),
        sa.Column("after", sa.Text(), nullable=False),
        sa.Column("on", sa.Date(), nullable=False),
        sa.ForeignKeyConstraint(
            ["decision_id"],
            ["decision.id"],
            name=op.f("fk_decision_mark_decision_id"),
            ondelete="CASCADE",
        ),
        sa.ForeignKeyConstraint(
            ["confirmation_id"],
            ["decision_confirmation.id"],
            name=op.f("fk_decision_mark_confirmation_id"),
            ondelete="CASCADE",
        ),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_decision_mark")),
    )
    op.create_index("ix_decision_mark_of", "decision_mark", ["decision_id", "confirmation_id"])
    op.create_index(op.f("ix_decision_mark_confirmation_id"), "decision_mark", ["confirmation_id"])


def downgrade() -> None:
    op.drop_table("decision_mark")
    op.drop_table("decision_confirmation")
    op.drop_column("decision", "rested_on")
    op.drop_column("decision", "valid_from")
    op.drop_column("zone", "work_counted_on")
    op.drop_column("zone", "work")
