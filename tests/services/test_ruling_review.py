"""Decisions, what they rested on, and what marks them for review, on both databases."""

from collections.abc import Callable, Iterator
from dataclasses import replace
from datetime import date, timedelta
from pathlib import Path
from typing import Any

import pytest
import sqlalchemy as sa

from portfolio.db import changelog, mapping
from portfolio.db.models import Decision, Event, TestRecord, Zone
from portfolio.db.models import Survey as StoredSurvey
from portfolio.db.rulings import DecisionMark
from portfolio.domain.documents import DocumentKind, FactKind, SeenBy, SupportedFact
from portfolio.domain.errors import ForbiddenError, InputError, NotFoundError
from portfolio.domain.evidence import Standing
from portfolio.domain.rights import Access, Role
from portfolio.domain.surveys import Basis, Survey
from portfolio.reference.loader import load_reference
from portfolio.services.coverage import refresh
from portfolio.services.documents.adding import (
    DocumentFacts,
    GivenContent,
    add_document,
    detach,
)
from portfolio.services.documents.contents import Contents
from portfolio.services.editing_buildings import editable_building, save_building
from portfolio.services.editing_tests import editable_test, save_test
from portfolio.services.editing_zones import editable_zone, save_zone
from portfolio.services.looking_back import look_back
from portfolio.services.results import forget_results
from portfolio.services.ruling_review import Ruling, list_rulings, ruling_fields, rulings_of_zones
from portfolio.services.rulings import (
    ConfirmationFacts,
    DecisionFacts,
    confirm_decision,
    record_decision,
)
from portfolio.services.surveying import add_survey
from portfolio.services.viewer import LOCAL
from tests.services.documents_support import PDF
from tests.services.world_support import Estate, estate_in, log_at
from tests.web.portfolios import ON, fill_one_of_each, wall

DECIDED, LATER = ON, ON + timedelta(days=10)
FACTS = DecisionFacts(
    "The deeper cavity may stay.",
    "E. Example",
    "chartered fire engineer",
    DECIDED,
    None,
    "The barriers close it.",
    "",
)
CONFIRMED = ConfirmationFacts("E. Example", "chartered fire engineer", LATER, "It makes no odds.")


class World:
    """An owner's building with a zone to assess and its test, and a decision on the zone."""

    def __init__(self, estate: Estate) -> None:
        self.estate = estate
        with estate.filling() as portfolio:
            owner = portfolio.organisation(ref="owner")
            portfolio.organisation(ref="consultancy")
            portfolio.organisation(ref="stranger")
            self.test = portfolio.test(owner, ref="T-1").id
            building = portfolio.building(owner, ref="B-1")
            self.building = building.id
            self.zone = portfolio.zone(building, ref="Z-1", wall=wall(cavity__depth="80")).id
        self.engineer = estate.viewer("owner")

    def decide(self, *, today: date = ON, **more: Any) -> int:
        with self.estate.writing() as session:
            record_decision(session, self.engineer, self.zone, replace(FACTS, **more), today)
            return session.scalars(sa.select(sa.func.max(Decision.id))).one()

    def confirm(
        self, decision: int, facts: ConfirmationFacts = CONFIRMED, today: date = LATER
    ) -> None:
        with self.estate.writing() as session:
            confirm_decision(session, self.engineer, decision, facts, today)

    def rulings(self, on: date = LATER) -> list[Ruling]:
        with self.estate.reading() as session:
            return rulings_of_zones(session, [self.zone], on).get(self.zone, [])

    def ruling(self, on: date = LATER) -> Ruling:
        return self.rulings(on)[-1]

    def listed(self, on: date = LATER, who: Any = None) -> list[int]:
        with self.estate.reading() as session:
            rows = list_rulings(session, who or self.engineer, on).rows
            return [ruling.row.id for ruling in rows]

    # what happens afterwards

    def survey(self) -> None:
        vocabulary = load_reference().vocabulary
        told = mapping.build_up_from_json(wall(cavity__depth="90"), vocabulary)
        with self.estate.writing() as session:
            survey = Survey("S-LATER", Basis.OPENING_UP, LATER, "report", told)
            add_survey(session, self.engineer, self.zone, survey, LATER)

    def _save_test(self, **more: Any) -> None:
        with self.estate.writing() as session:
            found = editable_test(session, self.engineer, self.test)
            facts = replace(found.facts, **more)
            revision = found.revision
            save_test(session, self.engineer, self.test, facts, revision=revision, on=LATER)

    def withdraw(self) -> None:
        self._save_test(standing=Standing.WITHDRAWN, standing_note="a board was left out")

    def correct(self) -> None:
        self._save_test(title="The same wall, titled otherwise")

    def _save_building(self, **more: Any) -> None:
        with self.estate.writing() as session:
            found = editable_building(session, self.engineer, self.building)
            facts = replace(found.facts, **more)
            revision = found.revision
            save_building(session, self.engineer, self.building, facts, revision=revision, on=LATER)

    def use(self, use: str = "hotel") -> None:
        self._save_building(use=use)

    def height(self) -> None:
        with self.estate.reading() as session:
            [claim] = editable_building(session, self.engineer, self.building).facts.heights
        self._save_building(heights=(replace(claim, metres=31.5),))

    def work(self) -> None:
        with self.estate.writing() as session:
            found = editable_zone(session, self.engineer, self.zone)
            facts = replace(found.facts, work="new", work_counted_on=date(2023, 5, 1))
            save_zone(session, self.engineer, self.zone, facts, revision=found.revision, on=LATER)


@pytest.fixture
def world(database_url: str) -> Iterator[World]:
    with estate_in(database_url) as found:
        yield World(found)


def test_a_decision_says_what_it_ruled_on(world: World) -> None:
    world.decide()
    found = world.ruling()
    assert found.row.coverage_then == "to-assess"
    [(ref, said)] = found.tests_then
    assert ref == "T-1"
    assert said.startswith("passed; live; assessable; differs in cavity: depth")
    assert found.ruled_on.startswith("to assess; test T-1: passed")


def test_nothing_is_to_be_reviewed_while_nothing_changes(world: World) -> None:
    world.decide()
    with world.estate.writing() as session:
        refresh(session, ON)
        refresh(session, LATER, zone_ids=[world.zone])
    assert world.ruling().because == ()
    assert world.listed() == []


@pytest.mark.parametrize(
    ("happens", "told"),
    [
        (World.survey, "survey S-LATER: was not there, is “opening-up, 2026-03-11”"),
        (
            World.survey,
            "cavity: depth: was “80 mm; opening-up”, is “80..90 mm; opening-up; in conf",
        ),
        (World.withdraw, "test T-1: was “passed; live"),
        (World.correct, "record of test T-1: was “version 1”, is “version 2”"),
        (World.use, "use of the building: was “flats”, is “hotel”"),
        (World.height, "height of the top storey: was “20 m ± 0.5 m drawing”, is “31.5 m"),
        (World.work, "kind of work: was not there, is “new”"),
    ],
)
def test_what_changes_marks_the_decision_and_says_from_what_to_what(
    world: World, happens: Callable[[World], None], told: str
) -> None:
    decision = world.decide()
    happens(world)
    found = world.ruling()
    assert found.is_to_review
    assert [line for line in found.because if line.startswith(told)] != []
    assert world.listed() == [decision]
    assert found.row.ruling == FACTS.ruling
    with world.estate.reading() as session:
        assert list_rulings(session, world.engineer, LATER, limit=0).total == 1


def test_a_changed_coverage_marks_it(world: World) -> None:
    world.decide()
    world.withdraw()
    assert "coverage: was “to assess”, is “no matching evidence”" in world.ruling().because


def test_a_rule_set_that_is_another_one_marks_it(world: World) -> None:
    world.decide()
    with world.estate.writing() as session:
        # before the shipped rules began
        refresh(session, date(2025, 12, 31))
    assert any(line.startswith("rule set: was “") for line in world.ruling().because)


def test_what_changed_and_changed_back_stays_marked(world: World) -> None:
    world.decide()
    world.use("hotel")
    world.use("flats")
    assert world.ruling().because == ("use of the building: changed, and is “flats” again",)


@pytest.mark.parametrize(
    ("day", "told"),
    [
        (ON + timedelta(days=4), None),
        (ON + timedelta(days=5), "its last day, 2026-03-06, has come"),
        (ON + timedelta(days=6), "its last day, 2026-03-06, is past"),
    ],
)
def test_its_own_last_day_marks_it(world: World, day: date, told: str | None) -> None:
    decision = world.decide(valid_until=ON + timedelta(days=5))
    assert world.ruling(day).because == (() if told is None else (told,))
    assert world.listed(day) == ([] if told is None else [decision])


def test_a_confirmation_ends_the_marks_and_is_kept_beside_the_decision(world: World) -> None:
    decision = world.decide(valid_until=ON + timedelta(days=5))
    world.use()
    world.confirm(decision, replace(CONFIRMED, no_last_day=True))
    found = world.ruling()
    assert (found.because, found.valid_until, world.listed()) == ((), None, [])
    assert [one.reason for one in found.confirmed] == ["It makes no odds."]
    assert found.row.rested_on["use of the building"] == "flats"
    world.height()
    assert [line for line in world.ruling().because if line.startswith("use")] == []
    assert world.listed() == [decision]


def test_a_decision_with_a_last_day_is_not_confirmed_without_a_word_on_it(world: World) -> None:
    decision = world.decide(valid_until=ON + timedelta(days=5))
    with pytest.raises(InputError, match="had a last day, 2026-03-06"):
        world.confirm(decision)
    ahead = replace(CONFIRMED, valid_until=LATER + timedelta(days=5))
    with pytest.raises(InputError, match="words that there is none"):
        world.confirm(decision, replace(ahead, no_last_day=True))
    world.confirm(decision, ahead)
    assert (world.ruling().valid_until, world.listed()) == (ahead.valid_until, [])
    with pytest.raises(InputError, match="had a last day, 2026-03-16"):
        world.confirm(decision)
    world.confirm(decision, replace(CONFIRMED, no_last_day=True))
    assert world.ruling().valid_until is None


def test_a_decision_that_counts_only_later_takes_no_place_today(world: World) -> None:
    world.decide()
    with pytest.raises(InputError, match="counts from the day it is recorded or an earlier one"):
        world.decide(ruling="Take it down.", valid_from=ON + timedelta(days=1))
    world.decide(ruling="Take it down.", valid_from=ON)


def test_a_later_decision_stands_in_the_place_of_the_earlier(world: World) -> None:
    first = world.decide()
    world.use()
    second = world.decide(today=LATER, on=LATER, ruling="Take it down.")
    assert [one.is_replaced for one in world.rulings()] == [True, False]
    assert world.listed() == []
    world.height()
    assert world.listed() == [second]
    with pytest.raises(InputError, match="A later decision"):
        world.confirm(first)


def test_an_older_decision_takes_no_place(world: World) -> None:
    """Neither that of the standing one nor that of the day on which it was looked at again."""
    decision = world.decide()
    world.use()
    with pytest.raises(InputError, match=r"A decision of 2026-03-01 stands: an older one"):
        world.decide(today=LATER, on=DECIDED - timedelta(days=1), ruling="Take it down.")
    assert world.listed() == [decision]
    world.confirm(decision)
    with pytest.raises(InputError, match=r"stands, confirmed on 2026-03-11: an older one"):
        world.decide(today=LATER, on=LATER - timedelta(days=1), ruling="Take it down.")
    world.decide(today=LATER, on=LATER, ruling="Take it down.")


def test_nobody_rules_on_a_survey_before_its_day(world: World) -> None:
    world.survey()
    with pytest.raises(InputError, match=r"newest of the surveys is of 2026-03-11: nobody"):
        world.decide(today=LATER, on=LATER - timedelta(days=1))
    world.decide(today=LATER, on=LATER)


def test_nobody_confirms_before_what_changed_or_was_confirmed(world: World) -> None:
    decision = world.decide()
    world.use()
    early = replace(CONFIRMED, on=LATER - timedelta(days=1))
    with pytest.raises(InputError, match=r"changed on 2026-03-11: nobody can rule on that"):
        world.confirm(decision, early)
    with pytest.raises(InputError, match=r"changed on 2026-03-11"):
        world.decide(today=LATER, on=early.on, ruling="Take it down.")
    world.confirm(decision)
    with pytest.raises(InputError, match=r"last confirmed on 2026-03-11"):
        world.confirm(decision, early)


def test_the_same_form_sent_twice_is_kept_once(world: World) -> None:
    decision = world.decide()
    with pytest.raises(InputError, match="This decision is kept already"):
        world.decide()
    assert len(world.rulings()) == 1
    world.confirm(decision)
    with pytest.raises(InputError, match="This confirmation is kept already"):
        world.confirm(decision)
    assert len(world.ruling().confirmed) == 1
    world.confirm(decision, replace(CONFIRMED, reason="Looked at on site."))


def test_the_same_may_be_said_again_of_what_changed_and_changed_back(world: World) -> None:
    decision = world.decide()
    world.confirm(decision)
    world.use("hotel")
    world.use("flats")
    world.confirm(decision)
    assert (len(world.ruling().confirmed), world.listed()) == (2, [])


def test_old_decisions_say_that_what_they_rested_on_was_not_kept(world: World) -> None:
    with world.estate.writing() as session:
        old = Decision(zone_id=world.zone, ruling="Sound", by="E.", on=ON, reasons="old")
        session.add(old)
        session.flush()
        decision = old.id
    found = world.ruling()
    assert (found.is_kept, world.listed()) == (False, [decision])
    assert "not kept" in found.because[-1]
    world.confirm(decision)
    assert (world.ruling().is_to_review, world.listed()) == (False, [])


@pytest.mark.parametrize(
    ("seen_by", "told"),
    [
        (SeenBy.WITH_FACT, "document R-7: was “supports it”, is “no longer supports it”"),
        (SeenBy.OWN, "document that is kept to the organisation that holds it: was “supports it”"),
    ],
)
def test_a_document_that_no_longer_supports_it_marks_it(
    world: World, tmp_path: Path, seen_by: SeenBy, told: str
) -> None:
    decision = world.decide()
    fact = SupportedFact(FactKind.DECISION, decision)
    with world.estate.writing() as session:
        add_document(
            session,
            world.engineer,
            Contents(tmp_path),
            GivenContent("r.pdf", PDF),
            facts=DocumentFacts(DocumentKind.REPORT, "R-7", seen_by=seen_by),
            supports=[fact],
            on=ON,
        )
    assert world.listed() == []
    with world.estate.writing() as session:
        support = session.scalar(sa.text("SELECT id FROM document_support")) or 0
        detach(session, world.engineer, support, "it is of another wall", LATER)
    [line] = world.ruling().because
    assert line.startswith(told)


@pytest.mark.parametrize(
    ("seen_by", "named"),
    [(SeenBy.WITH_FACT, "R-7"), (SeenBy.OWN, "that is kept to the organisation that holds it")],
)
def test_a_document_that_no_longer_supports_a_survey_marks_it(
    world: World, tmp_path: Path, seen_by: SeenBy, named: str
) -> None:
    with world.estate.writing() as session:
        survey = session.scalars(sa.select(StoredSurvey).filter_by(zone_id=world.zone)).one()
        ref = survey.ref
        add_document(
            session,
            world.engineer,
            Contents(tmp_path),
            GivenContent("r.pdf", PDF),
            facts=DocumentFacts(DocumentKind.REPORT, "R-7", seen_by=seen_by),
            supports=[SupportedFact(FactKind.SURVEY, survey.id)],
            on=ON,
        )
    decision = world.decide()
    with world.estate.writing() as session:
        support = session.scalar(sa.text("SELECT id FROM document_support")) or 0
        detach(session, world.engineer, support, "it is of another wall", LATER)
    assert world.listed() == [decision]
    assert world.ruling().because == (
        f"document {named}: was “supports survey {ref}”, is “no longer supports survey {ref}”",
    )


@pytest.mark.parametrize("wrong", ["", "  "])
def test_nobody_decides_or_confirms_without_a_qualification(world: World, wrong: str) -> None:
    with pytest.raises(InputError, match="qualification"):
        world.decide(qualification=wrong)
    decision = world.decide()
    with pytest.raises(InputError, match="qualification"):
        world.confirm(decision, replace(CONFIRMED, qualification=wrong))


@pytest.mark.parametrize("unseen", ["\u200b", "\u3164", " \u2800 ", "\u2060\ufe0f", "\xad"])
def test_what_nobody_sees_is_not_said(world: World, unseen: str) -> None:
    """Default ignorable code points (Unicode Character Database, DerivedCoreProperties.txt, from
    memory), and the blank pattern of Braille."""
    for key in ("ruling", "by", "qualification", "reasons"):
        with pytest.raises(InputError) as refused:
            world.decide(**{key: unseen})
        assert [problem.column for problem in refused.value.problems] == [key]
    decision = world.decide()
    for key in ("by", "qualification", "reason"):
        with pytest.raises(InputError) as refused:
            world.confirm(decision, replace(CONFIRMED, **{key: unseen}))
        assert [problem.column for problem in refused.value.problems] == [key]


def test_a_decision_on_what_has_changed_meanwhile_is_not_kept(world: World) -> None:
    with (
        pytest.raises(InputError, match="has changed since you opened"),
        world.estate.writing() as session,
    ):
        record_decision(session, world.engineer, world.zone, FACTS, ON, seen="0" * 16)
    assert world.rulings() == []


def test_only_engineers_of_the_owner_or_with_an_edit_grant_confirm(world: World) -> None:
    decision = world.decide()
    opened = {"to": (world.building,)}
    may_not = [
        (world.estate.viewer("owner", Role.ADMINISTRATOR), ForbiddenError),
        (world.estate.viewer("consultancy", access=Access.READ, **opened), ForbiddenError),
        (world.estate.viewer("stranger"), NotFoundError),
    ]
    for viewer, refused in may_not:
        with pytest.raises(refused), world.estate.writing() as session:
            confirm_decision(session, viewer, decision, CONFIRMED, LATER)
    with world.estate.writing() as session:
        consultant = world.estate.viewer("consultancy", access=Access.EDIT, **opened)
        confirm_decision(session, consultant, decision, CONFIRMED, LATER)


def test_a_list_holds_only_what_its_reader_may_read(world: World) -> None:
    decision = world.decide()
    world.use()
    consultant = world.estate.viewer("consultancy", to=(world.building,))
    assert world.listed(who=consultant) == [decision]
    assert world.listed(who=world.estate.viewer("stranger")) == []


def test_the_log_tells_of_the_mark_and_of_the_confirmation(world: World) -> None:
    decision = world.decide()
    world.use()
    world.confirm(decision)
    with world.estate.reading() as session:
        kept = sa.select(Event).filter_by(subject="decision", subject_id=decision)
        told = session.scalars(kept.order_by(Event.id)).all()
    assert [event.action for event in told] == ["created", "marked for review", "confirmed"]
    assert told[1].changes["use of the building"] == ["flats", "hotel"]


def test_looking_back_tells_how_a_decision_stood_then(
    world: World, monkeypatch: pytest.MonkeyPatch
) -> None:
    log_at(monkeypatch, ON)
    with world.estate.writing() as session:
        # what the fixture put there by hand is not in the log
        for kind, ids in (("building", [world.building]), ("zone", [world.zone])):
            _log_states(session, world, kind, ids)
    decision = world.decide()
    log_at(monkeypatch, LATER)
    world.use()
    world.confirm(decision)
    for day, reviewed, said in ((ON, False, 0), (LATER, False, 1)):
        with world.estate.reading() as session:
            found = look_back(session, world.engineer, world.building, day, today=LATER)
        [ruling] = found.decisions[world.zone]
        assert (ruling.is_to_review, len(ruling.confirmed)) == (reviewed, said)


def _log_states(session: Any, world: World, kind: str, ids: list[int]) -> None:
    owner = world.engineer.organisation_id
    entries = [changelog.Entry("created", kind, key, kind, owner) for key in ids]
    changelog.record(session, world.engineer.actor, entries)


def test_the_fields_for_scripts_are_whole(world: World) -> None:
    world.decide()
    world.use()
    told = ruling_fields(world.ruling())
    assert told["to_review"] is True
    assert told["changed"][-1]["from"] == "flats"
    assert told["rested_on"]["coverage"] == "to assess"
    assert (told["building"], told["zone"], told["qualification"]) == (
        "B-1",
        "Z-1",
        FACTS.qualification,
    )


def test_marks_outlive_results_that_are_thrown_away(world: World) -> None:
    decision = world.decide()
    world.use()
    with world.estate.writing() as session:
        forget_results(session)
        refresh(session, LATER)
    assert world.listed() == [decision]
    assert len(world.ruling().because) == 1


def test_the_test_and_zone_are_untouched(world: World) -> None:
    world.decide()
    with world.estate.reading() as session:
        assert session.get_one(TestRecord, world.test).revision == 1
        assert session.get_one(Zone, world.zone).revision == 1


def test_no_coverage_marks_a_decision_by_being_computed_again(database_url: str) -> None:
    """What is kept when deciding is just what is computed with all tests, whatever they say."""
    with estate_in(database_url) as estate:
        with estate.filling() as portfolio:
            fill_one_of_each(portfolio)
        with estate.writing() as session:
            for zone_id in session.scalars(sa.select(Zone.id)).all():
                record_decision(session, LOCAL, zone_id, FACTS, ON)
            refresh(session, ON)
            assert session.scalars(sa.select(DecisionMark.what)).all() == []
