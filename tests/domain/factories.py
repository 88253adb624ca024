"""Walls, surveys, tests and libraries with defaults, and strategies that vary them.

A wall is described by a dictionary of parameters and texts ("insulation.1.thickness": "100"), read
as a spreadsheet cell would be. COMPLETE says something about every parameter there is.
"""

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import date
from functools import cache

from hypothesis import strategies as st

from portfolio.domain.assessing import assess
from portfolio.domain.coverage import Library, ZoneCase, ZoneCoverage
from portfolio.domain.evidence import (
    Answer3,
    Classification,
    Consent,
    Criteria,
    Holding,
    Outcome,
    Standing,
    TestRecord,
)
from portfolio.domain.gates import Setting, gates
from portfolio.domain.matching import compile_tests
from portfolio.domain.measures import read_value
from portfolio.domain.parameters import PARAMETERS, Attribute, Kind, Role
from portfolio.domain.reaction import CLASSES
from portfolio.domain.rules import ApplicationRule, RuleSet, rules_in_force
from portfolio.domain.shelf import shelf_of
from portfolio.domain.surveys import Basis, Settlement, Survey, Wall, resolve
from portfolio.domain.values import UNKNOWN, Named, Range, Value, one_of
from portfolio.domain.walls import BuildUp, Layer
from portfolio.reference.loader import load_reference

ON = date(2026, 3, 1)
ENGLAND = Setting("England")
SURVEYED = date(2026, 1, 15)
TESTED = date(2019, 5, 20)

MET = Answer3.MET
ALL_MET = Criteria(MET, MET, MET, MET, MET)
FLAMES_ABOVE_RIG = replace(ALL_MET, no_flames_above_rig=Answer3.NOT_MET)
BR_135 = Classification("BR 135", "third edition (2013)", "B", "C-1")

Description = Mapping[str, str]

COMPLETE: Description = {
    "wall.system_family": "ventilated-rainscreen",
    "wall.substrate": "steel-frame",
    "lining.1.material": "gypsum-plasterboard",
    "lining.1.class": "A2-s1,d0",
    "lining.1.thickness": "12.5",
    "lining.1.product": "board A",
    "frame.1.material": "light-steel",
    "frame.1.thickness": "100",
    "frame.1.product": "studs A",
    "sheathing.1.material": "cement-particle-board",
    "sheathing.1.class": "A2-s1,d0",
    "sheathing.1.thickness": "12",
    "sheathing.1.product": "board B",
    "membrane.1.material": "breather-polymer",
    "membrane.1.class": "E",
    "membrane.1.product": "membrane A",
    "insulation.1.material": "stone-wool",
    "insulation.1.class": "A1",
    "insulation.1.thickness": "100",
    "insulation.1.product": "insulation A",
    "cavity.1.ventilation": "ventilated",
    "cavity.1.depth": "50",
    "barrier-horizontal.1.type": "open-state-intumescent",
    "barrier-horizontal.1.spacing": "3000",
    "barrier-horizontal.1.product": "barrier A",
    "barrier-vertical.1.type": "full-fill-mineral",
    "barrier-vertical.1.spacing": "6000",
    "barrier-vertical.1.product": "barrier B",
    "support.1.material": "aluminium-rails",
    "support.1.product": "rails A",
    "facing.1.material": "metal-composite-panel",
    "facing.1.core_category": "2",
    "facing.1.calorific_value": "13.6",
    "facing.1.class": "B-s1,d0",
    "facing.1.thickness": "4",
    "facing.1.joint": "open",
    "facing.1.joint_width": "15",
    "facing.1.product": "panel A",
    "finish.1.material": "polyester-coating",
    "finish.1.product": "coating A",
}
"""A wall of which nothing is unknown. The products are invented."""

PIR: Description = {"insulation.1.material": "pir-foam"}
STONE_WOOL: Description = {"insulation.1.material": "stone-wool"}
_CORES = {"1": "2", "2": "13.6", "3": "44"}


def core(category: str) -> Description:
    """A composite panel of a core category, with a calorific value that goes with it."""
    return {
        "facing.1.material": "metal-composite-panel",
        "facing.1.core_category": category,
        "facing.1.calorific_value": _CORES[category],
    }


def solid(material: str = "solid-aluminium", fire_class: str = "A1") -> Description:
    """A facing without a core."""
    return {
        "facing.1.material": material,
        "facing.1.class": fire_class,
        "facing.1.core_category": "",
        "facing.1.calorific_value": "",
    }


def complete(*changes: Description, without: Iterable[str] = ()) -> dict[str, str]:
    """The complete wall with changes; an empty text, or a key in `without`, leaves it unsaid."""
    found = dict(COMPLETE)
    for change in changes:
        found |= change
    gone = set(without)
    return {key: text for key, text in found.items() if text and key not in gone}


@cache
def value_of(key: str, text: str) -> Value:
    """What a cell of this parameter says."""
    return read_value(PARAMETERS[key].attribute, text, load_reference().vocabulary)


def make_build_up(
    description: Description, *, lists_all_layers: bool = True, reverse: bool = False
) -> BuildUp:
    """The build-up a description means. `reverse` fills every layer's values backwards."""
    values: dict[tuple[Role, int], dict[str, Value]] = {}
    whole: dict[str, Value] = {}
    for key in sorted(description, reverse=reverse):
        parameter, value = PARAMETERS[key], value_of(key, description[key])
        if parameter.role is None:
            whole[parameter.attribute.key] = value
        else:
            place = parameter.role, parameter.slot
            values.setdefault(place, {})[parameter.attribute.key] = value
    for role, slot in list(values):
        for inner in range(1, slot):  # a second layer has one before it, of whatever kind
            values.setdefault((role, inner), {})
    order = list(Role)
    places = sorted(values, key=lambda place: (order.index(place[0]), place[1]))
    layers = tuple(Layer(role, values[role, slot]) for role, slot in places)
    return BuildUp(
        layers,
        whole.get("system_family", UNKNOWN),
        whole.get("substrate", UNKNOWN),
        lists_all_layers,
    )


def make_survey(
    description: Description | None = None,
    *,
    basis: Basis = Basis.OPENING_UP,
    on: date = SURVEYED,
    ref: str = "S1",
    lists_all_layers: bool = True,
) -> Survey:
    """A survey of a wall; of the complete one by default."""
    told = complete() if description is None else description
    build_up = make_build_up(told, lists_all_layers=lists_all_layers)
    return Survey(ref, basis, on, "report of the survey", build_up)


def make_partial(
    description: Description,
    *,
    basis: Basis = Basis.OPENING_UP,
    on: date = SURVEYED,
    ref: str = "S1",
) -> Survey:
    """A survey that says nothing about what it does not list."""
    return make_survey(description, basis=basis, on=on, ref=ref, lists_all_layers=False)


def make_wall(
    *changes: Description, without: Iterable[str] = (), basis: Basis = Basis.OPENING_UP
) -> Wall:
    """The resolved complete wall, opened up, with changes."""
    return resolve([make_survey(complete(*changes, without=without), basis=basis)])


def wall_of(*surveys: Survey, settlements: Sequence[Settlement] = ()) -> Wall:
    """The resolved wall of several surveys, with the tolerances of the shipped rules."""
    return resolve(surveys, settlements, shipped_rules().tolerances())


def make_test(
    *changes: Description,
    ref: str = "T1",
    without: Iterable[str] = (),
    fails: bool = False,
    **more: object,
) -> TestRecord:
    """A test of the complete wall with changes: passed, classified, held, with consent."""
    record = TestRecord(
        ref,
        f"test {ref}",
        "BS 8414",
        "2",
        "2015+A1:2017",
        TESTED,
        make_build_up(complete(*changes, without=without)),
        criteria=FLAMES_ABOVE_RIG if fails else ALL_MET,
        printed_outcome=Outcome.FAILED if fails else Outcome.PASSED,
        classification=BR_135,
        standing=Standing.LIVE,
        holding=Holding.IN_FULL,
        consent=Consent.OWN,
        source="invented for a test",
    )
    return replace(record, **more)  # type: ignore[arg-type]


def with_build_up(test: TestRecord, description: Description) -> TestRecord:
    """The same test of another wall."""
    return replace(test, build_up=make_build_up(description))


@cache
def shipped_rules() -> RuleSet:
    return rules_in_force(load_reference().rules, ON)


def make_rule(
    parameter: str = "insulation.1.thickness", amount: float = 20.0, **more: object
) -> ApplicationRule:
    """A rule an organisation's fire engineer might add; the amount is invented."""
    rule = ApplicationRule(
        "organisation-rule",
        "invented for a test",
        (parameter,),
        amount,
        PARAMETERS[parameter].attribute.unit,
        "invented for a test",
        "house",
        date(2026, 1, 1),
    )
    return replace(rule, **more)  # type: ignore[arg-type]


def make_library(
    *tests: TestRecord, rules: RuleSet | None = None, settings: Iterable[Setting] = (ENGLAND,)
) -> Library:
    """The library of tests with the gates that follow from the shipped reference data."""
    reference = load_reference()
    shelf = shelf_of(tests)
    by_setting = {
        setting: {test.ref: gates(test, reference.gate_facts, setting, shelf, ON) for test in tests}
        for setting in settings
    }
    return Library(compile_tests(tests), by_setting, rules or shipped_rules(), reference.judge)


def judge(wall: Wall, *tests: TestRecord, rules: RuleSet | None = None) -> ZoneCoverage:
    """The coverage of one wall in England."""
    [found] = assess([ZoneCase(wall, ENGLAND)], make_library(*tests, rules=rules))
    return found


def judge_all(
    walls: Sequence[Wall], *tests: TestRecord, rules: RuleSet | None = None
) -> list[ZoneCoverage]:
    """The coverage of several walls in England, each named by its place."""
    cases = [ZoneCase(wall, ENGLAND) for wall in walls]
    return assess(cases, make_library(*tests, rules=rules))


# --- Strategies ----------------------------------------------------------------------------------

SMALL: dict[str, tuple[str, ...]] = {
    "insulation.1.material": ("stone-wool", "glass-wool", "pir-foam", "foam", "mineral-wool"),
    "insulation.1.thickness": ("100", "101", "150", "90-110"),
    "barrier-horizontal.1.type": ("open-state-intumescent", "full-fill-mineral", "none", "fitted"),
    "wall.substrate": ("steel-frame", "masonry"),
    "cavity.1.depth": ("50", "52", "60"),
    "sheathing.1.product": ("board B", "board C"),
}
"""Parameters that vary in property tests, with few enough values to meet again."""
FACINGS: tuple[Description, ...] = (
    core("1"),
    core("2"),
    core("3"),
    core("3") | {"facing.1.core_category": "2 | 3", "facing.1.calorific_value": ""},
    solid(),
    solid("high-pressure-laminate", "B-s1,d0"),
    solid("high-pressure-laminate", "D-s2,d0"),
)


@st.composite
def changes(draw: st.DrawFn, *, most: int = 3) -> dict[str, str]:
    """A few changes to the complete wall: other values, or things left unsaid."""
    found: dict[str, str] = {}
    if draw(st.booleans()):
        found |= draw(st.sampled_from(FACINGS))
    for key in draw(st.lists(st.sampled_from(sorted(SMALL)), max_size=most, unique=True)):
        found[key] = draw(st.sampled_from((*SMALL[key], "")))
    if found.get("barrier-horizontal.1.type") == "none":
        found |= {"barrier-horizontal.1.spacing": "", "barrier-horizontal.1.product": ""}
    return found


PAPERS: tuple[dict[str, object], ...] = (
    {},
    {},
    {},
    {"holding": Holding.SUMMARY},
    {"consent": Consent.ASKED},
    {"consent": Consent.REFUSED},
    {"standing": Standing.DISPUTED},
    {"standing": Standing.WITHDRAWN},
    {"classification": None},
    {"edition": "2020"},
    {"criteria": Criteria()},
)
"""What may be wrong with a test besides its wall; most have nothing wrong."""


@dataclass(frozen=True)
class TestPlan:
    """A test of a wall near the complete one, as short as an example of a failure should be."""

    __test__ = False

    changed: dict[str, str]
    papers: dict[str, object]
    fails: bool
    ref: str = "T1"

    @property
    def record(self) -> TestRecord:
        return make_test(self.changed, ref=self.ref, fails=self.fails, **self.papers)


@dataclass(frozen=True)
class WallPlan:
    """A wall near the complete one: one survey that lists every layer, and some that do not."""

    changed: dict[str, str]
    basis: Basis = Basis.OPENING_UP
    others: tuple[tuple[Basis, dict[str, str]], ...] = ()

    @property
    def wall(self) -> Wall:
        surveys = [make_survey(complete(self.changed), basis=self.basis)]
        for i, (basis, told) in enumerate(self.others, start=2):
            surveys.append(make_partial(told, basis=basis, ref=f"S{i}", on=date(2026, 2, i)))
        return wall_of(*surveys)


@st.composite
def plans_of_tests(draw: st.DrawFn, *, ref: str = "T1", may_fail: bool = True) -> TestPlan:
    """A test near the complete wall, sometimes with a gate that is not met."""
    fails = draw(st.booleans()) if may_fail else False
    papers = draw(st.sampled_from(PAPERS))
    if fails:
        papers = {key: value for key, value in papers.items() if key != "criteria"}
    return TestPlan(draw(changes()), papers, fails, ref)


@st.composite
def libraries(draw: st.DrawFn, *, most: int = 4, may_fail: bool = True) -> list[TestPlan]:
    """Several tests with references of their own."""
    count = draw(st.integers(min_value=1, max_value=most))
    return [draw(plans_of_tests(ref=f"T{i}", may_fail=may_fail)) for i in range(1, count + 1)]


@st.composite
def plans_of_walls(draw: st.DrawFn) -> WallPlan:
    """A wall near the complete one, known by one survey or by two."""
    changed, others = draw(changes()), []
    if draw(st.booleans()):
        told = complete(draw(changes()))
        keys = draw(st.lists(st.sampled_from(sorted(told)), min_size=1, max_size=4, unique=True))
        others.append((draw(st.sampled_from(list(Basis))), {key: told[key] for key in keys}))
    basis = draw(st.sampled_from([Basis.OPENING_UP, *Basis]))
    return WallPlan(changed, basis, tuple(others))


def values_of(attribute: Attribute) -> st.SearchStrategy[Value]:
    """Values that a cell of this attribute can say."""
    if attribute.kind is Kind.NUMBER:
        least = 1 if attribute.above_zero else 0
        number = st.integers(min_value=least, max_value=40_000_000).map(lambda n: n / 1000)
        return st.tuples(number, number).map(lambda ends: Range(min(ends), max(ends))) | number.map(
            lambda n: Range(n, n)
        )
    if attribute.kind is Kind.IDENTITY:
        return st.sampled_from(["board A", "Board  a", "board B", "é 12"]).map(Named)
    keys = (
        CLASSES
        if attribute.category == "fire-class"
        else load_reference().vocabulary[attribute.category].singles
    )
    return st.sets(st.sampled_from(keys), min_size=1).map(one_of)
