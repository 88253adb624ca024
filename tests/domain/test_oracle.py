"""The engine against the naive judge of oracle.py: 100,000 random walls, each beside random tests.

In parts, so that several processes share them. A part judges many walls by the same few tests: the
oracle then goes through the completions of a value, or of a wall, once.
"""

import random
from collections import Counter
from collections.abc import Iterator
from dataclasses import replace

import pytest

from portfolio.domain.coverage import ZoneCoverage
from portfolio.domain.evidence import Consent, Criteria, Holding, Standing, TestRecord
from portfolio.domain.surveys import Basis, Survey, Wall
from tests.domain import oracle
from tests.domain.factories import (
    complete,
    judge_all,
    make_partial,
    make_survey,
    make_test,
    wall_of,
)
from tests.domain.oracle import NO_CORE, Known, Side, Tested, Verdict

PARAMETER = {
    "facing": "facing.1.material",
    "core": "facing.1.core_category",
    "class": "facing.1.class",
    "insulation": "insulation.1.material",
    "second": "insulation.2.material",
    "barrier": "barrier-horizontal.1.type",
    "thickness": "insulation.1.thickness",
    "vertical": "barrier-vertical.1.type",
    "insulation class": "insulation.1.class",
    "joint": "facing.1.joint",
    "depth": "cavity.1.depth",
}
MEASURES = ("thickness", "depth")
PRESENCE = ("barrier", "vertical", "second")
CALORIFIC = "facing.1.calorific_value"
REST = complete(
    {"insulation.2.class": "A1", "insulation.2.thickness": "30", "insulation.2.product": "board D"},
    without=[*PARAMETER.values(), CALORIFIC],
)
CHANGED = tuple(name for name in PARAMETER if name not in ("facing", "core"))
PARTS = 20
WALLS_A_PART = 5_000
WALLS_A_PIECE = 12
LIKE_A_TEST = 14
GATES: tuple[tuple[dict[str, object], bool, bool], ...] = (
    # what is wrong with the test, whether a gate is shut, whether one is ajar
    ({}, False, False),
    ({"standing": Standing.DISPUTED}, True, False),
    ({"standing": Standing.WITHDRAWN}, True, False),
    ({"standing": Standing.SUPERSEDED}, True, False),
    ({"classification": None}, True, False),
    ({"edition": "2020"}, True, False),
    ({"consent": Consent.REFUSED}, True, False),
    ({"consent": Consent.ASKED}, False, True),
    ({"holding": Holding.SUMMARY}, False, True),
    ({"criteria": Criteria()}, False, True),
)


def texts(name: str, could_be: tuple[object, ...]) -> str:
    if name in MEASURES:
        numbers = sorted(float(str(n)) for n in could_be)
        return f"{numbers[0]}-{numbers[-1]}" if len(numbers) > 1 else str(numbers[0])
    return " | ".join(str(word) for word in could_be)


def some(rng: random.Random, words: tuple[object, ...], two: float) -> tuple[object, ...]:
    """Mostly one of the words, sometimes two that could both be."""
    return tuple(rng.sample(words, 2 if rng.random() < two else 1))


def between(numbers: tuple[object, ...]) -> tuple[object, ...]:
    """A measure known as an interval could be anything between its ends, half by half."""
    low, high = (round(2 * float(str(n))) for n in (min(numbers), max(numbers)))  # type: ignore[type-var]
    return tuple(n / 2 for n in range(low, high + 1))


def random_claims(
    rng: random.Random, *, unknown: float, two: float
) -> dict[str, tuple[object, ...]]:
    """What one source says of the parameters that vary; consistent in itself."""
    told: dict[str, tuple[object, ...]] = {
        "facing": some(rng, oracle.FACINGS, two),
        "class": some(rng, oracle.CLASSES, two),
        "insulation": some(rng, oracle.INSULATIONS, two),
        "second": some(rng, oracle.SECOND_INSULATIONS, two) if rng.random() < 0.3 else ("none",),
        "barrier": some(rng, oracle.BARRIERS, two),
        "thickness": between(some(rng, oracle.THICKNESSES, two)),
        "core": some(rng, oracle.CORES, two),
        "vertical": some(rng, oracle.VERTICAL_BARRIERS, two),
        "insulation class": some(rng, oracle.INSULATION_CLASSES, two),
        "joint": some(rng, oracle.JOINTS, two),
        "depth": between(some(rng, oracle.DEPTHS, two)),
    }
    if oracle.COMPOSITE not in told["facing"]:
        told["core"] = (NO_CORE,)
    kept = {name: value for name, value in told.items() if rng.random() >= unknown}
    if told["core"] == (NO_CORE,):
        if "facing" in kept:
            kept["core"] = (NO_CORE,)  # follows from the facing
        else:
            kept.pop("core", None)
    return kept


def described(told: dict[str, tuple[object, ...]], names: list[str]) -> dict[str, str]:
    found = {
        PARAMETER[name]: texts(name, told[name])
        for name in names
        if name in told and told[name] != (NO_CORE,)
    }
    if "core" in names and len(told.get("core", ())) == 1 and told["core"] != (NO_CORE,):
        found[CALORIFIC] = str(oracle.CORE_VALUES[str(told["core"][0])])
    return found


def random_wall(rng: random.Random) -> tuple[Wall, Side]:
    """A wall known by up to three surveys, and what the oracle makes of them."""
    told = random_claims(rng, unknown=0.12, two=0.15)
    basis = {
        name: rng.choices((oracle.OPENED, oracle.DRAWN, oracle.ASSUMED), (8, 2, 1))[0]
        for name in told
    }
    if told.get("core") == (NO_CORE,):
        basis["core"] = basis["facing"]
    surveys = []
    for i, strength in enumerate((oracle.OPENED, oracle.DRAWN, oracle.ASSUMED)):
        names = [name for name in told if basis[name] == strength]
        if i == 0:
            surveys.append(listing(told, names))
        elif part := described(told, names):
            surveys.append(make_partial(part, basis=Basis(strength), ref=f"S{i}"))
    side = Side({name: Known(value, basis[name]) for name, value in told.items()})
    if rng.random() < 0.1:
        name = rng.choice(["insulation", "barrier", "class", "insulation class"])
        if side.has(name) and basis[name] == oracle.OPENED:
            words = oracle.Side().could_be(name)
            other = rng.choice([word for word in words if word not in told[name]])
            surveys.append(make_partial({PARAMETER[name]: str(other)}, ref="S9"))
            both = (*told[name], other)
            side.known[name] = Known(both, oracle.OPENED, in_conflict=True)
    return wall_of(*surveys), side


def listing(told: dict[str, tuple[object, ...]], names: list[str]) -> Survey:
    """An opening-up that lists every layer, with what it says of those that vary."""
    found = REST | described(told, names)
    for name in PRESENCE:
        key = PARAMETER[name]
        if found.get(key) == "none":  # then it has no spacing, no thickness
            layer = key.rpartition(".")[0]
            found = {k: v for k, v in found.items() if k == key or not k.startswith(layer)}
    return make_survey(found)


def random_test(rng: random.Random, ref: str) -> tuple[TestRecord, Tested]:
    told = random_claims(rng, unknown=0.02, two=0.04)
    more, is_shut, is_ajar = rng.choice(GATES) if rng.random() < 0.5 else GATES[0]
    fails = rng.random() < 0.35
    if fails:
        more = {key: value for key, value in more.items() if key != "criteria"}
    record = make_test(ref=ref, fails=fails)
    build_up = listing(told, list(told)).build_up
    record = replace(record, build_up=build_up, **more)  # type: ignore[arg-type]
    side = Side({name: Known(value) for name, value in told.items()})
    withdrawn = record.standing is Standing.WITHDRAWN
    return record, Tested(ref, side, fails, withdrawn, is_shut, is_ajar)


def judged(part: int) -> Iterator[tuple[ZoneCoverage, Verdict, Side, tuple[Tested, ...]]]:
    """Random walls beside one to six random tests, and what both make of them."""
    rng, count = random.Random(20260301 + part), 0
    while count < WALLS_A_PART:
        pairs = [random_test(rng, f"T{i}") for i in range(rng.randint(1, 6))]
        walls = [random_wall(rng) for _ in range(WALLS_A_PIECE)]
        walls += [like(rng, tested) for _, tested in pairs * LIKE_A_TEST]
        coverages = judge_all([wall for wall, _ in walls], *(record for record, _ in pairs))
        tests = tuple(tested for _, tested in pairs)
        for coverage, (_, side) in zip(coverages, walls, strict=True):
            yield coverage, oracle.judge(side, list(tests)), side, tests
        count += len(walls)


def like(rng: random.Random, tested: Tested) -> tuple[Wall, Side]:
    """The wall of a test, opened up; often with one parameter changed or forgotten."""
    told = {name: known.could_be for name, known in tested.side.known.items()}
    if rng.random() < 0.6:
        name = rng.choice(CHANGED)
        if rng.random() < 0.4:
            told.pop(name, None)
        else:
            told[name] = (rng.choice(oracle.Side().could_be(name)),)
    survey = listing(told, list(told))
    return wall_of(survey), Side({name: Known(value) for name, value in told.items()})


KINDS = (
    ("covered", False),
    ("contradicted", False),
    ("contradicted", True),
    ("to-assess", False),
    ("too-little-known", False),
    ("no-matching-evidence", False),
)


@pytest.mark.parametrize("part", range(PARTS))
def test_the_engine_says_what_the_oracle_says(part: int) -> None:
    """Not one wall falsely covered, no contradiction missed and none invented, nothing else apart;
    and the walls reach every coverage often."""
    covered, contradicted, apart, counts = [], [], [], Counter[tuple[str, bool]]()
    for coverage, verdict, side, tests in judged(part):
        mine = coverage.coverage.value, coverage.by_inference, coverage.covered_too
        theirs = verdict.coverage, verdict.by_inference, verdict.covered_too
        counts[theirs[:2]] += 1
        if mine == theirs:
            continue
        case = mine, theirs, side, tests
        apart.append(case)
        if mine[0] == "covered":
            covered.append(case)
        if "contradicted" in (mine[0], theirs[0]):
            contradicted.append(case)
    assert covered == []
    assert contradicted == []
    assert apart == []
    assert {kind: counts[kind] for kind in KINDS if counts[kind] < 40} == {}
