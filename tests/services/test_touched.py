"""A saved test computes again only what it could touch, and everything that it does touch."""

import random
from collections.abc import Iterator
from dataclasses import replace
from typing import Any

import pytest
import sqlalchemy as sa
from sqlalchemy.orm import Session

from portfolio.db import mapping, models
from portfolio.db.results import ZoneTest
from portfolio.domain.evidence import Answer3, Consent, Holding, Outcome, Standing
from portfolio.reference.loader import load_reference
from portfolio.services import editing, editing_tests
from portfolio.services.coverage import refresh
from portfolio.services.editing_tests import TestFacts, create_test, editable_test, save_test
from portfolio.services.standing import StandingFacts, change_standing
from portfolio.services.viewer import LOCAL
from tests.services.test_results import DERIVED, WALLS
from tests.services.world_support import Estate, estate_in
from tests.web.portfolios import ON, fill_one_of_each, wall


@pytest.fixture
def estate(database_url: str) -> Iterator[Estate]:
    with estate_in(database_url) as found:
        with found.filling() as portfolio:
            fill_one_of_each(portfolio)
            owner, other = portfolio.organisation(), portfolio.organisation()
            for holder in (owner, other):
                portfolio.test(holder, ref="T-PASS", consent=Consent.PUBLISHED)
                portfolio.test(holder, build_up=WALLS[3], report_ref="R-1")
            portfolio.test(owner, ref="A-1", leans_on=["T-PASS"], build_up=WALLS[2])
            for number in range(2):
                building = portfolio.building(owner if number else other)
                for told in WALLS:
                    portfolio.zone(building, wall=told)
        yield found


def rows(session: Session) -> dict[str, list[Any]]:
    session.expire_all()
    found = {}
    for kind in DERIVED:
        table = kind.__table__
        query = sa.select(table).order_by(*table.primary_key.columns)
        found[table.name] = [dict(row) for row in session.execute(query).mappings()]
    return found


def change(rng: random.Random, facts: TestFacts) -> TestFacts:
    """One thing of the record is corrected."""
    told = rng.choice([one for one in WALLS if one is not None])
    build_up = mapping.build_up_from_json(told, load_reference().vocabulary)
    failed = {"external_spread": Answer3.NOT_MET, "printed_outcome": Outcome.FAILED}
    passed = {"external_spread": Answer3.MET, "printed_outcome": Outcome.PASSED}
    changes: list[dict[str, Any]] = [
        {"build_up": build_up},
        failed,
        passed,
        {"consent": rng.choice([Consent.OWN, Consent.PUBLISHED])},
        {"holding": rng.choice([Holding.IN_FULL, Holding.SUMMARY])},
        {"report_ref": rng.choice(["", "R-1"]), "report_issue": rng.choice(["", "2"])},
        {"class_edition": rng.choice(["", "third edition (2013)"])},
        {"ref": rng.choice([facts.ref, "T-PASS", f"{facts.ref}x"])},
        {"standing": rng.choice(list(Standing))},
    ]
    return replace(facts, **rng.choice(changes), standing_note=f"because {rng.random()}")


def save_something(rng: random.Random, session: Session) -> None:
    ids = session.scalars(sa.select(models.TestRecord.id).order_by(models.TestRecord.id)).all()
    test_id = rng.choice(ids)
    found = editable_test(session, LOCAL, test_id)
    what = rng.random()
    if what < 0.15:
        facts = replace(change(rng, found.facts), ref=f"N-{rng.random()}")
        create_test(
            session, LOCAL, session.get_one(models.TestRecord, test_id).organisation_id, facts, ON
        )
    elif what < 0.35:
        standing = rng.choice([one for one in Standing if one is not found.facts.standing])
        by = "T-PASS" if standing is Standing.SUPERSEDED else ""
        facts = StandingFacts(standing, ON, "it has changed", by)
        change_standing(session, LOCAL, test_id, facts, revision=found.revision, on=ON)
    else:
        facts = change(rng, found.facts)
        save_test(session, LOCAL, test_id, facts, revision=found.revision, on=ON)


@pytest.mark.parametrize("seed", range(8))
def test_after_any_save_the_results_are_what_they_would_be_if_all_were_computed(
    estate: Estate, seed: int
) -> None:
    rng = random.Random(seed)
    saved = 0
    for _ in range(12):
        with estate.writing() as session:
            try:
                with session.begin_nested():
                    save_something(rng, session)
            except editing.PortfolioError:
                continue  # refused: another test of the holder has the reference
            saved += 1
            found = rows(session)
            refresh(session, ON)
            assert found == rows(session)
    assert saved > 6


def test_zones_that_a_test_cannot_touch_are_left_as_they_are(
    estate: Estate, monkeypatch: pytest.MonkeyPatch
) -> None:
    seen: list[set[int]] = []
    honest = editing.refresh

    def watched(session: Session, on: object, *, zone_ids: Any = None) -> int:
        seen.append(set(zone_ids))
        return honest(session, on, zone_ids=zone_ids)  # type: ignore[arg-type]

    monkeypatch.setattr(editing, "refresh", watched)
    with estate.writing() as session:
        every = set(session.scalars(sa.select(models.Zone.id)))
        near = set(session.scalars(sa.select(ZoneTest.zone_id)))
        holder = session.scalars(sa.select(models.Organisation.id).limit(1)).one()
        glass = mapping.build_up_from_json(
            wall(facing__material="glass"), load_reference().vocabulary
        )
        facts = TestFacts("T-GLASS", build_up=glass, consent=Consent.PUBLISHED)
        editing_tests.create_test(session, LOCAL, holder, facts, ON)
    [computed] = seen
    assert computed < every
    assert near - computed
