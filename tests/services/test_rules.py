"""Rules that engineers own: kept version by version, for the walls of their organisation only."""

from collections.abc import Iterator
from dataclasses import replace
from datetime import date, timedelta

import pytest
import sqlalchemy as sa
from sqlalchemy.orm import Session

from portfolio.db import changelog
from portfolio.db.life import Reopened
from portfolio.db.models import Building, Event, Survey, TestRecord, Zone, ZoneResult
from portfolio.db.rules import RuleVersion
from portfolio.db.session import writing
from portfolio.domain.coverage import Coverage
from portfolio.domain.errors import BusyError, ForbiddenError, InputError, NotFoundError
from portfolio.domain.evidence import Consent
from portfolio.domain.rights import Access, Role
from portfolio.packs.contents import sections
from portfolio.services.comparing import compare
from portfolio.services.coverage import refresh
from portfolio.services.editing import StaleError
from portfolio.services.explaining import explain
from portfolio.services.looking_back import look_back
from portfolio.services.packs import gather_pack
from portfolio.services.references import Kind, Thing
from portfolio.services.renewing import renew, zones_due
from portfolio.services.rules.exporting import checked_examples, stored_rules
from portfolio.services.rules.files import write_rules
from portfolio.services.rules.importing import apply_plan, foresee_plan, plan_rules
from portfolio.services.rules.in_force import own_rules, rules_for
from portfolio.services.rules.listing import list_rules, rule_page
from portfolio.services.rules.recording import editable_rule, effects_of_rule
from portfolio.services.viewer import LOCAL
from portfolio.services.zone_page import zone_page
from tests.services.rules_support import DEEPER, EQUAL_WOOLS, UNDER_CONDITIONS, write
from tests.services.world_support import Estate, estate_in, log_at
from tests.web.portfolios import ON, wall

YESTERDAY, TOMORROW = ON - timedelta(days=1), ON + timedelta(days=1)
DEEP = wall(cavity__depth="80")
COVERED, TO_ASSESS = Coverage.COVERED, Coverage.TO_ASSESS


@pytest.fixture
def estate(database_url: str) -> Iterator[Estate]:
    """Two owners and a consultancy, each with a wall whose cavity is deeper than tested."""
    with estate_in(database_url) as found:
        with found.filling() as portfolio:
            holder = portfolio.organisation(ref="holder")
            portfolio.test(holder, ref="T-1", consent=Consent.PUBLISHED)
            for ref in ("north", "south", "consult"):
                owner = portfolio.organisation(ref=ref)
                building = portfolio.building(owner, ref=f"B-{ref}")
                portfolio.zone(building, ref="DEEP", wall=DEEP)
        yield found


def coverages(estate: Estate) -> dict[int, Coverage]:
    with estate.reading() as session:
        rows = session.execute(sa.select(ZoneResult.organisation_id, ZoneResult.coverage))
        return {owner: coverage for owner, coverage in rows}  # noqa: C416


def coverage_of(estate: Estate, ref: str) -> Coverage:
    return coverages(estate)[estate.organisation(ref)]


def written(estate: Estate, ref: str = "north", **more: object) -> int:
    with estate.writing() as session:
        given = session, estate.viewer(ref), estate.organisation(ref)
        return write(*given, **more).id  # type: ignore[arg-type]


def zone_of(estate: Estate, ref: str) -> int:
    with estate.reading() as session:
        query = sa.select(ZoneResult.zone_id).filter_by(organisation_id=estate.organisation(ref))
        return session.scalars(query).one()


# --- Whose walls ---------------------------------------------------------------------------------


def test_a_rule_covers_walls_of_its_organisation_and_of_nobody_else(estate: Estate) -> None:
    written(estate)
    assert {ref: coverage_of(estate, ref) for ref in ("north", "south", "consult")} == {
        "north": COVERED,
        "south": TO_ASSESS,
        "consult": TO_ASSESS,
    }


def test_a_consultancys_rule_touches_no_building_that_is_open_to_it(estate: Estate) -> None:
    with estate.reading() as session:
        query = sa.select(ZoneResult.building_id)
        [building] = session.scalars(query.filter_by(organisation_id=estate.organisation("north")))
    viewer = estate.viewer("consult", access=Access.EDIT, to=(building,))
    with estate.writing() as session:
        saved = write(session, viewer, estate.organisation("consult"))
        assert [change.building_ref for change in saved.changes] == ["B-consult"]
        with pytest.raises(NotFoundError):
            write(session, viewer, estate.organisation("north"))
    assert coverage_of(estate, "north") is TO_ASSESS


def test_a_zone_beside_a_test_goes_by_its_owners_rules_whichever_stands_left(
    estate: Estate,
) -> None:
    written(estate, ref="north")
    answers = {}
    with estate.reading() as session:
        [test_id] = session.scalars(sa.select(TestRecord.id))
        test = Thing(Kind.TEST, test_id)
        for ref in ("north", "south"):
            zone, viewer = Thing(Kind.ZONE, zone_of(estate, ref)), estate.viewer(ref)
            told = [
                {line.parameter: line.answer for line in compare(session, viewer, *pair, ON).lines}
                for pair in ((zone, test), (test, zone))
            ]
            assert told[0] == told[1]
            answers[ref] = told[0]["cavity.1.depth"]
    assert answers == {"north": "allowed", "south": "differs"}


@pytest.mark.parametrize("role", [Role.READER, Role.EDITOR, Role.ADMINISTRATOR])
def test_only_engineers_write_rules(estate: Estate, role: Role) -> None:
    rule_id = written(estate)
    own, viewer = estate.organisation("north"), estate.viewer("north", role)
    with estate.writing() as session:
        with pytest.raises(ForbiddenError):
            write(session, viewer, own, key="another")
        with pytest.raises(ForbiddenError):
            editable_rule(session, viewer, rule_id)
        assert rule_page(session, viewer, rule_id, ON).organisation_id == own


def test_a_foreign_rule_answers_like_one_that_is_not_there(estate: Estate) -> None:
    rule_id, viewer = written(estate), estate.viewer("south")
    with estate.reading() as session:
        for wanted in (rule_id, rule_id + 1000):
            with pytest.raises(NotFoundError, match=r"^There is no such rule\.$"):
                rule_page(session, viewer, wanted, ON)
            with pytest.raises(NotFoundError, match=r"^There is no such rule\.$"):
                editable_rule(session, viewer, wanted)
        assert list_rules(session, viewer, ON).own == ()
        assert stored_rules(session, viewer, ON) == []


# --- Beforehand ----------------------------------------------------------------------------------


def test_what_a_rule_would_change_is_told_and_nothing_is_written(estate: Estate) -> None:
    own, later = estate.organisation("north"), replace(DEEPER, since=date(2030, 1, 1))
    with estate.reading() as session:
        given = session, estate.viewer("north"), own
        for texts in (DEEPER, later):
            found = effects_of_rule(*given, texts, version=0, on=ON)
            assert [(c.building_ref, c.before, c.after) for c in found] == [
                ("B-north", "to-assess", "covered")
            ]
        narrow = replace(DEEPER, amount="10", examples=(DEEPER.examples[1],) * 2)
        with pytest.raises(InputError):
            effects_of_rule(*given, narrow, version=0, on=ON)
        assert session.scalar(sa.select(sa.func.count()).select_from(RuleVersion)) == 0
    assert coverage_of(estate, "north") is TO_ASSESS


def test_what_ending_a_rule_would_change_is_told(estate: Estate) -> None:
    written(estate)
    ended = replace(DEEPER, until=YESTERDAY)
    with estate.reading() as session:
        given = session, estate.viewer("north"), estate.organisation("north")
        [change] = effects_of_rule(*given, ended, version=1, on=ON)
    assert (change.before, change.after) == ("covered", "to-assess")


# --- Versions ------------------------------------------------------------------------------------


def test_what_was_concluded_under_an_earlier_version_is_kept(
    estate: Estate, monkeypatch: pytest.MonkeyPatch
) -> None:
    later = ON + timedelta(days=10)
    log_at(monkeypatch, YESTERDAY)
    with estate.writing() as session:
        kinds = (("building", Building), ("zone", Zone), ("survey", Survey), ("test", TestRecord))
        entries = [
            changelog.Entry("created", subject, row.id, row.ref, None)
            for subject, kind in kinds
            for row in session.scalars(sa.select(kind))
        ]
        changelog.record(session, LOCAL.actor, entries)
    written(estate, on=TOMORROW)
    narrow = {
        "amount": "20",
        "examples": (replace(DEEPER.examples[0], zone="60"), DEEPER.examples[1]),
    }
    written(estate, version=1, on=later, since=later, **narrow)
    assert coverage_of(estate, "north") is TO_ASSESS
    with estate.reading() as session:
        zone_id, viewer = zone_of(estate, "north"), estate.viewer("north")
        building = session.get_one(ZoneResult, zone_id).building_id
        days = (ON, TOMORROW, later)
        found = [look_back(session, viewer, building, day, today=later) for day in days]
    assert [then.zones[0].coverage.coverage for then in found] == [
        TO_ASSESS,
        COVERED,
        TO_ASSESS,
    ]
    own = estate.organisation("north")
    with estate.reading() as session:
        assert [[r.version for r in own_rules(session, own, day)] for day in days] == [[], [1], [2]]


def test_a_replaced_version_does_not_come_back_when_its_successor_ends(estate: Estate) -> None:
    written(estate)
    written(estate, version=1, until=TOMORROW, reason="Only for a while.")
    own = estate.organisation("north")
    with estate.reading() as session:
        told = [
            [r.id for r in rules_for(session, own, ON + timedelta(days=days)).rules if r.is_own]
            for days in range(3)
        ]
    assert told == [["deeper-cavity"], ["deeper-cavity"], []]


def test_a_version_that_is_overtaken_or_says_nothing_new_is_refused(estate: Estate) -> None:
    written(estate)
    with estate.writing() as session:
        given = session, estate.viewer("north"), estate.organisation("north")
        with pytest.raises(InputError, match="already"):
            write(*given, version=1)
        with pytest.raises(InputError, match="already"):
            write(*given, title="Another")
        with pytest.raises(InputError, match="keeps its key"):
            write(*given, version=1, key="another")
        write(*given, version=1, title="Another")
        with pytest.raises(StaleError):
            write(*given, version=1, title="A third")


def test_every_version_is_in_the_log_with_what_changed(estate: Estate) -> None:
    written(estate)
    written(estate, version=1, amount="42", reason="Measured again.")
    with estate.reading() as session:
        query = sa.select(Event).where(Event.subject == "rule").order_by(Event.id)
        first, second = session.scalars(query)
        assert (first.action, first.organisation_id) == ("created", estate.organisation("north"))
        assert first.changes["document"] == [None, "Note 7"]
        assert first.changes["examples"][1].startswith("zone 80, tested 50: allowed")
        assert (second.action, second.reason) == ("replaced", "Measured again.")
        assert set(second.changes) == {"amount", "reason", "version"}


def test_a_zone_that_comes_out_otherwise_is_re_opened_with_the_rule_named(estate: Estate) -> None:
    written(estate)
    with estate.reading() as session:
        [row] = session.scalars(sa.select(Reopened))
    assert (row.subject_id, row.before, row.after) == (
        zone_of(estate, "north"),
        "to-assess",
        "covered",
    )
    assert "deeper-cavity (version 1, by A. Engineer)" in row.because


# --- Days that come ------------------------------------------------------------------------------


def test_coverage_follows_the_days_on_which_a_rule_begins_and_ends(estate: Estate) -> None:
    written(estate, since=TOMORROW, until=TOMORROW)
    found = [coverage_of(estate, "north")]
    for days in (1, 2):
        compared = renew(estate.engine, ON + timedelta(days=days))
        found.append(coverage_of(estate, "north"))
        assert compared == 1
    assert found == [TO_ASSESS, COVERED, TO_ASSESS]


def test_a_rule_touches_nobody_elses_days(estate: Estate) -> None:
    written(estate, since=TOMORROW)
    with estate.reading() as session:
        assert zones_due(session, TOMORROW) == {zone_of(estate, "north")}


# --- What is told of it --------------------------------------------------------------------------


def test_the_zone_names_the_rule_that_covers_it(estate: Estate) -> None:
    written(estate)
    with estate.reading() as session:
        page = zone_page(session, estate.viewer("north"), zone_of(estate, "north"), ON)
        [row] = page.rows("allowed")
        pack, _ = gather_pack(session, estate.viewer("north"), page.row.building_id, ON)
    assert page.sentence.endswith(
        "It leans on the engineer's rule deeper-cavity (version 1, by A. Engineer: Note 7, 3.2)."
    )
    assert (row.rule, row.source) == (
        "deeper-cavity",
        "version 1, by A. Engineer: Note 7, 3.2",
    )
    sources = next(section for section in sections(pack) if section.title == "Sources")
    told = ("A deeper cavity", "version 1, by A. Engineer: Note 7, 3.2", "engineer", "2026-01-01")
    assert told in sources.rows


def test_a_pack_tells_no_rule_that_bears_on_nothing_in_it(estate: Estate) -> None:
    written(estate, texts=EQUAL_WOOLS)
    with estate.reading() as session:
        building = session.get_one(ZoneResult, zone_of(estate, "north")).building_id
        pack, _ = gather_pack(session, estate.viewer("north"), building, ON)
    sources = next(section for section in sections(pack) if section.title == "Sources")
    assert not any("Note 7" in str(cell) for row in sources.rows for cell in row)


def test_the_explanation_and_the_stored_coverage_agree_under_conditions(estate: Estate) -> None:
    written(estate, texts=UNDER_CONDITIONS)
    with estate.reading() as session:
        found = explain(session, estate.viewer("north"), zone_of(estate, "north"), ON)
    assert found.coverage.coverage is coverage_of(estate, "north") is COVERED


def test_a_wall_between_two_tests_is_offered_as_a_candidate_and_never_covered(
    estate: Estate,
) -> None:
    with estate.filling() as portfolio:
        holder = portfolio.organisation(ref="other holder")
        deeper = wall(cavity__depth="120")
        portfolio.test(holder, ref="T-2", consent=Consent.PUBLISHED, build_up=deeper)
    with estate.reading() as session:
        page = zone_page(session, estate.viewer("north"), zone_of(estate, "north"), ON)
    [pair] = page.between
    assert (pair.lower, pair.low, pair.upper, pair.high, pair.value) == (
        "T-1",
        "50 mm",
        "T-2",
        "120 mm",
        "80 mm",
    )
    assert "to assess. It covers nothing." in pair.sentence
    assert coverage_of(estate, "north") is TO_ASSESS


def test_the_list_tells_what_counts_today(estate: Estate) -> None:
    written(estate)
    written(estate, version=1, since=TOMORROW, title="Another")
    rule_id = written(estate, texts=EQUAL_WOOLS, since=date(2026, 1, 1), until=YESTERDAY)
    with estate.reading() as session:
        found = list_rules(session, estate.viewer("north"), ON)
        page = rule_page(session, estate.viewer("north"), rule_id, ON)
    assert [(line.rule.id, line.rule.version, line.state) for line in found.own] == [
        ("deeper-cavity", 1, "in force"),
        ("deeper-cavity", 2, "to come"),
        ("equal-wools", 1, "ended"),
    ]
    assert {line.state for line in found.shipped} == {"in force"}
    assert [example.found for example in page.latest.examples] == ["allowed", "differs", "unknown"]


# --- Files ---------------------------------------------------------------------------------------


def _export(estate: Estate, *, owner: str = "") -> bytes:
    with estate.reading() as session:
        found = stored_rules(session, LOCAL, ON, owner)
        assert all(example.is_so for example in checked_examples(found))
    return write_rules((each.organisation, each.rule) for each in found).encode()


def test_what_was_exported_imports_without_a_change(estate: Estate) -> None:
    for texts in (DEEPER, UNDER_CONDITIONS, EQUAL_WOOLS):
        written(estate, texts=texts)
    written(estate, "south")
    content = _export(estate)
    with estate.writing() as session:
        plan = plan_rules(session, "rules.toml", content)
        assert plan.counts() == (0, 0, 4)
        assert apply_plan(session, LOCAL, plan, ON) == ()
    assert _export(estate) == content
    assert _export(estate, owner="south").count(b"[[rules]]") == 1


def test_every_version_that_counts_now_or_later_is_listed_checked_and_exported(
    estate: Estate,
) -> None:
    """Versions, by first day: in force, overtaken before it begins, to come, to come after it."""
    written(estate, since=date(2025, 1, 1), title="Replaced")
    later = [ON + timedelta(days=days) for days in (30, 10, 20)]
    for version, since in enumerate([date(2026, 1, 1), *later], start=1):
        written(estate, version=version, since=since, title=f"From {since}")
    with estate.reading() as session:
        viewer = estate.viewer("north")
        counting = [line.rule.version for line in list_rules(session, viewer, ON).own]
        found = stored_rules(session, viewer, ON)
        checked = {each.stored.version for each in checked_examples(found)}
        days = [ON, *sorted(later)]
        in_force = [
            [r.version for r in own_rules(session, estate.organisation("north"), day)]
            for day in days
        ]
    assert in_force == [[2], [4], [5], [5]]
    assert counting == [each.version for each in found] == sorted(checked) == [2, 4, 5]
    content = _export(estate, owner="north")
    with estate.writing() as session:
        assert plan_rules(session, "rules.toml", content).counts() == (0, 0, 3)
        elsewhere = content.replace(b'"north"', b'"south"')
        plan = plan_rules(session, "rules.toml", elsewhere)
        assert plan.counts() == (1, 2, 0)
        apply_plan(session, LOCAL, plan, ON)
    assert _export(estate, owner="south") == elsewhere
    assert coverage_of(estate, "south") is COVERED


def test_a_version_that_begins_no_later_than_the_one_before_it_is_refused(
    estate: Estate,
) -> None:
    written(estate)
    content = _export(estate)
    with estate.reading() as session, pytest.raises(InputError, match="begins later"):
        plan_rules(session, "rules.toml", content + content)


def test_of_two_who_write_at_once_the_second_waits_or_is_told(estate: Estate) -> None:
    """An engineer at the form, or another import, while an import is under way."""
    written(estate)
    content = _export(estate).replace(b"A deeper cavity", b"As imported")
    with estate.writing() as session:
        plan = plan_rules(session, "rules.toml", content, to_apply=True)
        for other in (_at_the_form, _by_import):
            with (
                pytest.raises(BusyError),
                writing(estate.engine, patience=0.2) as second,
            ):
                other(second, estate, content)
        apply_plan(session, LOCAL, plan, ON)
    with pytest.raises(StaleError), estate.writing() as session:
        _at_the_form(session, estate, content)
    with estate.writing() as session:
        assert plan_rules(session, "rules.toml", content, to_apply=True).counts() == (0, 0, 1)
    with estate.reading() as session:
        numbers = session.scalars(sa.select(RuleVersion.version).order_by(RuleVersion.id))
        assert list(numbers) == [1, 2]


def _at_the_form(session: Session, estate: Estate, _: bytes) -> None:
    given = session, estate.viewer("north"), estate.organisation("north")
    write(*given, version=1, title="As written")


def _by_import(session: Session, _: Estate, content: bytes) -> None:
    plan = plan_rules(session, "rules.toml", content, to_apply=True)
    apply_plan(session, LOCAL, plan, ON)


def test_an_import_tells_beforehand_and_does_what_it_told(estate: Estate) -> None:
    written(estate, "south")
    content = _export(estate).replace(b'"south"', b'"north"')
    with estate.writing() as session:
        plan = plan_rules(session, "rules.toml", content)
        told = foresee_plan(session, LOCAL, plan, ON)
        done = apply_plan(session, LOCAL, plan, ON)
        again = plan_rules(session, "rules.toml", content)
    assert told == done
    assert [(c.building_ref, c.after) for c in done] == [("B-north", "covered")]
    assert (plan.counts(), again.counts()) == ((1, 0, 0), (0, 0, 1))


def test_an_import_with_anything_wrong_writes_nothing(estate: Estate) -> None:
    written(estate, "south")
    content = _export(estate)
    wrong = content.replace(b'"south"', b'"north"') + content.replace(b'"south"', b'"nobody"')
    with estate.writing() as session, pytest.raises(InputError, match="no such organisation"):
        plan_rules(session, "rules.toml", wrong)
    assert coverage_of(estate, "north") is TO_ASSESS


def test_coverage_computed_anew_is_the_same(estate: Estate) -> None:
    written(estate, texts=UNDER_CONDITIONS)
    before = coverages(estate)
    with estate.writing() as session:
        refresh(session, ON)
    assert coverages(estate) == before
