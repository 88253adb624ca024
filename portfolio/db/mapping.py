"""The only bridge between rows and domain records."""

from __future__ import annotations

import json
from collections.abc import Sequence
from typing import Any

import sqlalchemy as sa

from portfolio.db import models
from portfolio.domain import buildings, evidence, heights, surveys
from portfolio.domain.coverage import Coverage, ZoneCoverage
from portfolio.domain.evidence import Consent
from portfolio.domain.findings import Way
from portfolio.domain.measures import read_value, write_value
from portfolio.domain.parameters import ROLE_ATTRIBUTES, WALL_ATTRIBUTES, Role
from portfolio.domain.routes import Work
from portfolio.domain.settling import SettlingSet, ToFind
from portfolio.domain.values import UNKNOWN, Value
from portfolio.domain.vocabulary import Vocabulary
from portfolio.domain.walls import BuildUp, Layer

_WALL = {attribute.key: attribute for attribute in WALL_ATTRIBUTES}
_BY_ROLE = {
    role: {attribute.key: attribute for attribute in attributes}
    for role, attributes in ROLE_ATTRIBUTES.items()
}


# layers recur all over a portfolio: each is read once, and shared, since it never changes
_LAYERS: dict[tuple[tuple[str, str], ...], Layer] = {}
_MOST_LAYERS = 200_000


def build_up_to_json(build_up: BuildUp, vocabulary: Vocabulary) -> dict[str, Any]:
    """A wall as stored: each value as the text that reads as the same value."""
    found: dict[str, Any] = {"lists_all_layers": build_up.lists_all_layers}
    for key in ("system_family", "substrate"):
        if text := write_value(_WALL[key], getattr(build_up, key), vocabulary):
            found[key] = text
    found["layers"] = [_layer_to_json(layer, vocabulary) for layer in build_up.layers]
    return found


def _layer_to_json(layer: Layer, vocabulary: Vocabulary) -> dict[str, str]:
    found = {"role": layer.role.value}
    for key, value in layer.values.items():
        if text := write_value(_BY_ROLE[layer.role][key], value, vocabulary):
            found[key] = text
    if layer.note:
        found["note"] = layer.note
    return found


def build_up_from_json(stored: dict[str, Any], vocabulary: Vocabulary) -> BuildUp:
    """The wall that `build_up_to_json` stored."""
    return BuildUp(
        tuple(_layer_from_json(layer, vocabulary) for layer in stored.get("layers", [])),
        _wall_value("system_family", stored, vocabulary),
        _wall_value("substrate", stored, vocabulary),
        bool(stored.get("lists_all_layers", False)),
    )


def _wall_value(key: str, stored: dict[str, Any], vocabulary: Vocabulary) -> Value:
    return read_value(_WALL[key], stored[key], vocabulary) if key in stored else UNKNOWN


def _layer_from_json(stored: dict[str, str], vocabulary: Vocabulary) -> Layer:
    key = tuple(stored.items())
    if (known := _LAYERS.get(key)) is None:
        if len(_LAYERS) > _MOST_LAYERS:
            _LAYERS.clear()
        known = _LAYERS[key] = _read_layer(stored, vocabulary)
    return known


def _read_layer(stored: dict[str, str], vocabulary: Vocabulary) -> Layer:
    role = Role(stored["role"])
    attributes = _BY_ROLE[role]
    return Layer(
        role,
        {
            key: read_value(attributes[key], text, vocabulary)
            for key, text in stored.items()
            if key in attributes
        },
        stored.get("note", ""),
    )


def survey_of(row: models.Survey | sa.Row[Any], vocabulary: Vocabulary) -> surveys.Survey:
    """The survey of a row, or of a query's columns of the same names."""
    return surveys.Survey(
        row.ref, row.basis, row.on, row.source, build_up_from_json(row.build_up, vocabulary)
    )


def settlement_of(row: models.Settlement) -> surveys.Settlement:
    return surveys.Settlement(row.parameter, row.survey_ref, row.by, row.on, row.reason)


def height_claim_of(row: models.HeightClaim) -> heights.HeightClaim:
    return heights.HeightClaim(row.metres, row.method, row.tolerance_m, row.on, row.source)


def building_of(row: models.Building, owner: str) -> buildings.Building:
    return buildings.Building(
        row.ref,
        row.name,
        owner,
        row.jurisdiction,
        row.use,
        row.storeys,
        tuple(height_claim_of(claim) for claim in row.heights),
        row.homes,
        row.people,
        row.evacuation,
        row.sprinklers,
    )


def zone_of(row: models.Zone, building_ref: str) -> buildings.Zone:
    return buildings.Zone(
        row.ref,
        building_ref,
        row.description,
        row.face,
        row.from_storey,
        row.to_storey,
        row.area_m2,
        row.is_attachment,
        # what was stored before there were kinds of work says nothing of it
        Work(row.work) if row.work else None,
        row.work_counted_on,
    )


def tested_wall_of(
    row: models.TestRecord, vocabulary: Vocabulary, consent: Consent | None
) -> evidence.TestRecord:
    """The test as an organisation may lean on it; `consent` where it is not the holder."""
    paper = None
    if row.class_document:
        paper = evidence.Classification(
            row.class_document, row.class_edition, row.class_annex, row.class_report
        )
    return evidence.TestRecord(
        row.ref,
        row.title,
        row.standard,
        row.part,
        row.edition,
        row.tested_on,
        build_up_from_json(row.build_up, vocabulary),
        _criteria(row),
        row.printed_outcome,
        paper,
        row.standing,
        row.holding,
        row.consent if consent is None else consent,
        tuple(row.leans_on),
        row.source,
        # what was stored before there were kinds is a test
        row.kind or evidence.EvidenceKind.TEST,
        row.author or "",
        _ruling(row),
        row.organisation.name,
        row.sponsor,
        row.laboratory,
        row.report_ref or "",
        row.report_issue or "",
        row.report_on,
        row.run_seconds,
    )


def judged_wall_of(row: Any, ref: str, build_up: BuildUp) -> evidence.TestRecord:
    """A test as far as its wall and what became of it are asked for; `row` has no more of it."""
    return evidence.TestRecord(
        ref,
        "",
        row.standard,
        row.part,
        "",
        None,
        build_up,
        _criteria(row),
        row.printed_outcome,
        standing=row.standing,
        ruling=_ruling(row),
    )


def _criteria(row: Any) -> evidence.Criteria:
    return evidence.Criteria(
        row.external_spread,
        row.internal_spread,
        row.burn_through,
        row.no_flames_above_rig,
        row.no_early_end,
    )


def _ruling(row: Any) -> evidence.OutcomeRuling | None:
    told = row.ruled_outcome, row.ruled_on, row.ruled_printed, row.ruled_criteria
    outcome, on, printed, criteria = told
    if outcome is None or on is None or printed is None or criteria is None:
        return None
    return evidence.OutcomeRuling(outcome, row.ruled_by, on, printed, criteria)


def result_details(found: ZoneCoverage) -> dict[str, Any]:
    """What lists show of a coverage, as stored beside it; the zone's page compares afresh."""
    return {
        "tests": list(found.tests),
        "against": list(found.against),
        "doubts": list(found.doubts),
        "conflicts": list(found.conflicts),
        "differences": list(found.differences),
        "unknowns": list(found.unknowns),
        "nearest": [
            {
                "test": verdict.test,
                "verdict": verdict.verdict.name.lower(),
                "differs": len(verdict.differs),
                "unknown": len(verdict.unknown),
            }
            for verdict in found.nearest
        ],
    }


def sets_told(found: Sequence[SettlingSet]) -> str:
    """The sets of facts that could settle a zone, as they are stored: (test, outcome, facts)."""
    told = [[one.test, one.outcome.value, [fact_told(f) for f in one.facts]] for one in found]
    return _compact(told)


def sets_of(told: str) -> tuple[SettlingSet, ...]:
    """What `sets_told` was told of."""
    return tuple(
        SettlingSet(test, Coverage(outcome), tuple(map(fact_of, facts)))
        for test, outcome, facts in json.loads(told)
    )


def facts_told_in(sets: str) -> list[list[str]]:
    """The facts of stored sets, as `fact_told` names them: for those who read many."""
    return [facts for _, _, facts in json.loads(sets)]


def fact_told(fact: ToFind) -> str:
    """A fact to find as one word after another: its parameter, and the name of the way to it."""
    return f"{fact.parameter} {fact.way.name}"


def fact_of(told: str) -> ToFind:
    """What `fact_told` was told of."""
    parameter, _, way = told.partition(" ")
    return ToFind(parameter, Way[way])


def alone_in_sets(told: str) -> str:
    """What stands in stored sets where a fact is a set by itself."""
    return _compact([told])


def _compact(found: object) -> str:
    return json.dumps(found, separators=(",", ":"))
