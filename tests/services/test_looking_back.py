"""A building as it was known on earlier days, through the log that the services write."""

import io
from collections.abc import Iterator
from dataclasses import replace
from datetime import date
from typing import Any

import openpyxl
import pytest
import sqlalchemy as sa

from portfolio.db import mapping
from portfolio.db.models import TestRecord
from portfolio.domain.errors import NotFoundError
from portfolio.domain.evidence import Answer3, Consent, Holding, Outcome, Shows, Standing
from portfolio.domain.surveys import Basis, Survey
from portfolio.packs.contents import sections
from portfolio.reference.loader import load_reference
from portfolio.services.consents import ConsentFacts, save_consent
from portfolio.services.editing_buildings import BuildingFacts, create_building, save_building
from portfolio.services.editing_tests import TestFacts, create_test, editable_test, save_test
from portfolio.services.editing_zones import ZoneFacts, create_zone
from portfolio.services.explaining import WITHHELD
from portfolio.services.looking_back import LookBack, look_back, pack_looking_back
from portfolio.services.packs import pack_of
from portfolio.services.rulings import DecisionFacts, record_decision
from portfolio.services.surveying import add_survey
from tests.services.world_support import Estate, estate_in, log_at
from tests.web.portfolios import ON, WALL, wall

CREATED, TESTED, SURVEYED = date(2025, 12, 10), date(2026, 1, 5), date(2026, 1, 20)
EDITED, WITHDRAWN = date(2026, 2, 1), date(2026, 2, 10)


@pytest.fixture
def estate(database_url: str) -> Iterator[Estate]:
    with estate_in(database_url) as found:
        yield found


class History:
    """An owner's building, its zone and its test, as they came to be day by day."""

    def __init__(self, estate: Estate, patch: pytest.MonkeyPatch, holder: str = "owner") -> None:
        self.estate, self.patch = estate, patch
        with estate.filling() as portfolio:
            for ref in ("owner", "holder", "consultancy"):
                portfolio.organisation(ref=ref)
        self.owner, self.holder = estate.viewer("owner"), estate.viewer(holder)
        build_up = mapping.build_up_from_json(WALL, load_reference().vocabulary)
        own = self.owner.organisation_id or 0
        with self.on(CREATED) as session:
            facts = BuildingFacts("B-1", "Old name", jurisdiction="England", use="flats")
            self.building = create_building(session, self.owner, own, facts, CREATED).id
            zone = ZoneFacts("Z-1", area_m2=100.0)
            self.zone = create_zone(session, self.owner, self.building, zone, CREATED).id
        met = Answer3.MET
        self.facts = TestFacts(
            "T-1",
            title="Secret title",
            standard="BS 8414",
            part="1",
            edition="2015",
            tested_on=date(2020, 5, 4),
            external_spread=met,
            internal_spread=met,
            burn_through=None,
            no_flames_above_rig=met,
            no_early_end=met,
            printed_outcome=Outcome.PASSED,
            class_document="BR 135",
            class_edition="third edition (2013)",
            class_annex="A",
            class_report="C-1",
            holding=Holding.IN_FULL,
            consent=Consent.OWN,
            build_up=build_up,
        )
        with self.on(TESTED) as session:
            held_by = self.holder.organisation_id or 0
            self.test = create_test(session, self.holder, held_by, self.facts, TESTED).id
        with self.on(SURVEYED) as session:
            survey = Survey("S-1", Basis.OPENING_UP, SURVEYED, "report", build_up)
            add_survey(session, self.owner, self.zone, survey, SURVEYED)

    def on(self, day: date) -> Any:
        """A session whose entries of the log are of that day."""
        log_at(self.patch, day)
        return self.estate.writing()

    def rename(self) -> None:
        with self.on(EDITED) as session:
            facts = BuildingFacts("B-1", "New name", jurisdiction="England", use="flats")
            save_building(session, self.owner, self.building, facts, revision=1, on=EDITED)

    def withdraw(self) -> None:
        with self.on(WITHDRAWN) as session:
            found = editable_test(session, self.holder, self.test)
            why = "a thermocouple was miswired"
            facts = replace(found.facts, standing=Standing.WITHDRAWN, standing_note=why)
            save_test(session, self.holder, self.test, facts, revision=found.revision, on=WITHDRAWN)

    def consent(self, day: date, consent: Consent, **more: Any) -> None:
        with self.on(day) as session:
            found = editable_test(session, self.holder, self.test)
            facts = ConsentFacts("owner", consent, **more)
            save_consent(session, self.holder, self.test, facts, revision=found.revision, on=day)

    def then(self, day: date, viewer: Any = None) -> LookBack:
        with self.estate.reading() as session:
            return look_back(session, viewer or self.owner, self.building, day, today=ON)

    def coverage(self, day: date) -> str:
        [zone] = self.then(day).zones
        return zone.coverage.coverage.value


@pytest.fixture
def told(estate: Estate, monkeypatch: pytest.MonkeyPatch) -> History:
    return History(estate, monkeypatch)


def test_before_it_was_recorded_there_is_no_building(told: History) -> None:
    with pytest.raises(NotFoundError):
        told.then(date(2025, 12, 9))
    assert told.then(CREATED).building.name == "Old name"


def test_a_building_is_what_it_was_before_an_edit(told: History) -> None:
    told.rename()
    assert told.then(date(2026, 1, 31)).building.name == "Old name"
    assert told.then(EDITED).building.name == "New name"


def test_a_zone_is_uncovered_before_its_survey(told: History) -> None:
    before, after = told.then(date(2026, 1, 19)).zones[0], told.then(SURVEYED).zones[0]
    assert (before.surveys, before.coverage.coverage.value) == ((), "too-little-known")
    assert (len(after.surveys), after.coverage.coverage.value) == (1, "covered")


def test_a_test_that_is_withdrawn_covered_before(told: History) -> None:
    told.withdraw()
    assert (told.coverage(date(2026, 2, 9)), told.coverage(WITHDRAWN)) == (
        "covered",
        "no-matching-evidence",
    )


def test_a_test_that_was_not_recorded_yet_is_not_compared(told: History) -> None:
    assert told.then(date(2026, 1, 4)).zones[0].comparisons == ()
    assert [c.test.ref for c in told.then(TESTED).zones[0].comparisons] == ["T-1"]


def test_the_rules_are_those_of_the_day(told: History) -> None:
    """The shipped rules are in force from 2026 on."""
    before, after = told.then(date(2025, 12, 31)).zones[0], told.then(date(2026, 1, 1)).zones[0]
    assert before.rule_version != after.rule_version
    assert after.rule_version == told.then(ON).zones[0].rule_version


def test_a_decision_is_there_from_the_day_it_was_entered(told: History) -> None:
    with told.on(EDITED) as session:
        facts = DecisionFacts("leave it", "An engineer", "MIFireE", SURVEYED, None, "reasons", "")
        record_decision(session, told.owner, told.zone, facts, EDITED)
    assert told.then(date(2026, 1, 31)).decisions == {}
    assert [d.row.ruling for d in told.then(EDITED).decisions[told.zone]] == ["leave it"]


def test_an_owner_sees_the_own_test_in_full_on_any_day(told: History) -> None:
    [found] = told.then(SURVEYED).zones[0].comparisons
    assert found.test.title == "Secret title"


def test_what_was_shown_once_is_not_shown_after_consent_is_refused(
    estate: Estate, monkeypatch: pytest.MonkeyPatch
) -> None:
    told = History(estate, monkeypatch, holder="holder")
    told.consent(SURVEYED, Consent.GIVEN, shows=Shows.EVERYTHING)
    [given] = told.then(SURVEYED).zones[0].comparisons
    told.consent(WITHDRAWN, Consent.REFUSED)
    assert told.coverage(SURVEYED) == "covered"
    assert told.coverage(WITHDRAWN) == "no-matching-evidence"
    [refused] = told.then(SURVEYED).zones[0].comparisons
    assert (given.test.title, refused.test.title) == (
        "Secret title",
        "(reference and outcome only)",
    )
    assert {row.test_value for row in refused.rows} == {WITHHELD}


def test_what_may_be_shown_today_is_shown_of_a_day_on_which_less_was_shown(
    estate: Estate, monkeypatch: pytest.MonkeyPatch
) -> None:
    told = History(estate, monkeypatch, holder="holder")
    told.consent(SURVEYED, Consent.GIVEN, shows=Shows.REFERENCE)
    told.consent(WITHDRAWN, Consent.GIVEN, shows=Shows.EVERYTHING)
    [less] = told.then(SURVEYED).zones[0].comparisons
    assert less.test.title == "Secret title"


def test_a_day_on_which_a_sponsor_was_only_asked_shows_nothing_of_its_test(
    estate: Estate, monkeypatch: pytest.MonkeyPatch
) -> None:
    told = History(estate, monkeypatch, holder="holder")
    told.consent(SURVEYED, Consent.ASKED)
    told.consent(WITHDRAWN, Consent.GIVEN, shows=Shows.EVERYTHING)
    assert told.coverage(SURVEYED) == "no-matching-evidence"
    assert told.coverage(WITHDRAWN) == "covered"
    assert told.then(SURVEYED).zones[0].comparisons == ()


def test_a_consultancy_looks_back_only_while_a_building_is_open(told: History) -> None:
    shut = told.estate.viewer("consultancy")
    opened = told.estate.viewer("consultancy", to=(told.building,))
    with pytest.raises(NotFoundError):
        told.then(SURVEYED, shut)
    [found] = told.then(SURVEYED, opened).zones[0].comparisons
    assert found.test.title == "(reference and outcome only)"


def test_the_pack_of_a_day_is_of_that_day(told: History) -> None:
    told.rename()
    told.withdraw()
    found = told.then(SURVEYED)
    pack = pack_of(found.building, found.zones, found.decisions, found.rules, "somebody")
    about = {row[0]: row[1] for row in sections(pack)[0].rows}
    assert about["Building"] == "B-1 Old name"
    assert about["Made on"] == SURVEYED.isoformat()
    assert "covered" in str(about["Coverage of the building (its worst zone's)"])
    with told.estate.reading() as session:
        content = pack_looking_back(session, told.owner, told.building, SURVEYED, today=ON).content
    assert content.startswith(b"PK")


@pytest.mark.parametrize("nearer", [0, 6])
def test_the_pack_of_a_day_holds_the_test_that_speaks_against_a_zone(
    told: History, nearer: int
) -> None:
    """However many passing tests are nearer, with its comparison."""
    own = told.owner.organisation_id or 0
    far = wall(
        cavity__depth="200",
        frame__thickness="400",
        facing__joint_width="60",
        facing__product="Another panel",
    )
    walls = {f"T-NEAR-{number}": WALL for number in range(nearer)} | {"T-FAR": far}
    for ref, build_up in walls.items():
        met = Answer3.NOT_MET if build_up is far else Answer3.MET
        facts = replace(
            told.facts,
            ref=ref,
            external_spread=met,
            printed_outcome=Outcome.FAILED if build_up is far else Outcome.PASSED,
            build_up=mapping.build_up_from_json(build_up, load_reference().vocabulary),
        )
        with told.on(SURVEYED) as session:
            create_test(session, told.owner, own, facts, SURVEYED)
    with told.estate.reading() as session:
        made = pack_looking_back(session, told.owner, told.building, SURVEYED, today=ON)
        [far_id] = session.scalars(sa.select(TestRecord.id).filter_by(ref="T-FAR"))
    book = openpyxl.load_workbook(io.BytesIO(made.content))
    rows = {name: list(book[name].values)[1:] for name in ("Zones", "Tests", "Comparison")}
    assert far_id in made.test_ids
    assert "T-FAR" in str(rows["Zones"][0])
    assert "T-FAR" in [row[0] for row in rows["Tests"]]
    assert "T-FAR" in [row[1] for row in rows["Comparison"]]


def test_looking_back_changes_nothing(told: History) -> None:
    told.withdraw()
    told.then(SURVEYED)
    with told.estate.reading() as session:
        row = session.scalars(sa.select(TestRecord)).one()
        assert row.standing is Standing.WITHDRAWN
