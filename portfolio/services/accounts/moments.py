"""Moments as the accounts compare them: always in UTC."""

from __future__ import annotations

from datetime import UTC, datetime


def aware(moment: datetime) -> datetime:
    """The moment with its zone: SQLite gives it back without, and it was stored in UTC."""
    return moment if moment.tzinfo else moment.replace(tzinfo=UTC)
