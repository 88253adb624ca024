"""Log readings

How a kept thermocouple log is read and judged: ignition, criteria, list of channels, observations.
"""

from __future__ import annotations

import sqlalchemy as sa
from alembic import op

revision = "0006"
down_revision = "0005"
branch_labels = None
depends_on = None


def _text(name: str, longest: int) -> sa.Column[str]:
    return sa.Column(name, sa.String(longest), server_default="", nullable=False)


def upgrade() -> None:
    op.create_table(
        "log_reading",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("document_id", sa.Integer(), nullable=False),
        _text("ignition", 30),
        _text("class_document", 60),
        _text("class_edition", 60),
        _text("class_annex", 10),
        _text("test_edition", 60),
        sa.Column("channels", sa.Integer(), nullable=True),
        sa.Column("observations", sa.Integer(), nullable=True),
        sa.Column("kept_by", sa.String(length=400), nullable=False),
        sa.Column("kept_on", sa.Date(), nullable=False),
        sa.Column("revision", sa.Integer(), server_default="1", nullable=False),
        sa.ForeignKeyConstraint(
            ["document_id"],
            ["document.id"],
            name=op.f("fk_log_reading_document_id"),
            ondelete="CASCADE",
        ),
        sa.ForeignKeyConstraint(
            ["channels"], ["document.id"], name=op.f("fk_log_reading_channels")
        ),
        sa.ForeignKeyConstraint(
            ["observations"], ["document.id"], name=op.f("fk_log_reading_observations")
        ),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_log_reading")),
        sa.UniqueConstraint("document_id", name=op.f("uq_log_reading_document_id")),
    )


def downgrade() -> None:
    op.drop_table("log_reading")
