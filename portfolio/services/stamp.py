"""The stamp of all results: another one as soon as any of them are.

What is worked out of results is kept under it, and not found again once they have changed.
"""

from __future__ import annotations

from secrets import token_hex

import sqlalchemy as sa
from sqlalchemy.orm import Session

from portfolio.db.results import ResultStamp

MOST_ROWS = 500


def stamp_of(session: Session) -> tuple[int, str]:
    """How many rows there are, and the greatest: every row that is added changes the first, and
    both are new once rows were removed."""
    row = session.execute(sa.select(sa.func.count(), sa.func.max(ResultStamp.stamp))).one()
    return row[0], row[1] or ""


def renew_stamp(session: Session) -> None:
    """Let whatever is kept of the results be worked out anew once this transaction is saved."""
    if stamp_of(session)[0] >= MOST_ROWS:
        # whoever else is just removing them need not be waited for
        rows = sa.select(ResultStamp.id).with_for_update(skip_locked=True)
        ids = session.scalars(rows).all()
        session.execute(sa.delete(ResultStamp).where(ResultStamp.id.in_(ids)))
    session.execute(sa.insert(ResultStamp).values(stamp=token_hex(16)))
