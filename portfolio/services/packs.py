"""The evidence pack of one building: gathers what it holds and writes it as one workbook."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import date

import sqlalchemy as sa
from sqlalchemy.orm import Session

from portfolio.db import mapping, models
from portfolio.domain.buildings import Building
from portfolio.domain.caution import CAUTION
from portfolio.domain.errors import NotFoundError
from portfolio.domain.evidence import TestRecord
from portfolio.domain.gates import Gate
from portfolio.domain.parameters import PARAMETERS
from portfolio.domain.priorities import Gap, reasons
from portfolio.domain.rights import Right
from portfolio.domain.rules import RuleSet
from portfolio.packs.contents import CloseLine, Known, Line, Pack, PackZone, sections
from portfolio.packs.sections import Cell, Section
from portfolio.reference.loader import load_reference
from portfolio.services.close_failures import CloseTest, close_to
from portfolio.services.documents.packing import pack_documents
from portfolio.services.explaining import (
    Explanation,
    explain,
    provenance,
    value_text,
)
from portfolio.services.pack_tests import comparisons_in_pack, every_comparison, tests_in_pack
from portfolio.services.packed_logs import log_sheet, logs_of_tests, packed_log
from portfolio.services.route_words import told_route
from portfolio.services.rules.in_force import rules_for
from portfolio.services.ruling_review import Ruling, rulings_of_zones
from portfolio.services.viewer import Viewer
from portfolio.services.works.packing import packed_works
from portfolio.sheets.writing import Table, table_to_xlsx


@dataclass(frozen=True, slots=True)
class MadePack:
    """A pack as a workbook, the day as of which it tells, and the tests that stand in it."""

    building_id: int
    as_of: date
    content: bytes
    test_ids: frozenset[int]


def find_building(session: Session, viewer: Viewer, ref: str, owner: str = "") -> int:
    """The id of a building by its reference. Raises NotFoundError."""
    query = (
        sa.select(models.Building.id)
        .join(models.Organisation)
        .where(
            models.Building.ref == ref,
            viewer.reads(models.Building.organisation_id, models.Building.id),
        )
    )
    if owner:
        query = query.where(models.Organisation.ref == owner)
    found = session.scalars(query).all()
    if not found:
        raise NotFoundError(f'There is no building "{ref}".')
    if len(found) > 1:
        raise NotFoundError(f'Several owners have a building "{ref}": name the owner.')
    return found[0]


def as_its_owner(session: Session, viewer: Viewer, building_id: int) -> Viewer:
    """Whoever runs the program, with the eyes of a building's owner; anybody else with their own.

    A pack is made to be handed over: what other organisations keep to themselves is not in it.
    """
    if viewer.organisation_id is not None:
        return viewer
    owner = session.get_one(models.Building, building_id).organisation_id
    return replace(viewer, organisation_id=owner, rights=frozenset({Right.READ}))


def building_pack(session: Session, viewer: Viewer, building_id: int, on: date) -> MadePack:
    """The pack as it is known today. Raises NotFoundError."""
    pack, tests = gather_pack(session, viewer, building_id, on)
    return MadePack(building_id, on, pack_xlsx(pack), tests)


def pack_xlsx(pack: Pack) -> bytes:
    """The pack as one workbook."""
    tables = [_table(section) for section in sections(pack)]
    return table_to_xlsx(tables, CAUTION, further=[log_sheet(log) for log in pack.logs])


def gather_pack(
    session: Session, viewer: Viewer, building_id: int, on: date
) -> tuple[Pack, frozenset[int]]:
    """Everything the pack holds, as it is known today, and the ids of its tests.

    Raises NotFoundError.
    """
    row = session.get(models.Building, building_id)
    if row is None or not viewer.may(Right.READ, row.organisation_id, row.id):
        raise NotFoundError("There is no such building.")
    explained = [explain(session, viewer, zone.id, on) for zone in row.zones]
    decisions = rulings_of_zones(session, [zone.id for zone in row.zones], on)
    rules = rules_for(session, row.organisation_id, on)
    building = mapping.building_of(row, row.organisation.ref)
    tests = tests_in_pack(explained)
    documents = pack_documents(session, viewer, building_id, tests, on)
    logs = tuple(
        packed_log(session, viewer, log, on) for log in logs_of_tests(session, viewer, tests, on)
    )
    close = {zone.zone_id: close_to(session, viewer, zone, on) for zone in explained}
    pack = pack_of(building, explained, decisions, rules, viewer.name, close=close)
    works = packed_works(session, viewer, building_id, row.organisation_id)
    return replace(pack, documents=documents, logs=logs, works=works), tests


def pack_of(
    building: Building,
    explained: Sequence[Explanation],
    decisions: Mapping[int, Sequence[Ruling]],
    rules: RuleSet,
    made_by: str,
    *,
    close: Mapping[int, Sequence[CloseTest]] | None = None,
) -> Pack:
    """A pack of zones that have been compared, with the engineers' decisions beside them, and the
    failing tests that are close to each."""
    tests: dict[str, tuple[TestRecord, tuple[Gate, ...]]] = {}
    for comparison in every_comparison(explained):
        tests[comparison.test.ref] = comparison.test, comparison.gates
    return Pack(
        building,
        tuple(
            _zone(
                zone, decisions.get(zone.zone_id, ()), (close or {}).get(zone.zone_id, ()), rules.on
            )
            for zone in explained
        ),
        tuple(tests[ref] for ref in sorted(tests)),
        rules,
        rules.on,
        made_by,
    )


def _zone(
    explained: Explanation,
    decisions: Sequence[Ruling],
    close: Sequence[CloseTest],
    on: date,
) -> PackZone:
    gathered = explained.gathered
    gap = Gap(gathered.building, gathered.zone, explained.coverage)
    lines = [
        Line(
            comparison.test.ref,
            comparison.verdict,
            compared.title,
            compared.zone_value,
            compared.test_value,
            compared.answer,
            compared.rule,
            compared.source,
            compared.provenance,
        )
        for comparison in comparisons_in_pack(explained)
        for compared in comparison.rows
    ]
    known = [
        Known(PARAMETERS[key].title, value_text(key, fact.value), provenance(fact))
        for key, fact in explained.wall.facts.items()
    ]
    route = told_route(gathered, on)
    return PackZone(
        gathered.zone,
        explained.coverage,
        tuple(known),
        tuple(lines),
        explained.surveys,
        tuple(reason.text for reason in reasons(gap, load_reference().order)),
        tuple(_decision(decision) for decision in decisions),
        route.work,
        route.sentence,
        tuple(
            CloseLine(c.test, c.title, c.apart, c.zone_value, c.test_value, c.provenance)
            for c in close
        ),
    )


def _decision(found: Ruling) -> tuple[Cell, ...]:
    row = found.row
    said = (
        f"{one.by}, {one.qualification}, {one.on.isoformat()}: {one.reason}"
        for one in found.confirmed
    )
    return (
        row.ruling,
        row.by,
        row.qualification or "not recorded",
        row.on.isoformat(),
        row.valid_from.isoformat() if row.valid_from else row.on.isoformat(),
        found.valid_until.isoformat() if found.valid_until else "",
        row.reasons,
        row.documents,
        row.coverage_then,
        found.ruled_on,
        found.state,
        "; ".join(found.because),
        "; ".join(said),
    )


def _table(section: Section) -> Table:
    return Table(section.title, section.headers, section.rows)
