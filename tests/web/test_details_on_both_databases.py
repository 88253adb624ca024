"""What single pages ask of the store, and what saves write, is alike on both databases."""

from collections.abc import Iterator
from dataclasses import replace
from datetime import date

import pytest
import sqlalchemy as sa
from sqlalchemy.orm import Session

from portfolio.db import models
from portfolio.db.session import engine_for, reading, writing
from portfolio.domain.errors import InputError
from portfolio.domain.evidence import Standing
from portfolio.domain.leaning import Way
from portfolio.domain.surveys import Basis, Survey
from portfolio.services import editing_tests
from portfolio.services.editing import StaleError
from portfolio.services.editing_buildings import editable_building, save_building
from portfolio.services.evidence import EvidenceFilter, list_evidence
from portfolio.services.record_page import record_page
from portfolio.services.surveying import add_survey, survey_start
from portfolio.services.viewer import LOCAL, Viewer
from portfolio.services.zone_page import zone_page
from tests.web.portfolios import ON, fill_one_of_each, filling


@pytest.fixture(params=["sqlite", pytest.param("postgres", marks=pytest.mark.postgres)])
def engine(request: pytest.FixtureRequest) -> Iterator[sa.Engine]:
    """An engine on a portfolio with a zone of every coverage but inferred."""
    url: str = request.getfixturevalue(f"{request.param}_url")
    with filling(url) as portfolio:
        fill_one_of_each(portfolio)
    engine = engine_for(url)
    yield engine
    engine.dispose()


@pytest.fixture
def session(engine: sa.Engine) -> Iterator[Session]:
    with reading(engine) as session:
        yield session


def _id(
    session: Session, kind: type[models.Zone | models.Building | models.TestRecord], ref: str
) -> int:
    return session.scalars(sa.select(kind.id).where(kind.ref == ref)).one()


def test_zones_that_lean_on_a_test_are_counted_alike(session: Session) -> None:
    found = list_evidence(session, LOCAL, EvidenceFilter(sort="leaning", outcome="passed"), ON)
    assert [(r.ref, r.covers, r.against, r.nearest) for r in found.rows] == [("T-PASS", 1, 0, 2)]


@pytest.mark.parametrize(("sort", "first"), [("ref", "T-FAIL"), ("tested_on", "T-FAIL")])
def test_tests_are_sorted_alike(session: Session, sort: str, first: str) -> None:
    assert list_evidence(session, LOCAL, EvidenceFilter(sort=sort), ON).rows[0].ref == first


def test_the_zones_of_a_test_are_listed_alike(session: Session) -> None:
    page = record_page(session, LOCAL, _id(session, models.TestRecord, "T-PASS"), ON)
    assert page.leaning.counts == {Way.COVERS: 1, Way.AGAINST: 0, Way.IN_DOUBT: 0, Way.NEAREST: 2}
    assert [zone.zone_ref for zone in page.leaning.zones] == ["COVERED", "UNKNOWN", "ASSESS"]


def test_another_organisation_sees_none_of_the_zones(session: Session) -> None:
    south = session.scalars(sa.select(models.Organisation).filter_by(ref="south")).one()
    southerner = Viewer("southerner", south.id)
    assert list_evidence(session, southerner, EvidenceFilter(), ON).total == 0


def test_a_survey_is_kept_and_coverage_computed(engine: sa.Engine) -> None:
    with writing(engine) as session:
        zone_id = _id(session, models.Zone, "UNKNOWN")
        covered = zone_page(session, LOCAL, _id(session, models.Zone, "COVERED"), ON)
        wall = covered.surveys[0].survey.build_up
        survey = Survey(
            survey_start(session, LOCAL, zone_id).next_ref, Basis.OPENING_UP, ON, "", wall
        )
        saved = add_survey(session, LOCAL, zone_id, survey, ON)
    [change] = saved.changes
    assert (change.before, change.after) == ("too-little-known", "covered")
    with reading(engine) as session:
        assert len(zone_page(session, LOCAL, zone_id, ON).surveys) == 1


def test_nothing_of_a_refused_survey_is_kept(engine: sa.Engine) -> None:
    with reading(engine) as session:
        zone_id = _id(session, models.Zone, "COVERED")
        told = zone_page(session, LOCAL, zone_id, ON).surveys[0].survey
    again = replace(told, on=date(2020, 1, 1))
    with pytest.raises(InputError, match="reference already"), writing(engine) as session:
        add_survey(session, LOCAL, zone_id, again, ON)
    with reading(engine) as session:
        assert len(zone_page(session, LOCAL, zone_id, ON).surveys) == 1


def test_the_second_of_two_saves_is_told_of_the_first(engine: sa.Engine) -> None:
    with reading(engine) as session:
        opened = editable_building(session, LOCAL, _id(session, models.Building, "TALL"))
    for name in ("First", "Second"):
        wanted = replace(opened.facts, name=name)
        with writing(engine) as session:
            if name == "First":
                save_building(session, LOCAL, opened.id, wanted, revision=opened.revision, on=ON)
                continue
            with pytest.raises(StaleError) as told:
                save_building(session, LOCAL, opened.id, wanted, revision=opened.revision, on=ON)
    assert told.value.stored.name == "First"
    assert told.value.revision == opened.revision + 1


def test_a_withdrawn_test_touches_only_those_who_may_see_it(engine: sa.Engine) -> None:
    with writing(engine) as session:
        test_id = _id(session, models.TestRecord, "T-PASS")
        opened = editing_tests.editable_test(session, LOCAL, test_id)
        why = "by its sponsor"
        facts = replace(opened.facts, standing=Standing.WITHDRAWN, standing_note=why)
        saved = editing_tests.save_test(session, LOCAL, test_id, facts, revision=1, on=ON)
    # the five zones of its holder; nobody else was asked or may see it
    assert saved.compared == 5
    assert ("COVERED", "covered") in [(c.zone_ref, c.before) for c in saved.changes]


def test_saves_are_in_the_change_log(engine: sa.Engine) -> None:
    with writing(engine) as session:
        building_id = _id(session, models.Building, "TALL")
        opened = editable_building(session, LOCAL, building_id)
        facts = replace(opened.facts, homes=None, note="Counted again")
        save_building(session, LOCAL, building_id, facts, revision=1, on=ON)
    with reading(engine) as session:
        event = session.scalars(sa.select(models.Event)).one()
    assert (event.action, event.actor) == ("changed", LOCAL.name)
    assert event.changes == {"homes": [10, None], "note": ["", "Counted again"]}
