"""The order of gaps: a visible list of steps, each with its ranks and its source.

No weights. A later step only decides between gaps that every earlier step leaves level; the last
word is the building's reference, its owner's and the zone's, so that the order is total and
repeatable. What is unknown ranks with the worst, and the reason says so.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from itertools import chain

from portfolio.domain import criteria, order_facts
from portfolio.domain.buildings import Building, Zone
from portfolio.domain.coverage import Coverage, ZoneCoverage
from portfolio.domain.criteria import COVERAGE, HEIGHT_BAND, MOST, TABLE, Seen, TableRow
from portfolio.domain.heights import HeightBand, band_of, exact
from portfolio.domain.order_facts import Fact

AT_WORST = " at worst, since nobody recorded "
"""Stands in the reason of a step where a published table cannot be read to its end."""
_SEPARATOR = "\x1f"  # sorts before every character of a reference

CRITERIA: tuple[str, ...] = tuple(name for name in criteria.CRITERIA if name != TABLE)
"""The criteria that a step of one's own may name."""


@dataclass(frozen=True, slots=True)
class Step:
    """One step: a criterion, and its values worst first. Empty values: more is worse.

    `groups` says of each value in which band it counts, from 0; empty: each in its own. `limits`
    are the least numbers of bands of a number, greatest first. `rows` are a published table's,
    worst first; its last value is for what the table says nothing of.
    """

    criterion: str
    title: str
    values: tuple[str, ...]
    labels: Mapping[str, str]
    source: str
    status: str
    groups: tuple[int, ...] = ()
    limits: tuple[int, ...] = ()
    rows: tuple[TableRow, ...] = ()

    @property
    def facts(self) -> tuple[Fact, ...]:
        """The facts of a building that the step asks about, each once."""
        of_rows = chain.from_iterable(row.facts for row in self.rows)
        return tuple(dict.fromkeys((*criteria.CRITERIA[self.criterion].facts, *of_rows)))

    @property
    def is_ours(self) -> bool:
        return self.status == "house"

    @property
    def direction(self) -> str:
        """What comes first, in words."""
        if self.limits:
            bands = [f"{limit} or more" for limit in self.limits]
            return ", then ".join((*bands, "fewer"))
        if not self.values:
            return "more before fewer"
        groups = self.groups or tuple(range(len(self.values)))
        told: dict[int, list[str]] = {}
        for group, value in zip(groups, self.values, strict=True):
            told.setdefault(group, []).append(self.labels.get(value, value))
        return ", then ".join(" or ".join(labels) for labels in told.values())

    def code(self, value: str) -> int:
        """How bad the step finds a value: 0 is the worst, and what is unknown counts as that."""
        if self.values:
            place = self.values.index(value) if value in self.values else 0
            return self.groups[place] if self.groups else place
        if value == "":
            return 0
        number = int(value)
        if self.limits:
            return sum(number < limit for limit in self.limits)
        return MOST - min(number, MOST - 1)


@dataclass(frozen=True, slots=True)
class GapOrder:
    """An order: its steps, and the vocabularies that its criteria read."""

    key: str
    title: str
    version: str
    steps: tuple[Step, ...]
    bands: tuple[HeightBand, ...]
    sleeping_by_use: Mapping[str, str]
    note: str = ""

    @property
    def facts(self) -> tuple[Fact, ...]:
        """The facts that its steps ask about, in their order."""
        return tuple(dict.fromkeys(chain.from_iterable(step.facts for step in self.steps)))


@dataclass(frozen=True, slots=True)
class Gap:
    """A zone that is not covered, with what its order needs."""

    building: Building
    zone: Zone
    coverage: ZoneCoverage


@dataclass(frozen=True, slots=True)
class Reason:
    """How one step placed a gap."""

    title: str
    text: str
    was_unknown: bool


@dataclass(frozen=True, slots=True)
class RankedGap:
    """A gap with its place (from 1) and how it came by it, step by step."""

    rank: int
    gap: Gap
    reasons: tuple[Reason, ...]


def ranked(gaps: Sequence[Gap], order: GapOrder) -> list[RankedGap]:
    """The gaps in order, each with its reasons."""
    in_order = sorted(gaps, key=lambda gap: position(gap, order))
    return [RankedGap(i, gap, reasons(gap, order)) for i, gap in enumerate(in_order, start=1)]


def position(gap: Gap, order: GapOrder) -> str:
    """A text that sorts, byte by byte, as the order does; the store pages gaps by it."""
    return position_after(steps_of(gap, order), gap)


def steps_of(gap: Gap, order: GapOrder) -> str:
    """The part of a position that the steps decide: alike for one coverage in one building."""
    word = coverage_word(gap.coverage.coverage, by_inference=gap.coverage.by_inference)
    codes = codes_of(gap.building, word, order)
    return ".".join(
        f"{code:02d}" if step.values or step.limits else f"{code:09d}"
        for step, code in zip(order.steps, codes, strict=True)
    )


def position_after(steps: str, gap: Gap) -> str:
    """The whole position, given what the steps decide of it. The owner stands in it so that zones
    of two buildings of one reference are not mixed."""
    return _SEPARATOR.join((steps, gap.building.ref, gap.building.owner, gap.zone.ref))


def tie_of(position: str) -> str:
    """The part of a position that decides where every step leaves two gaps level."""
    return position.partition(_SEPARATOR)[2]


def coverage_word(coverage: Coverage, *, by_inference: bool) -> str:
    """A coverage as a step on coverage names it."""
    return coverage.value + ("-by-inference" if by_inference else "")


def codes_of(building: Building, coverage: str, order: GapOrder) -> tuple[int, ...]:
    """For each step how bad it finds the gap: lower comes first, and unknown counts as worst."""
    return tuple(step.code(_read(step, building, coverage, order)) for step in order.steps)


def is_of_zone(order: GapOrder) -> tuple[bool, ...]:
    """For each step whether it looks at the zone itself rather than at its building."""
    return tuple(step.criterion == COVERAGE for step in order.steps)


def milder(building: Building, order: GapOrder, facts: Sequence[Fact] | None = None) -> Building:
    """The building with some unknown facts, or all that the order asks about, at their mildest."""
    chosen = order.facts if facts is None else facts
    return order_facts.milder(building, chosen, order.sleeping_by_use)


def unknown_facts(building: Building, order: GapOrder) -> tuple[Fact, ...]:
    """The unknown facts that could move the building's gaps: found the mildest while the others
    count as the worst, or found the worst while the others are the mildest."""
    worst, mildest = _blind(building, order), _blind(milder(building, order), order)
    if worst == mildest:
        return ()
    found = []
    for fact in order.facts:
        others = [other for other in order.facts if other is not fact]
        alone = _blind(milder(building, order, [fact]), order)
        if alone != worst or _blind(milder(building, order, others), order) != mildest:
            found.append(fact)
    return tuple(found)


def _blind(building: Building, order: GapOrder) -> tuple[int, ...]:
    """The codes of the building whatever the coverage."""
    return codes_of(building, "", order)


def _read(step: Step, building: Building, coverage: str, order: GapOrder) -> str:
    if step.criterion == COVERAGE:
        return coverage
    seen = Seen(order.bands, order.sleeping_by_use, step.rows, step.values)
    return criteria.CRITERIA[step.criterion].read(building, seen)


def reasons(gap: Gap, order: GapOrder) -> tuple[Reason, ...]:
    """How each step of the order placed the gap."""
    word = coverage_word(gap.coverage.coverage, by_inference=gap.coverage.by_inference)
    return reasons_for(gap.building, word, order)


def reasons_for(building: Building, coverage: str, order: GapOrder) -> tuple[Reason, ...]:
    """How each step of the order placed a gap of a building, its coverage as steps name it."""
    return tuple(_reason(step, building, coverage, order) for step in order.steps)


def _reason(step: Step, building: Building, coverage: str, order: GapOrder) -> Reason:
    value = _read(step, building, coverage, order)
    if step.criterion == TABLE:
        return _table_reason(step, value, building, order)
    if value == "" or (step.values and value not in step.values):
        return Reason(step.title, f"{step.title}: unknown, so placed with the worst", True)
    doubt = _height_doubt(building, order) if step.criterion == HEIGHT_BAND else ""
    return Reason(step.title, f"{step.title}: {step.labels.get(value, value)}{doubt}", False)


def _table_reason(step: Step, value: str, building: Building, order: GapOrder) -> Reason:
    """Of a published table also what would have to be known to read it."""
    one_step = GapOrder("", "", "", (step,), order.bands, order.sleeping_by_use)
    missing = unknown_facts(building, one_step)
    label = f"{step.title}: {step.labels[value]}"
    if not missing:
        return Reason(step.title, label, False)
    facts = " and ".join(fact.words for fact in missing)
    return Reason(step.title, f"{label}{AT_WORST}{facts}", True)


def _height_doubt(building: Building, order: GapOrder) -> str:
    """What to say where the claims and their tolerances leave more than one band."""
    claims = building.height_claims
    lowest = band_of([exact(min(claim.low for claim in claims))], order.bands)
    if lowest == band_of(claims, order.bands):
        return ""
    told = " and ".join(sorted({f"{claim.metres:g} m" for claim in claims}))
    return f" ({told} claimed: either side of a limit, counted with the taller)"
