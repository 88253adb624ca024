"""${message}

Say here why the schema changes and what happens to rows that are already there. A new NOT NULL
column takes two steps; a change of a large table on PostgreSQL holds a lock while it runs.
"""

from __future__ import annotations

import sqlalchemy as sa
from alembic import op
${imports if imports else ""}
revision = ${repr(up_revision)}
down_revision = ${repr(down_revision)}
branch_labels = None
depends_on = None


def upgrade() -> None:
    ${upgrades if upgrades else "pass"}


def downgrade() -> None:
    ${downgrades if downgrades else "pass"}
