"""What a person may see and do today: their role, and the buildings others opened to them."""

from __future__ import annotations

from collections.abc import Mapping
from datetime import date

import sqlalchemy as sa
from sqlalchemy.orm import Session

from portfolio.db.models import Organisation, OrganisationKind
from portfolio.db.people import BuildingGrant, Person
from portfolio.domain.rights import RIGHTS_OF_ROLE, Grant, Right, granted
from portfolio.services.viewer import Viewer


def viewer_for(session: Session, person: Person, on: date) -> Viewer:
    """The viewer that a person is on a day."""
    return Viewer(
        f"{person.name}, {person.organisation.name}",
        person.organisation_id,
        person.id,
        RIGHTS_OF_ROLE[person.role],
        person.organisation.kind is OrganisationKind.LABORATORY,
        _granted(session, person.organisation_id, on),
    )


def viewer_of_organisation(session: Session, organisation: Organisation, on: date) -> Viewer:
    """The viewer that reads what an organisation may see on a day, whoever works there."""
    return Viewer(
        organisation.name,
        organisation.id,
        None,
        frozenset({Right.READ}),
        organisation.kind is OrganisationKind.LABORATORY,
        _granted(session, organisation.id, on),
    )


def _granted(session: Session, organisation_id: int, on: date) -> Mapping[int, frozenset[Right]]:
    rows = session.scalars(
        sa.select(BuildingGrant).where(
            BuildingGrant.organisation_id == organisation_id,
            BuildingGrant.taken_back_at.is_(None),
        )
    )
    grants = [
        Grant(row.building_id, row.access, row.from_day, row.until_day, is_taken_back=False)
        for row in rows
    ]
    return granted(grants, on)
