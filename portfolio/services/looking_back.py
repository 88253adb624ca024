"""A building, its zones, evidence, coverage and works as they were known on an earlier day.

Read out of the change log: the last state of each thing that can change, and those surveys,
settlements and decisions that had been entered by the end of that day. The rules are those in
force on that day.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace
from datetime import date

import sqlalchemy as sa
from sqlalchemy.orm import Session
from sqlalchemy.orm.attributes import set_committed_value

from portfolio.db import mapping, models
from portfolio.db.states import revived
from portfolio.domain.buildings import Building
from portfolio.domain.coverage import speaks_against
from portfolio.domain.errors import NotFoundError
from portfolio.domain.rights import Right
from portfolio.domain.rules import RuleSet
from portfolio.domain.surveys import resolve
from portfolio.packs.works import PackWorks
from portfolio.reference.loader import load_reference
from portfolio.services.close_failures import CloseTest, close_in_words
from portfolio.services.coverage import library_of
from portfolio.services.documents.packing import pack_documents_then
from portfolio.services.explaining import Explanation, explained_by
from portfolio.services.gathering import GatheredZone
from portfolio.services.pack_tests import tests_in_pack
from portfolio.services.packed_logs import logs_of_tests_then, packed_log
from portfolio.services.packs import MadePack, pack_of, pack_xlsx
from portfolio.services.reliance import Seen, seen, shown_in_full
from portfolio.services.rules.in_force import rules_for
from portfolio.services.ruling_review import Ruling, rulings_of_zones
from portfolio.services.states_then import states_then, until_the_end_of
from portfolio.services.test_names import VisibleTest, names_of
from portfolio.services.viewer import Viewer
from portfolio.services.works.packing import packed_works_then


@dataclass(frozen=True, slots=True)
class LookBack:
    """What was known of a building at the end of `on`."""

    building_id: int
    on: date
    building: Building
    zones: tuple[Explanation, ...]
    decisions: dict[int, list[Ruling]]
    rules: RuleSet
    close: dict[int, tuple[CloseTest, ...]]
    """By zone, the failing tests that one thing alone kept from it."""
    works: tuple[PackWorks, ...]


def look_back(
    session: Session, viewer: Viewer, building_id: int, on: date, *, today: date
) -> LookBack:
    """The building as it was known. Raises NotFoundError, also where it was not known yet."""
    now = session.get(models.Building, building_id)
    if now is None or not viewer.may(Right.READ, now.organisation_id, now.id):
        raise NotFoundError("There is no such building.")
    then = states_then(session, "building", [building_id], on).get(building_id)
    if then is None:
        raise NotFoundError(f"The building was not recorded yet on {on.isoformat()}.")
    rules = rules_for(session, now.organisation_id, on)
    building = mapping.building_of(revived("building", then), now.organisation.ref)
    zones = _zones(session, now, building, rules)
    seen_then = _tests(session, now.organisation_id, on)
    known = names_of(map(_visible, seen_then), now.organisation_id)
    records = [test.record(known) for test in seen_then]
    library = library_of(records, {zone.setting for zone in zones}, rules)
    ids = known.ids
    # what may be shown follows the consents of today, whatever could be shown then
    shown = shown_in_full(session, viewer, today, list(ids.values()))
    explained = tuple(explained_by(zone, library, ids, shown) for zone in zones)
    failed = [record for record in records if speaks_against(record)]
    told = {name for name, test_id in ids.items() if test_id in shown}
    return LookBack(
        building_id,
        on,
        building,
        explained,
        _decisions(session, [zone.zone_id for zone in zones], on),
        rules,
        {zone.zone_id: close_in_words(zone, failed, told) for zone in explained},
        packed_works_then(session, viewer, building_id, now.organisation_id, on),
    )


def pack_looking_back(
    session: Session, viewer: Viewer, building_id: int, on: date, *, today: date
) -> MadePack:
    """The evidence pack as it would have been on an earlier day. Raises NotFoundError."""
    found = look_back(session, viewer, building_id, on, today=today)
    pack = pack_of(
        found.building, found.zones, found.decisions, found.rules, viewer.name, close=found.close
    )
    tests = tests_in_pack(found.zones)
    documents = pack_documents_then(session, viewer, building_id, tests, on, today=today)
    logs = tuple(
        packed_log(session, viewer, log, today)
        for log in logs_of_tests_then(session, viewer, tests, on, today=today)
    )
    content = pack_xlsx(replace(pack, documents=documents, logs=logs, works=found.works))
    return MadePack(building_id, on, content, tests)


def _entered(session: Session, subject: str, ids: Iterable[int], on: date) -> set[int]:
    """Of things that never change, those that had been entered by that day."""
    query = sa.select(models.Event.subject_id).where(
        models.Event.subject == subject,
        models.Event.subject_id.in_(list(ids)),
        until_the_end_of(on),
    )
    return set(session.scalars(query))


def _zones(
    session: Session, now: models.Building, building: Building, rules: RuleSet
) -> list[GatheredZone]:
    on, vocabulary = rules.on, load_reference().vocabulary
    states = states_then(session, "zone", [zone.id for zone in now.zones], on)
    found = []
    for zone in now.zones:
        if zone.id not in states:
            continue
        entered = _entered(session, "survey", [s.id for s in zone.surveys], on)
        settled = _entered(session, "settlement", [s.id for s in zone.settlements], on)
        told = tuple(mapping.survey_of(s, vocabulary) for s in zone.surveys if s.id in entered)
        ruled = [mapping.settlement_of(s) for s in zone.settlements if s.id in settled]
        # what was dated later still had not been seen
        counting = [survey for survey in told if survey.on <= on]
        wall = resolve(counting, [s for s in ruled if s.on <= on], rules.tolerances())
        then = mapping.zone_of(revived("zone", states[zone.id]), building.ref)
        place = zone.id, now.id, now.organisation_id
        found.append(GatheredZone(*place, building, then, wall, told))
    return found


def _tests(session: Session, organisation_id: int, on: date) -> list[Seen]:
    """The tests that the owner saw then."""
    found = []
    rows = [revived("test", state) for state in states_then(session, "test", None, on).values()]
    holders = {row.id: row for row in session.scalars(sa.select(models.Organisation))}
    for row in rows:
        set_committed_value(row, "organisation", holders[row.organisation_id])
    for row in rows:
        said = next((c for c in row.consents if c.organisation_id == organisation_id), None)
        if (then := seen(row, said, organisation_id, on)) is not None:
            found.append(then)
    return found


def _visible(test: Seen) -> VisibleTest:
    row = test.row
    told = row.id, row.ref, row.organisation_id, row.organisation.ref, row.report_ref or ""
    return VisibleTest(*told)


def _decisions(session: Session, zone_ids: Sequence[int], on: date) -> dict[int, list[Ruling]]:
    """The decisions entered by then, with what was known of them then."""
    query = sa.select(models.Decision.id).where(models.Decision.zone_id.in_(zone_ids))
    entered = _entered(session, "decision", session.scalars(query).all(), on)
    return rulings_of_zones(session, zone_ids, on, only=entered, by=on)
