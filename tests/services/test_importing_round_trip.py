"""What is imported comes back from the store as it was, whatever it says."""

from collections.abc import Iterator
from dataclasses import replace
from typing import Any

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from portfolio.db.session import session_factory
from portfolio.services.exporting import gather_drafts
from portfolio.services.importing import apply_import, plan_import
from portfolio.sheets.drafts import Drafts, OrganisationDraft
from tests.services.importing_support import LOCAL, ON, Store, opened
from tests.sheets import strategies


@pytest.fixture
def store(database_url: str) -> Iterator[Store]:
    with opened(database_url) as found:
        yield found


@st.composite
def estates(draw: st.DrawFn) -> Drafts:
    """Drafts that lean only on each other: one owner, its buildings, their zones and surveys."""
    found = draw(strategies.drafts())
    owner, other = (
        OrganisationDraft("O-1", "Owner", "owner"),
        OrganisationDraft("O-2", "B", "owner"),
    )
    buildings = _linked(found.buildings, [{"owner": "O-1"}])
    zones = _linked(found.zones, [{"owner": "O-1", "building": b.building} for b in buildings])
    homes = [{"owner": z.owner, "building": z.building, "zone": z.zone} for z in zones]
    tests = _linked(found.tests, [{"held_by": "O-1", "consent_given_to": ("O-2",)}])
    surveys = _linked(found.surveys, homes)
    return Drafts((owner, other), buildings, (), zones, surveys, tests)


def _linked(drafts: tuple[Any, ...], parents: list[dict[str, Any]]) -> tuple[Any, ...]:
    """Each draft under some parent, each key once; none when there is no parent."""
    if not parents:
        return ()
    placed = (replace(d, **parents[n % len(parents)]) for n, d in enumerate(drafts))
    return tuple({draft.key: draft for draft in placed}.values())


def _by_key(drafts: tuple[Any, ...]) -> dict[Any, Any]:
    return {draft.key: draft for draft in drafts}


# each example is rolled back, so that one database serves them all
@settings(max_examples=25, suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(estates())
def test_what_is_imported_comes_back_as_it_was(store: Store, drafts: Drafts) -> None:
    with session_factory(store.engine)() as session:
        apply_import(session, LOCAL, plan_import(session, LOCAL, drafts, ON), ON)
        found = gather_drafts(session, LOCAL)
        again = plan_import(session, LOCAL, found, ON)
        session.rollback()
    for kind in ("organisations", "buildings", "zones", "surveys", "tests"):
        assert _by_key(getattr(found, kind)) == _by_key(getattr(drafts, kind))
    assert (again.problems, again.creates, again.updates) == ((), (), ())
