"""The store and the domain agree on which buildings lie on either side of a height."""

from collections.abc import Iterator
from contextlib import contextmanager

import pytest
import sqlalchemy as sa

from portfolio.db import models
from portfolio.db.session import engine_for, reading, writing
from portfolio.domain.heights import (
    HeightClaim,
    Operator,
    Side,
    Threshold,
    claims_or_estimate,
    side_of,
)
from portfolio.services.height_sides import lies_either_side

BUILDINGS: dict[str, tuple[int | None, tuple[tuple[float, float | None], ...]]] = {
    "no tolerance stated near 18 m": (6, ((17.7, None),)),
    "no tolerance stated, no storeys": (None, ((17.5, None),)),
    "just below, measured closely": (6, ((17.7, 0.1),)),
    "the tolerance ends on 18 m": (6, ((17.77, 0.23),)),
    "binary fractions end on 30 m": (9, ((32.05, 2.05),)),
    "one claim below, one above": (6, ((17.0, 0.1), (18.5, 0.1))),
    "far above": (12, ((40.0, None),)),
    "estimated from six storeys": (6, ()),
    "estimated from four storeys": (4, ()),
    "estimated from two storeys": (2, ()),
    "measured where the estimate would be open": (4, ((12.2, 0.1),)),
    "nothing known": (None, ()),
}


@pytest.mark.parametrize("metres", [11.0, 18.0, 30.0, 50.0])
def test_the_store_keeps_what_the_domain_calls_either_side(
    database_url: str, metres: float
) -> None:
    limit = Threshold(metres, Operator.AT_LEAST)
    expected = {
        name
        for name, (storeys, claims) in BUILDINGS.items()
        if side_of(claims_or_estimate([HeightClaim(m, "", t) for m, t in claims], storeys), limit)
        is Side.EITHER_SIDE
    }
    with filled(database_url) as engine, reading(engine) as session:
        query = sa.select(models.Building.ref).where(lies_either_side(metres))
        assert set(session.scalars(query)) == expected


@contextmanager
def filled(url: str) -> Iterator[sa.Engine]:
    """A store of these buildings."""
    engine = engine_for(url)
    with writing(engine) as session:
        owner = models.Organisation(ref="O", name="Owner", kind=models.OrganisationKind.OWNER)
        session.add(owner)
        session.flush()
        for name, (storeys, claims) in BUILDINGS.items():
            heights = [models.HeightClaim(metres=m, tolerance_m=off) for m, off in claims]
            of = {"ref": name, "name": name, "storeys": storeys, "heights": heights}
            session.add(models.Building(organisation_id=owner.id, **of))
    try:
        yield engine
    finally:
        engine.dispose()
