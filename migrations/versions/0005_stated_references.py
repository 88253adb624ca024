"""Stated references

A consent names the organisation by the reference that was stated, whether or not one has it. Only
one that is in force shows a test to it, so what was computed with others is due again.
"""

from __future__ import annotations

import sqlalchemy as sa
from alembic import op

revision = "0005"
down_revision = "0004"
branch_labels = None
depends_on = None


def _checks() -> tuple[sa.CheckConstraint, ...]:
    """What SQLite would lose when it makes the table anew."""
    consent = "consent IN ('own', 'published', 'given', 'asked', 'not-asked', 'refused')"
    shows = "shows IN ('everything', 'reference-and-outcome')"
    return (
        sa.CheckConstraint(consent, name=op.f("ck_test_consent_consent")),
        sa.CheckConstraint(shows, name=op.f("ck_test_consent_shows")),
    )


def _let_coverage_be_computed_again() -> None:
    """The first page or command renews what bears a day that long past."""
    op.execute(
        "UPDATE zone_result SET computed_on = '1900-01-01' WHERE organisation_id IN ("
        "SELECT organisation_id FROM test_consent "
        "WHERE consent <> 'given' OR until < CURRENT_DATE)"
    )


def upgrade() -> None:
    _let_coverage_be_computed_again()
    op.add_column("test_consent", sa.Column("organisation_ref", sa.String(60), nullable=True))
    op.execute(
        "UPDATE test_consent SET organisation_ref = (SELECT organisation.ref FROM organisation "
        "WHERE organisation.id = test_consent.organisation_id)"
    )
    with op.batch_alter_table("test_consent", table_args=_checks()) as batch_op:
        batch_op.alter_column("organisation_ref", existing_type=sa.String(60), nullable=False)
        batch_op.alter_column("organisation_id", existing_type=sa.Integer(), nullable=True)
        batch_op.create_unique_constraint(
            op.f("uq_test_consent_test_id_organisation_ref"), ["test_id", "organisation_ref"]
        )


def downgrade() -> None:
    # what names nobody had no effect, and the older schema has no place for it
    op.execute("DELETE FROM test_consent WHERE organisation_id IS NULL")
    with op.batch_alter_table("test_consent", table_args=_checks()) as batch_op:
        batch_op.drop_constraint(op.f("uq_test_consent_test_id_organisation_ref"), type_="unique")
        batch_op.alter_column("organisation_id", existing_type=sa.Integer(), nullable=False)
        batch_op.drop_column("organisation_ref")
