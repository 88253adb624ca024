"""What a decision on a zone rests on: coverage, tests, the wall's facts, rule set and building.

Kept with the decision as texts, and compared with the same texts later. Only answers are kept of a
test, never its tested values: whoever reads the zone may read all of it.
"""

from __future__ import annotations

from collections.abc import Collection, Iterator, Mapping, Sequence

from portfolio.domain.buildings import Building
from portfolio.domain.coverage import Library, TestVerdict, ZoneCoverage
from portfolio.domain.evidence import Answer3, TestRecord, outcome_of
from portfolio.domain.heights import HeightClaim
from portfolio.domain.measures import write_value
from portfolio.domain.parameters import PARAMETERS
from portfolio.domain.rested_on import FACT, RECORD, SURVEY, TEST
from portfolio.domain.surveys import Fact, Wall
from portfolio.domain.vocabulary import Vocabulary
from portfolio.reference.loader import load_reference
from portfolio.services.gathering import GatheredZone

Saves = Mapping[str, int]
"""How often the record of each test was saved, by its reference for the zone's owner."""


def rested_on(
    zone: GatheredZone,
    coverage: ZoneCoverage,
    library: Library,
    saves: Saves,
    also: Collection[str] = (),
) -> dict[str, str]:
    """What a ruling on the zone rests on now; `also` are tests to tell of besides those named."""
    found = {
        "coverage": _coverage(coverage),
        "rule set": library.rules.version,
        **{SURVEY + one.ref: f"{one.basis.value}, {one.on.isoformat()}" for one in zone.surveys},
        **_building(zone.building),
        **_zone(zone),
        **_facts(zone.wall, load_reference().vocabulary),
    }
    records = {test.ref: test for test in library.tests}
    verdicts = {verdict.test: verdict for verdict in coverage.nearest}
    for ref in sorted({*verdicts, *coverage.against, *coverage.doubts, *also} & records.keys()):
        words = _test(records[ref], verdicts.get(ref), coverage, _shut(library, zone, ref))
        found[TEST + ref] = "; ".join(words)
        found[RECORD + ref] = f"version {saves.get(ref, 1)}"
    return {key: value for key, value in found.items() if value}


def _coverage(found: ZoneCoverage) -> str:
    words = found.coverage.value.replace("-", " ")
    inferred = " by inference" if found.by_inference else ""
    return words + inferred + (", covered by a passing test too" if found.covered_too else "")


def _building(building: Building) -> dict[str, str]:
    return {
        "jurisdiction": building.jurisdiction,
        "use of the building": building.use,
        "height of the top storey": "; ".join(map(_height, building.heights)),
        "storeys": _number(building.storeys),
        "evacuation": building.evacuation,
        "sprinklers": building.sprinklers,
    }


def _height(claim: HeightClaim) -> str:
    return f"{claim.metres:g} m ± {claim.effective_tolerance_m:g} m {claim.method}".strip()


def _number(value: int | None) -> str:
    return "" if value is None else str(value)


def _zone(zone: GatheredZone) -> dict[str, str]:
    known = zone.zone
    storeys = [_number(known.from_storey), _number(known.to_storey)]
    return {
        "kind of zone": "attachment" if known.is_attachment else "part of the wall",
        "storeys of the zone": " to ".join(filter(None, storeys)),
        "kind of work": known.work.value if known.work else "",
        "day on which the work counted": (
            known.work_counted_on.isoformat() if known.work_counted_on else ""
        ),
    }


def _facts(wall: Wall, vocabulary: Vocabulary) -> dict[str, str]:
    """What the wall is held to be, with the basis of each: who says so is told by the surveys."""
    return {FACT + key: _fact(key, fact, vocabulary) for key, fact in wall.facts.items()}


def _fact(key: str, fact: Fact, vocabulary: Vocabulary) -> str:
    attribute = PARAMETERS[key].attribute
    value = write_value(attribute, fact.value, vocabulary)
    if not value:
        # nothing is known of it, or there is no such layer: its material says which
        return ""
    told = [f"{value} {attribute.unit}".strip(), fact.claim.survey.basis.value]
    if fact.in_conflict:
        told.append(f"in conflict with {', '.join(c.survey.ref for c in fact.in_conflict)}")
    if fact.said_since:
        told.append(f"said otherwise since by {', '.join(c.survey.ref for c in fact.said_since)}")
    if fact.settlement is not None:
        told.append(f"settled by {fact.settlement.by}, {fact.settlement.on.isoformat()}")
    return "; ".join(told)


def _shut(library: Library, zone: GatheredZone, ref: str) -> list[str]:
    gates = library.gates[zone.setting][ref]
    return [
        f"gate {gate.answer.value.replace('-', ' ')}: {gate.name}"
        for gate in gates
        if gate.answer is not Answer3.MET
    ]


def _test(
    test: TestRecord, verdict: TestVerdict | None, coverage: ZoneCoverage, shut: Sequence[str]
) -> Iterator[str]:
    yield outcome_of(test).value.replace("-", " ")
    yield test.standing.value
    if test.ref in coverage.against:
        yield "speaks against this wall"
    if test.ref in coverage.doubts:
        yield "leaves this wall in doubt"
    if verdict is not None:
        yield verdict.verdict.name.lower()
        yield from _listed("differs in", verdict.differs)
        yield from _listed("unknown", verdict.unknown)
        yield from (f"{PARAMETERS[key].title} by rule {rule}" for key, rule in verdict.allowed)
    yield from shut


def _listed(words: str, keys: Sequence[str]) -> Iterator[str]:
    if keys:
        yield f"{words} {', '.join(PARAMETERS[key].title for key in keys)}"
