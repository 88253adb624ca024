"""Waiting between guesses at a password: longer with each failure in a row.

An attempt is counted before the password is looked at and forgiven when it was right, so that
guesses sent at the same time are counted one after another and none slips through.
"""

from __future__ import annotations

import hashlib
import math
from datetime import datetime, timedelta

import sqlalchemy as sa
from sqlalchemy.dialects import postgresql, sqlite
from sqlalchemy.orm import Session

from portfolio.db.people import FailedSignIn
from portfolio.domain.rights import waiting_seconds
from portfolio.services.accounts.moments import aware

_FORGOTTEN_AFTER = timedelta(hours=1)
# failures that cost no waiting beyond the first few: one account is guessed at from many
# addresses, and many people sit behind one address; neither may lock the others out at once
_SPARED_ACCOUNT, _SPARED_ADDRESS = 12, 27


def count_attempt(session: Session, email: str, address: str, now: datetime) -> int:
    """Seconds to wait before an attempt; 0 lets it happen and counts it until `forgive`."""
    spared = _spared(email, address)
    rows = _locked(session, spared, now)
    longest = max((aware(row.wait_until) - now for row in rows), default=timedelta())
    if longest > timedelta():
        return math.ceil(longest.total_seconds())
    for row in rows:
        if now - aware(row.wait_until) > _FORGOTTEN_AFTER:
            row.failures = 0
        row.failures += 1
        seconds = waiting_seconds(row.failures - spared[row.key])
        row.wait_until = now + timedelta(seconds=seconds)
    return 0


def forgive(session: Session, email: str, address: str, now: datetime) -> None:
    """The attempt that was counted last was right.

    The account starts anew; the address only loses this one, or an account of one's own would
    wipe out the guesses at others.
    """
    pair, account, network = _spared(email, address)
    session.execute(sa.delete(FailedSignIn).where(FailedSignIn.key.in_((pair, account))))
    session.execute(
        sa.update(FailedSignIn)
        .where(FailedSignIn.key == network, FailedSignIn.failures > 0)
        .values(failures=FailedSignIn.failures - 1, wait_until=now)
        .execution_options(synchronize_session=False)
    )
    outdated = sa.delete(FailedSignIn).where(FailedSignIn.wait_until < now - _FORGOTTEN_AFTER)
    session.execute(outdated.execution_options(synchronize_session=False))


def _spared(email: str, address: str) -> dict[str, int]:
    """The keys under which an attempt counts, with the failures spared on each."""
    return {
        _key("pair", email, address): 0,
        _key("account", email): _SPARED_ACCOUNT,
        _key("address", address): _SPARED_ADDRESS,
    }


def _locked(session: Session, keys: dict[str, int], now: datetime) -> list[FailedSignIn]:
    """The rows of the keys, made where missing, held until the transaction ends."""
    is_postgres = session.get_bind().dialect.name == "postgresql"
    insert = postgresql.insert if is_postgres else sqlite.insert
    new = [{"key": key, "failures": 0, "wait_until": now} for key in sorted(keys)]
    session.execute(insert(FailedSignIn).values(new).on_conflict_do_nothing())
    query = sa.select(FailedSignIn).where(FailedSignIn.key.in_(keys)).order_by(FailedSignIn.key)
    return list(session.scalars(query.with_for_update()))


def _key(*parts: str) -> str:
    return hashlib.sha256("\n".join(parts).encode()).hexdigest()
