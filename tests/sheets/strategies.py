"""Drafts of every kind, for properties of export and import."""

from dataclasses import replace
from datetime import date
from typing import Any

from hypothesis import strategies as st

from portfolio.domain.evidence import Answer3, Consent, EvidenceKind, Holding, Outcome, Standing
from portfolio.domain.heights import HeightClaim
from portfolio.domain.measures import read_value
from portfolio.domain.parameters import (
    PARAMETERS,
    PLACES,
    ROLE_ATTRIBUTES,
    WALL_ATTRIBUTES,
    Attribute,
    Kind,
    Role,
)
from portfolio.domain.plain_text import wrong_in_name, wrong_in_reference, wrong_in_text
from portfolio.domain.routes import Work
from portfolio.domain.surveys import Basis
from portfolio.domain.values import UNKNOWN, Named, Range, Value, one_of
from portfolio.domain.walls import BuildUp, Layer
from portfolio.reference.loader import EVACUATION, SPRINKLERS
from portfolio.sheets.drafts import (
    BuildingDraft,
    Drafts,
    HeightDraft,
    OrganisationDraft,
    SurveyDraft,
    TestDraft,
    ZoneDraft,
)
from portfolio.sheets.layout_buildings import ORGANISATION_KINDS
from tests.sheets.support import REFERENCE

_LETTERS = st.characters(exclude_categories=("Cc", "Cs", "Cn", "Co")).filter(
    lambda character: not wrong_in_text(character)
)
# what spreadsheets and CSV files are known to spoil
_AWKWARD = ["=1+1", "-5", "+44", "@name", "'=x", "''-1", "'tis", "007", "1e5", "TRUE", "_x0041_"]
TEXTS = st.one_of(
    st.text(_LETTERS, max_size=10).map(str.strip),
    st.sampled_from([*_AWKWARD, 'a "b", c', "one\ntwo", "2026-01-02"]),
)
REFS = TEXTS.filter(lambda text: bool(text) and not wrong_in_reference(text))
# nothing was seen on a day to come, seen from the day on which the tests import
DAYS = st.dates(date(1900, 1, 1), date(2026, 3, 1))
MAYBE_DAYS = st.none() | DAYS
COUNTS = st.none() | st.integers(0, 1_000_000)


def numbers(most: int = 1000, least: int = 0) -> st.SearchStrategy[float]:
    """Numbers with two decimals, from `least` hundredths."""
    return st.integers(least, most * 100).map(lambda number: number / 100)


def _names_a_product(text: str) -> bool:
    """Whether a product's column takes the text for a name: see tests/domain/test_measures.py."""
    product = PARAMETERS["facing.1.product"].attribute
    return "|" not in text and read_value(product, text, REFERENCE.vocabulary) is not UNKNOWN


def values(attribute: Attribute) -> st.SearchStrategy[Value]:
    """Any value that an attribute can have, other than unknown."""
    if attribute.kind is Kind.NUMBER:
        number = numbers(least=1 if attribute.above_zero else 0)
        return st.tuples(number, number).map(lambda two: Range(min(two), max(two)))
    if attribute.kind is Kind.IDENTITY:
        names = TEXTS.map(lambda text: " ".join(text.split()))
        return names.filter(lambda name: _names_a_product(name) and not wrong_in_name(name)).map(
            Named
        )
    singles = REFERENCE.vocabulary[attribute.category].singles
    return st.sets(st.sampled_from(singles), min_size=1, max_size=3).map(one_of)


@st.composite
def layers(draw: st.DrawFn) -> Layer:
    role = draw(st.sampled_from(Role))
    attributes = {attribute.key: attribute for attribute in ROLE_ATTRIBUTES[role]}
    if role is Role.FACING:  # the two could contradict each other
        del attributes[draw(st.sampled_from(["core_category", "calorific_value"]))]
    keys = draw(st.sets(st.sampled_from(sorted(attributes))))
    return Layer(role, {key: draw(values(attributes[key])) for key in sorted(keys)}, draw(TEXTS))


@st.composite
def build_ups(draw: st.DrawFn) -> BuildUp:
    found: list[Layer] = []
    for layer in draw(st.lists(layers(), max_size=5)):
        if sum(other.role is layer.role for other in found) < PLACES[layer.role]:
            found.append(layer)
    wall = {attribute.key: attribute for attribute in WALL_ATTRIBUTES}
    family = st.just(UNKNOWN) | values(wall["system_family"])
    substrate = st.just(UNKNOWN) | values(wall["substrate"])
    return BuildUp(tuple(found), draw(family), draw(substrate), draw(st.booleans()))


CLAIMS = st.builds(HeightClaim, numbers(), TEXTS, st.none() | numbers(), MAYBE_DAYS, TEXTS)
ORGANISATIONS = st.builds(
    OrganisationDraft, REFS, TEXTS.filter(bool), st.sampled_from(["", *ORGANISATION_KINDS])
)
BUILDINGS = st.builds(
    BuildingDraft,
    owner=REFS,
    building=REFS,
    name=TEXTS.filter(bool),
    address=TEXTS,
    jurisdiction=st.sampled_from(["", "England", "Scotland", "Elsewhere"]),
    use=st.sampled_from(["", *REFERENCE.uses]),
    storeys=st.none() | st.integers(1, 200),
    homes=COUNTS,
    people=COUNTS,
    evacuation=st.sampled_from(["", *EVACUATION]),
    sprinklers=st.sampled_from(["", *SPRINKLERS]),
    note=TEXTS,
    heights=st.lists(CLAIMS, max_size=3, unique=True).map(tuple),
)
HEIGHTS = st.builds(HeightDraft, REFS, REFS, CLAIMS)


@st.composite
def zones(draw: st.DrawFn) -> ZoneDraft:
    storeys = sorted(draw(st.lists(st.integers(-5, 60), min_size=2, max_size=2)))
    lowest, highest = (draw(st.sampled_from([None, storey])) for storey in storeys)
    work = draw(st.sampled_from(["", *Work]))
    return ZoneDraft(
        *(draw(REFS) for _ in range(3)),
        draw(TEXTS),
        draw(TEXTS),
        lowest,
        highest,
        draw(st.none() | numbers(10_000)),
        draw(st.booleans()),
        work,
        draw(st.none() | DAYS) if work == Work.NEW else None,
    )


SURVEYS = st.builds(
    SurveyDraft, REFS, REFS, REFS, REFS, st.sampled_from(Basis), DAYS, TEXTS, build_ups()
)
_ANSWERS = st.sampled_from(Answer3)
_REFS_OF_OTHERS = st.lists(REFS.map(lambda ref: f"x{ref}"), max_size=3, unique=True)


def _with_author_if_assessed(draft: TestDraft) -> TestDraft:
    return draft if draft.kind is EvidenceKind.ASSESSMENT else replace(draft, author="")


TESTS = st.builds(
    TestDraft,
    REFS.filter(lambda ref: not ref.startswith("x")),
    REFS,
    build_ups(),
    *[TEXTS] * 6,
    MAYBE_DAYS,
    _ANSWERS,
    _ANSWERS,
    st.none() | _ANSWERS,
    _ANSWERS,
    _ANSWERS,
    TEXTS,
    st.sampled_from(Outcome),
    *[TEXTS] * 4,
    st.sampled_from(EvidenceKind),
    *[TEXTS] * 3,
    MAYBE_DAYS,
    COUNTS,
    st.sampled_from(Standing),
    TEXTS,
    st.sampled_from(Holding),
    st.sampled_from(Consent),
    _REFS_OF_OTHERS.map(lambda refs: tuple(sorted(refs))),
    _REFS_OF_OTHERS.map(tuple),
    TEXTS,
).map(_with_author_if_assessed)


def _some(strategy: st.SearchStrategy[Any]) -> st.SearchStrategy[tuple[Any, ...]]:
    return st.lists(strategy, max_size=3, unique_by=lambda draft: draft.key).map(tuple)


@st.composite
def drafts(draw: st.DrawFn) -> Drafts:
    """Everything that one workbook may hold; heights of their own are of other buildings."""
    buildings = draw(_some(BUILDINGS))
    keys = {draft.key for draft in buildings}
    return Drafts(
        draw(_some(ORGANISATIONS)),
        buildings,
        tuple(height for height in draw(_some(HEIGHTS)) if height.key not in keys),
        draw(_some(zones())),
        draw(_some(SURVEYS)),
        draw(_some(TESTS)),
    )
