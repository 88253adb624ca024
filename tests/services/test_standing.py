"""A test falls: what leaned on it is told beforehand, re-opened afterwards, and looked at again."""

from collections.abc import Iterator
from contextlib import nullcontext
from dataclasses import replace
from datetime import UTC, date, datetime, timedelta

import pytest
import sqlalchemy as sa

from portfolio.db.life import PackMade, Reopened, StandingChange
from portfolio.db.models import Building, Event, TestRecord, ZoneResult
from portfolio.db.results import ZoneTest
from portfolio.domain.errors import ForbiddenError, InputError, NotFoundError
from portfolio.domain.evidence import Answer3, Consent, Standing
from portfolio.domain.rights import Role
from portfolio.services.editing import StaleError
from portfolio.services.editing_tests import editable_test, save_test
from portfolio.services.foreseeing import Effects
from portfolio.services.handing_out import keep_pack, packs_of
from portfolio.services.packs import building_pack
from portfolio.services.renewing import renew
from portfolio.services.standing import StandingFacts, change_standing, effects_of
from portfolio.services.to_look_at import looked_at, reopened
from portfolio.services.viewer import Viewer
from tests.services.world_support import Estate, consent, estate_in
from tests.web.portfolios import ON, wall

WITHDRAWN = StandingFacts(Standing.WITHDRAWN, ON, "A thermocouple was found miswired.")
TESTED = date(2020, 5, 4)
OTHER_WALL = wall(facing__material="terracotta")


@pytest.fixture
def estate(database_url: str) -> Iterator[Estate]:
    """T-1 covers Z-1 of its holder and Z-9 of another owner; T-2 leans on it and covers Z-2."""
    with estate_in(database_url) as found:
        with found.filling() as portfolio:
            holder, other = (
                portfolio.organisation(ref="holder"),
                portfolio.organisation(ref="other"),
            )
            test = portfolio.test(holder, ref="T-1", title="Private title")
            portfolio.test(holder, ref="T-2", build_up=OTHER_WALL, leans_on=["T-1"])
            portfolio.test(holder, ref="T-3", build_up=wall(facing__material="glass"))
            consent(portfolio, test, other)
            building = portfolio.building(holder, ref="B-1")
            portfolio.zone(building, ref="Z-1")
            portfolio.zone(building, ref="Z-2", wall=OTHER_WALL)
            portfolio.zone(building, ref="Z-3", wall=wall(facing__material="glass"))
            portfolio.zone(portfolio.building(other, ref="B-9"), ref="Z-9")
        yield found


def the_test(estate: Estate, ref: str = "T-1") -> int:
    with estate.reading() as session:
        found: int = session.scalars(sa.select(TestRecord.id).filter_by(ref=ref)).one()
        return found


def change(
    estate: Estate, facts: StandingFacts = WITHDRAWN, viewer: Viewer | None = None, ref: str = "T-1"
) -> None:
    wanted = the_test(estate, ref)
    with estate.writing() as session:
        revision = session.get_one(TestRecord, wanted).revision
        by = viewer or estate.viewer("holder")
        change_standing(session, by, wanted, facts, revision=revision, on=ON)


def effects(estate: Estate, facts: StandingFacts = WITHDRAWN) -> Effects:
    with estate.reading() as session:
        return effects_of(session, estate.viewer("holder"), the_test(estate), facts, ON)


def _listed(estate: Estate, organisation: str, *, open_only: bool = True) -> list[Reopened]:
    with estate.reading() as session:
        found = reopened(session, estate.viewer(organisation), open_only=open_only)
        assert found.total == len(found.rows)
        return sorted(found.rows, key=lambda row: row.subject_ref)


def coverages(estate: Estate) -> list[str]:
    with estate.reading() as session:
        query = sa.select(ZoneResult.coverage).order_by(ZoneResult.zone_id)
        return [found.value for found in session.scalars(query)]


def test_what_leans_on_it_is_told_beforehand_and_nothing_is_written(estate: Estate) -> None:
    before = coverages(estate)
    found = effects(estate)
    assert [(c.zone_ref, c.before) for c in found.zones] == [
        ("Z-1", "covered"),
        ("Z-2", "covered"),
    ]
    named = [(zone.building_ref, zone.ref) for zone in found.leaning]
    assert named == [("B-1", "Z-1"), ("B-1", "Z-2")]
    assert (found.buildings, found.tests, found.packs) == (1, ("T-2",), ())
    assert coverages(estate) == before
    with estate.reading() as session:
        assert session.scalars(sa.select(StandingChange)).all() == []


def test_what_was_told_beforehand_is_what_happens(estate: Estate) -> None:
    foretold = {change.zone_ref: change.after for change in effects(estate).zones}
    change(estate)
    after = {
        row.subject_ref.split(" / ")[1]: row.after for row in _listed(estate, "holder") if row.after
    }
    assert after == foretold


def test_everything_that_leans_on_it_is_re_opened_and_nothing_else(estate: Estate) -> None:
    change(estate)
    assert [row.subject_ref for row in _listed(estate, "holder")] == [
        "B-1 / Z-1",
        "B-1 / Z-2",
        "T-2",
    ]
    [theirs] = _listed(estate, "other")
    assert (theirs.subject_ref, theirs.before) == ("B-9 / Z-9", "covered")
    assert theirs.because == "Test T-1 is withdrawn since 2026-03-01"


def test_others_are_told_that_it_fell_and_not_the_holders_reason(estate: Estate) -> None:
    change(estate)
    [theirs] = _listed(estate, "other")
    with estate.reading() as session:
        logged = session.scalars(
            sa.select(Event).where(Event.organisation_id == estate.organisation("other"))
        ).all()
    words = repr([theirs.because, *(f"{e.changes} {e.reason} {e.subject_ref}" for e in logged)])
    assert "miswired" not in words
    assert "Private" not in words


def test_a_pack_that_leaned_on_it_is_overtaken_once(estate: Estate) -> None:
    with estate.writing() as session:
        building = session.scalars(sa.select(Building.id).filter_by(ref="B-1")).one()
        holder = estate.viewer("holder")
        keep_pack(session, holder, building_pack(session, holder, building, ON))
    assert effects(estate).packs[0].startswith("pack 1 of B-1, 20")
    change(estate)
    change(estate, replace(WITHDRAWN, standing=Standing.DISPUTED))
    with estate.reading() as session:
        [pack] = packs_of(session, building)
    assert (pack.overtaken_on, pack.overtaken_because) == (
        ON,
        "Test T-1 is withdrawn since 2026-03-01",
    )


@pytest.mark.parametrize("ref", ["T-1", "T-2", "T-3"])
@pytest.mark.parametrize("standing", [s for s in Standing if s is not Standing.LIVE])
def test_a_pack_is_overtaken_by_whatever_test_stands_in_it_and_the_preview_says_so(
    estate: Estate, ref: str, standing: Standing
) -> None:
    """Also by one that no coverage rests on: it stands there as live, with its comparison."""
    with estate.filling() as portfolio:
        third = portfolio.organisation(ref="third")
        consent(portfolio, portfolio.session.get_one(TestRecord, the_test(estate, ref)), third)
        building = portfolio.building(third, ref="B-3")
        portfolio.zone(building, wall=wall(facing__material="fibre-cement"))
        building = building.id
    owner = estate.viewer("third")
    with estate.writing() as session:
        made = building_pack(session, owner, building, ON)
        keep_pack(session, owner, made)
        assert session.scalars(sa.select(ZoneTest).filter_by(building_id=building)).all() == []
    assert the_test(estate, ref) in made.test_ids
    superseded_by = "T-2" if ref == "T-3" else "T-3"
    facts = StandingFacts(standing, ON, "A reason.")
    if standing is Standing.SUPERSEDED:
        facts = replace(facts, superseded_by=superseded_by)
    both = estate.viewer("holder", to=(building,))
    with estate.reading() as session:
        foretold = effects_of(session, both, the_test(estate, ref), facts, ON)
    assert len(foretold.packs) == 1
    change(estate, facts, ref=ref)
    with estate.reading() as session:
        [pack] = packs_of(session, building)
    assert pack.overtaken_on == ON


def test_a_pack_without_it_still_holds(estate: Estate) -> None:
    with estate.writing() as session:
        building = session.scalars(sa.select(Building.id).filter_by(ref="B-1")).one()
        session.add(
            PackMade(
                building_id=building,
                at=datetime(2026, 3, 1, tzinfo=UTC),
                as_of=ON,
                by="A. Person",
                sha256="0" * 64,
                test_ids=[the_test(estate, "T-3")],
            )
        )
    change(estate)
    with estate.reading() as session:
        assert [pack.overtaken_on for pack in packs_of(session, building)] == [None]


def test_what_stands_again_is_re_opened_too_and_covers_again(estate: Estate) -> None:
    before = coverages(estate)
    change(estate)
    change(estate, StandingFacts(Standing.LIVE, ON, "The wiring was right after all."))
    assert coverages(estate) == before
    assert sorted(row.after for row in _listed(estate, "other"))[0] == "covered"
    with estate.reading() as session:
        kept = session.scalars(sa.select(StandingChange).order_by(StandingChange.id)).all()
    assert [(row.before, row.standing) for row in kept] == [
        (Standing.LIVE, Standing.WITHDRAWN),
        (Standing.WITHDRAWN, Standing.LIVE),
    ]


@pytest.mark.parametrize(
    ("facts", "column"),
    [
        (replace(WITHDRAWN, reason=" "), "reason"),
        (replace(WITHDRAWN, on=None), "on"),
        (replace(WITHDRAWN, on=ON + timedelta(days=1)), "on"),
        (replace(WITHDRAWN, on=TESTED - timedelta(days=1)), "on"),
        (replace(WITHDRAWN, standing=Standing.LIVE), "standing"),
        (replace(WITHDRAWN, standing=Standing.SUPERSEDED), "superseded_by"),
        (replace(WITHDRAWN, standing=Standing.SUPERSEDED, superseded_by="T-1"), "superseded_by"),
        (replace(WITHDRAWN, standing=Standing.SUPERSEDED, superseded_by="T-0"), "superseded_by"),
        (replace(WITHDRAWN, superseded_by="T-2"), "superseded_by"),
    ],
)
def test_a_change_without_its_reasons_is_refused_whole(
    estate: Estate, facts: StandingFacts, column: str
) -> None:
    before = coverages(estate)
    for attempt in (change, effects):
        with pytest.raises(InputError) as refused:
            attempt(estate, facts)
        assert [problem.column for problem in refused.value.problems] == [column]
    assert (coverages(estate), _listed(estate, "holder")) == (before, [])


@pytest.mark.parametrize("since", [TESTED, TESTED + timedelta(days=1), ON])
def test_a_standing_may_be_so_from_the_day_of_the_test_on(estate: Estate, since: date) -> None:
    change(estate, replace(WITHDRAWN, on=since))
    [theirs] = _listed(estate, "other")
    assert theirs.because == f"Test T-1 is withdrawn since {since}"


def test_only_the_holder_changes_it(estate: Estate) -> None:
    with pytest.raises(NotFoundError):
        change(estate, viewer=estate.viewer("other"))
    with pytest.raises(ForbiddenError):
        change(estate, viewer=estate.viewer("holder", Role.READER))


def test_a_change_that_was_overtaken_is_refused(estate: Estate) -> None:
    wanted, viewer = the_test(estate), estate.viewer("holder")
    with pytest.raises(StaleError), estate.writing() as session:
        change_standing(session, viewer, wanted, WITHDRAWN, revision=99, on=ON)


def test_a_record_that_is_corrected_re_opens_what_leaned_on_it(estate: Estate) -> None:
    wanted, viewer = the_test(estate), estate.viewer("holder")
    for changes, expected in (
        ({"title": "Another title"}, 0),
        ({"external_spread": Answer3.NOT_MET}, 3),
    ):
        with estate.writing() as session:
            found = editable_test(session, viewer, wanted)
            facts = replace(found.facts, **changes)  # type: ignore[arg-type]
            save_test(session, viewer, wanted, facts, revision=found.revision, on=ON)
        assert len(_listed(estate, "holder")) == expected
    assert {row.because for row in _listed(estate, "other")} == {
        "The record of test T-1 was corrected"
    }


@pytest.mark.parametrize(("reason", "refused"), [("", True), ("its sponsor", False)])
def test_the_form_of_the_record_changes_no_standing_without_a_reason_either(
    estate: Estate, reason: str, refused: bool
) -> None:
    wanted, viewer = the_test(estate), estate.viewer("holder")
    with estate.writing() as session:
        found = editable_test(session, viewer, wanted)
        facts = replace(found.facts, standing=Standing.WITHDRAWN, standing_note=reason)
        with pytest.raises(InputError) if refused else nullcontext():
            save_test(session, viewer, wanted, facts, revision=found.revision, on=ON)
    with estate.reading() as session:
        stands = editable_test(session, viewer, wanted).facts.standing
    assert stands is (Standing.LIVE if refused else Standing.WITHDRAWN)


def test_a_consent_that_runs_out_re_opens_what_is_the_askers_only(estate: Estate) -> None:
    with estate.writing() as session:
        session.execute(sa.text("UPDATE test_consent SET until = :day"), {"day": date(2026, 3, 1)})
    renew(estate.engine, ON + timedelta(days=1))
    [theirs] = _listed(estate, "other")
    assert (theirs.subject_ref, theirs.because) == (
        "B-9 / Z-9",
        "The consent to lean on test T-1 has ended",
    )
    assert _listed(estate, "holder") == []


def test_what_was_looked_at_is_open_no_more(estate: Estate) -> None:
    change(estate)
    first, *rest = _listed(estate, "holder")
    with estate.writing() as session:
        looked_at(session, estate.viewer("holder"), first.id, " A new test is asked for. ", ON)
    assert [row.id for row in _listed(estate, "holder")] == [row.id for row in rest]
    kept = next(row for row in _listed(estate, "holder", open_only=False) if row.id == first.id)
    assert (kept.looked_on, kept.note) == (ON, "A new test is asked for.")
    with pytest.raises(InputError), estate.writing() as session:
        looked_at(session, estate.viewer("holder"), first.id, "Again", ON)


def test_looking_needs_a_note_the_role_and_the_thing(estate: Estate) -> None:
    change(estate)
    row = _listed(estate, "holder")[0]
    for viewer, note, error in (
        (estate.viewer("holder"), "  ", InputError),
        (estate.viewer("holder", Role.READER), "Seen", ForbiddenError),
        (estate.viewer("other"), "Seen", NotFoundError),
    ):
        with pytest.raises(error), estate.writing() as session:
            looked_at(session, viewer, row.id, note, ON)
    assert [found.looked_on for found in _listed(estate, "holder")] == [None] * 3


def test_published_evidence_re_opens_everybodys_zones(estate: Estate) -> None:
    with estate.filling() as portfolio:
        third = portfolio.organisation(ref="third")
        row = portfolio.session.get_one(TestRecord, the_test(estate))
        row.consent = Consent.PUBLISHED
        portfolio.zone(portfolio.building(third, ref="B-5"), ref="Z-5")
    change(estate)
    assert [row.subject_ref for row in _listed(estate, "third")] == ["B-5 / Z-5"]
