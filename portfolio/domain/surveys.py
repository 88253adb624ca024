"""Surveys, and the resolved build-up: each parameter from the strongest source that speaks of it.

Surveys are kept for ever; resolving reads them all. Two claims of equal strength that cannot
both be true are a conflict: the later one is shown, either is held possible, and cover is blocked
until a named person settles it.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from datetime import date
from enum import StrEnum
from functools import cache, reduce
from typing import NamedTuple

from portfolio.domain.parameters import ASKED_AFTER, PARAMETERS, PLACE_OF, Strength
from portfolio.domain.values import NOT_APPLICABLE, UNKNOWN, Value, agree, narrowed, union
from portfolio.domain.walls import BuildUp, parameters_of


class Basis(StrEnum):
    """What a survey rests on."""

    OPENING_UP = "opening-up"
    LABORATORY = "laboratory"
    CERTIFICATE = "certificate"
    DRAWING = "drawing"
    OUTSIDE = "outside"
    ASSUMPTION = "assumption"

    @property
    def strength(self) -> Strength:
        return _STRENGTHS[self]

    @property
    def label(self) -> str:
        return _LABELS[self]


_STRENGTHS = {
    Basis.OPENING_UP: Strength.OPENED_UP,
    Basis.LABORATORY: Strength.OPENED_UP,
    # a certificate says what a maker supplied, not what was built: paper, like a drawing (ours)
    Basis.CERTIFICATE: Strength.ON_PAPER,
    Basis.DRAWING: Strength.ON_PAPER,
    Basis.OUTSIDE: Strength.SEEN_FROM_OUTSIDE,
    Basis.ASSUMPTION: Strength.ASSUMED,
}
_LABELS = {
    Basis.OPENING_UP: "opening-up",
    Basis.LABORATORY: "laboratory identification",
    Basis.CERTIFICATE: "maker's certificate",
    Basis.DRAWING: "drawing",
    Basis.OUTSIDE: "look from outside",
    Basis.ASSUMPTION: "assumption",
}


@dataclass(frozen=True, slots=True)
class Survey:
    """What one source said of a zone on one date."""

    ref: str
    basis: Basis
    on: date
    source: str
    build_up: BuildUp


@dataclass(frozen=True, slots=True)
class Settlement:
    """A named person's ruling on which survey to believe about one parameter."""

    parameter: str
    survey_ref: str
    by: str
    on: date
    reason: str


class Claim(NamedTuple):
    """One survey's word on one parameter."""

    parameter: str
    value: Value
    survey: Survey


class Fact(NamedTuple):
    """What is held to be so: the value, the claim it is taken from, and the claims beside it.

    `in_conflict` block cover. `said_since` are weaker and later, and say otherwise: they change
    nothing, but whoever reads the fact should know of them.
    """

    parameter: str
    value: Value
    claim: Claim
    others: tuple[Claim, ...] = ()
    in_conflict: tuple[Claim, ...] = ()
    said_since: tuple[Claim, ...] = ()
    settlement: Settlement | None = None

    @property
    def strength(self) -> Strength:
        return self.claim.survey.basis.strength


@dataclass(frozen=True, slots=True)
class Wall:
    """The resolved build-up of a zone: facts by parameter. What has no fact is unknown."""

    facts: Mapping[str, Fact] = field(default_factory=dict)

    def as_resolved(self, parameter: str) -> Value:
        """The value from the strongest source, however weak that is."""
        fact = self.facts.get(parameter)
        return UNKNOWN if fact is None else fact.value

    def as_relied_on(self, parameter: str) -> Value:
        """The value where its source is good enough to lean on, else unknown.

        A drawing is no sighting: cover needs the decisive layers opened up (ours).
        """
        fact = self.facts.get(parameter)
        if fact is None or fact.strength < PARAMETERS[parameter].attribute.least:
            return UNKNOWN
        return fact.value

    @property
    def conflicts(self) -> tuple[str, ...]:
        """The parameters on which surveys of equal strength disagree."""
        return tuple(key for key, fact in self.facts.items() if fact.in_conflict)


def resolve(
    surveys: Sequence[Survey],
    settlements: Sequence[Settlement] = (),
    tolerances: Mapping[str, float] | None = None,
) -> Wall:
    """The resolved build-up of one zone.

    `tolerances` gives, by parameter, how far two measurements of one thing may lie apart (in
    the parameter's unit) before they disagree. The order of `surveys` does not matter.
    """
    if len(surveys) == 1 and not settlements:
        return _from_one(surveys[0])
    strongest_first = sorted(surveys, key=_strength, reverse=True)
    told = [(survey, parameters_of(survey.build_up)) for survey in strongest_first]
    ruled = {s.parameter: s for s in sorted(settlements, key=lambda s: (s.on, s.survey_ref))}
    facts: dict[str, Fact] = {}
    for key in sorted({key for _, values in told for key in values}, key=PLACE_OF.__getitem__):
        claims = [
            Claim(key, values[key], survey)
            for survey, values in told
            if key in values and not _is_overruled(key, values, facts)
        ]
        if claims:
            facts[key] = _fact(claims, ruled.get(key), (tolerances or {}).get(key, 0.0))
    return Wall(facts)


def _is_overruled(key: str, values: Mapping[str, Value], facts: Mapping[str, Fact]) -> bool:
    """A "not applicable" falls with what it followed from: a board that a drawing leaves out has
    some thickness once it is found."""
    if values[key] is not NOT_APPLICABLE:
        return False
    return any(
        before in values and before in facts and not agree(values[before], facts[before].value)
        for before in _followed_from(key)
    )


@cache
def _followed_from(key: str) -> tuple[str, ...]:
    """The parameters, asked before `key`, by which it may mean nothing."""
    found = (ASKED_AFTER[key],) if key in ASKED_AFTER else ()
    return (*found, "facing.1.joint") if key == "facing.1.joint_width" else found


def _from_one(survey: Survey) -> Wall:
    """Most zones have a single survey; then every claim of it is the fact."""
    told = parameters_of(survey.build_up)
    return Wall({key: Fact(key, value, Claim(key, value, survey)) for key, value in told.items()})


def _fact(ordered: list[Claim], ruling: Settlement | None, tolerance: float) -> Fact:
    """What the claims, strongest first, come to."""
    best = ordered[0]
    if len(ordered) == 1:
        return Fact(best.parameter, best.value, best)
    if ruling is not None and (settled := _settled(ordered, ruling)) is not None:
        return settled
    if all(claim.value == best.value for claim in ordered):
        return Fact(best.parameter, best.value, best, tuple(ordered[1:]))
    equals = [c for c in ordered[1:] if c.survey.basis.strength == best.survey.basis.strength]
    common, agreeing, against = best.value, [best.value], []
    for claim in equals:
        if agree(common, claim.value, tolerance):
            common = narrowed(common, claim.value)
            agreeing.append(claim.value)
        else:
            against.append(claim)
    value = _found(common, agreeing)
    against += [c for c in _seen_since(ordered) if not agree(value, c.value, tolerance)]
    for claim in against:
        value = union(value, claim.value)
    since = tuple(_said_since(ordered, value, against, tolerance))
    return Fact(best.parameter, value, best, tuple(ordered[1:]), tuple(against), since)


def _found(common: Value, told: Sequence[Value]) -> Value:
    """What surveys of equal strength have found together.

    What is common to them all, where one of them says just that and none of them is out of it. Else
    everything that they leave open: two looks are seldom at the same spot, and nobody has found
    what only both together would make certain.
    """
    known = [value for value in told if value is not UNKNOWN]
    if common in known and all(agree(common, value) for value in known):
        return common
    return reduce(union, known) if known else UNKNOWN


def _seen_since(ordered: Sequence[Claim]) -> list[Claim]:
    """What was seen from outside since the wall was last opened: by then it may be another. On
    one and the same day nobody can tell which came first."""
    best = ordered[0].survey
    if best.basis.strength is not Strength.OPENED_UP:
        return []
    since = (c for c in ordered[1:] if c.survey.on >= best.on)
    return [c for c in since if c.survey.basis is Basis.OUTSIDE]


def _said_since(
    ordered: Sequence[Claim], value: Value, against: Sequence[Claim], tolerance: float
) -> Iterator[Claim]:
    """Later papers that cannot be true beside what was found: a wall may have been built anew."""
    best = ordered[0].survey
    for claim in ordered[1:]:
        if claim.survey.on <= best.on or claim.survey.basis.strength is Strength.ASSUMED:
            continue
        if claim not in against and not agree(value, claim.value, tolerance):
            yield claim


def _strength(survey: Survey) -> tuple[int, date, str]:
    """The stronger basis counts, then the later look, then the name, so that no order matters."""
    return survey.basis.strength, survey.on, survey.ref


def _settled(ordered: list[Claim], ruling: Settlement) -> Fact | None:
    """The fact as ruled, unless a survey made after the ruling re-opens the question."""
    chosen = next((c for c in ordered if c.survey.ref == ruling.survey_ref), None)
    if chosen is None or any(c.survey.on > ruling.on for c in ordered):
        return None
    others = tuple(c for c in ordered if c is not chosen)
    return Fact(chosen.parameter, chosen.value, chosen, others, settlement=ruling)
