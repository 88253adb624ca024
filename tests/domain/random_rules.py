"""Rules of every kind, drawn at random, and one pair judged by them without any table."""

from collections.abc import Mapping
from dataclasses import replace

from hypothesis import strategies as st

from portfolio.domain.columns import Answer
from portfolio.domain.parameters import PARAMETERS, Kind, Strength
from portfolio.domain.rules import (
    ENGINEERS,
    OF_NUMBERS,
    ApplicationRule,
    Condition,
    RuleKind,
    RuleSet,
    can_speak_of,
)
from portfolio.domain.surveys import Wall
from portfolio.domain.values import NOT_APPLICABLE, UNKNOWN, Named, OneOf, Range, Value
from portfolio.reference.loader import load_reference
from tests.domain.factories import ON, make_rule, shipped_rules

RULED = (
    "insulation.1.material",
    "insulation.1.thickness",
    "insulation.1.class",
    "barrier-horizontal.1.type",
    "wall.substrate",
    "cavity.1.depth",
    "facing.1.core_category",
    "facing.1.calorific_value",
    "facing.1.class",
    "facing.1.material",
)
CONDITIONED = ("insulation.1.material", "wall.substrate", "facing.1.material", "facing.1.class")
AMOUNTS = (None, 0.0, 1.0, 2.0, 10.0, 50.0)


def words_of(key: str) -> tuple[str, ...]:
    return load_reference().vocabulary[PARAMETERS[key].attribute.category].singles


def some_words(key: str, least: int = 1) -> st.SearchStrategy[frozenset[str]]:
    return st.sets(st.sampled_from(words_of(key)), min_size=least, max_size=6).map(frozenset)


@st.composite
def conditions(draw: st.DrawFn) -> Condition:
    key = draw(st.sampled_from(CONDITIONED))
    return Condition(key, draw(some_words(key)))


@st.composite
def own_rules(draw: st.DrawFn, *, number: int = 1) -> ApplicationRule:
    """A rule of any kind, as an organisation's engineer could write it."""
    parameter = draw(st.sampled_from(RULED))
    kind = draw(st.sampled_from([k for k in RuleKind if can_speak_of(k, parameter)]))
    amount = draw(st.sampled_from(AMOUNTS)) if kind in OF_NUMBERS else None
    if kind is RuleKind.WITHIN and amount is None:
        amount = 3.0
    families = draw(st.sampled_from([(), ("ventilated-rainscreen",), ("sandwich-panel",)]))
    places = draw(st.sampled_from([(), (), ("England",), ("Scotland",)]))
    equals = draw(some_words(parameter, 2)) if kind is RuleKind.EQUALS else frozenset()
    return replace(
        make_rule(parameter),
        id=f"own-{number}",
        kind=kind,
        amount=amount,
        equals=equals,
        families=frozenset(families),
        jurisdictions=frozenset(places),
        conditions=tuple(draw(st.lists(conditions(), max_size=2))),
        unit=PARAMETERS[parameter].attribute.unit if kind in OF_NUMBERS else "",
        status=ENGINEERS,
        author="A. Engineer",
        version=1,
    )


@st.composite
def rule_sets(draw: st.DrawFn, *, most: int = 4) -> RuleSet:
    """The shipped rules and some of an organisation's own."""
    count = draw(st.integers(min_value=1, max_value=most))
    own = [draw(own_rules(number=number)) for number in range(1, count + 1)]
    return RuleSet((*shipped_rules().rules, *own), ON)


# --- One pair, straight down ---------------------------------------------------------------------


def naive(wall: Wall, tested: Mapping[str, Value], key: str, rules: RuleSet, place: str) -> Answer:
    """What the rules say of one parameter of one wall, value by value and rule by rule."""
    zone, test = _shown(wall, key), tested.get(key, UNKNOWN)
    found = _bare(zone, test)
    if found not in (Answer.SAME,) and NOT_APPLICABLE not in (zone, test):
        reached = [
            (_everything(rule, key, zone, test), _something(rule, key, zone, test), rule)
            for rule in rules.rules
            if rule.speaks_of(key)
        ]
        if UNKNOWN in (zone, test):
            pass
        elif any(whole and _holds(rule, wall, tested, place) for whole, _, rule in reached):
            found = Answer.ALLOWED
        elif found is Answer.DIFFERS and any(
            part and _could_hold(rule, wall, tested, place) for _, part, rule in reached
        ):
            found = Answer.UNKNOWN
    is_weak = key in wall.facts and wall.facts[key].strength < PARAMETERS[key].attribute.least
    return Answer.UNKNOWN if is_weak and found <= Answer.ALLOWED else found


def _shown(wall: Wall, key: str) -> Value:
    fact = wall.facts.get(key)
    if fact is None or fact.strength is Strength.ASSUMED:
        return UNKNOWN
    return fact.value


def _bare(zone: Value, test: Value) -> Answer:
    if UNKNOWN in (zone, test):
        return Answer.UNKNOWN
    if NOT_APPLICABLE in (zone, test):
        return Answer.SAME if zone is test else Answer.DIFFERS
    if isinstance(zone, Named) and isinstance(test, Named):
        return Answer.SAME if zone.folded == test.folded else Answer.DIFFERS
    if isinstance(zone, OneOf) and isinstance(test, OneOf):
        same = {a == b for a in zone.keys for b in test.keys}
        known = same == {True} and "other" not in zone.keys
        return Answer.SAME if known else Answer.UNKNOWN if True in same else Answer.DIFFERS
    assert isinstance(zone, Range)
    assert isinstance(test, Range)
    if zone.low == zone.high == test.low == test.high:
        return Answer.SAME
    apart = zone.low > test.high or test.low > zone.high
    return Answer.DIFFERS if apart else Answer.UNKNOWN


def _pairs(zone: Value, test: Value) -> list[tuple[object, object]]:
    """Of words every two; of measures the ends, which are the farthest apart."""
    if isinstance(zone, OneOf) and isinstance(test, OneOf):
        return [(a, b) for a in zone.keys for b in test.keys]
    if isinstance(zone, Range) and isinstance(test, Range):
        return [(a, b) for a in (zone.low, zone.high) for b in (test.low, test.high)]
    return []


def _everything(rule: ApplicationRule, key: str, zone: Value, test: Value) -> bool:
    pairs = _pairs(zone, test)
    return bool(pairs) and all(_allows(rule, key, a, b) for a, b in pairs)


def _something(rule: ApplicationRule, key: str, zone: Value, test: Value) -> bool:
    if isinstance(zone, Range) and isinstance(test, Range):
        steps = [(zone.low - test.high), (zone.high - test.low)]
        above, below = _limits(rule)
        return steps[0] <= above + 1e-9 and -steps[1] <= below + 1e-9
    return any(_allows(rule, key, a, b) for a, b in _pairs(zone, test))


def _limits(rule: ApplicationRule) -> tuple[float, float]:
    limit = float("inf") if rule.amount is None else rule.amount
    above = 0.0 if rule.kind is RuleKind.NOT_MORE else limit
    return above, 0.0 if rule.kind is RuleKind.NOT_LESS else limit


def _allows(rule: ApplicationRule, key: str, mine: object, theirs: object) -> bool:
    if isinstance(mine, float) and isinstance(theirs, float):
        above, below = _limits(rule)
        return mine - theirs <= above + 1e-9 and theirs - mine <= below + 1e-9
    assert PARAMETERS[key].kind is Kind.CATEGORY
    if mine == theirs and mine != "other":
        return True
    if rule.kind is RuleKind.EQUALS:
        return mine != "other" != theirs and {mine, theirs} <= rule.equals
    if rule.kind is RuleKind.PRESENT:
        return "none" not in (mine, theirs)
    if PARAMETERS[key].attribute.category == "core-category":
        return str(mine) <= str(theirs)
    mine_parts = _parts(str(mine), smoke=3, droplets=2)
    their_parts = _parts(str(theirs), smoke=1, droplets=0)
    return all(a <= b for a, b in zip(mine_parts, their_parts, strict=True))


_MAIN = ("A1", "A2", "B", "C", "D", "E", "F")


def _parts(name: str, *, smoke: int, droplets: int) -> tuple[int, int, int]:
    """Main class, smoke and droplets; `smoke` and `droplets` where the class does not say."""
    main, _, rest = name.partition("-")
    if main == "A1":
        return 0, 1, 0
    found = {part[0]: int(part[1]) for part in rest.split(",") if part}
    if name == "E":  # it has passed the test of droplets
        found["d"] = 0
    return _MAIN.index(main), found.get("s", smoke), found.get("d", droplets)


def _holds(rule: ApplicationRule, wall: Wall, tested: Mapping[str, Value], place: str) -> bool:
    if rule.jurisdictions and place not in rule.jurisdictions:
        return False
    for condition in rule.all_conditions:
        key = condition.parameter
        mine, theirs = _shown(wall, key), tested.get(key, UNKNOWN)
        if not all(isinstance(v, OneOf) and v.keys <= condition.keys for v in (mine, theirs)):
            return False
        if wall.facts[key].strength < PARAMETERS[key].attribute.least:
            return False
    return True


def _could_hold(rule: ApplicationRule, wall: Wall, tested: Mapping[str, Value], place: str) -> bool:
    if rule.jurisdictions and place and place not in rule.jurisdictions:
        return False
    for condition in rule.all_conditions:
        for value in (_shown(wall, condition.parameter), tested.get(condition.parameter, UNKNOWN)):
            if isinstance(value, OneOf):
                if not value.keys & condition.keys:
                    return False
            elif value is not UNKNOWN:
                return False
    return True
