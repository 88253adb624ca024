"""The demo's interim measures, which no spreadsheet holds. Made nowhere else."""

from __future__ import annotations

import tomllib
from datetime import date
from pathlib import Path

import sqlalchemy as sa
from sqlalchemy.orm import Session

from portfolio.db.models import Building
from portfolio.db.works import Works
from portfolio.domain.works_money import read_money
from portfolio.services.viewer import LOCAL
from portfolio.services.works.facts import InterimFacts
from portfolio.services.works.recording import create_interim


def add_interim_measures(session: Session, path: Path, today: date) -> None:
    """Add each measure of the file to its works, which have none yet; a second time changes
    nothing."""
    for told in tomllib.loads(path.read_text("utf-8"))["measures"]:
        query = (
            sa.select(Works)
            .join(Building)
            .where(Building.ref == told["building"], Works.ref == told["works"])
        )
        works = session.scalars(query).one()
        if works.interim:
            continue
        facts = InterimFacts(
            told["measure"],
            told["started_on"],
            told.get("review_on"),
            told.get("ended_on"),
            read_money(told["monthly"]),
        )
        create_interim(session, LOCAL, works.id, facts, today)
