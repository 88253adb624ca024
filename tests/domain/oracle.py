"""A naive judge over a tiny vocabulary: the design's table of coverage, straight down.

It shares no code with the engine. Every unknown is replaced by everything it could be, and the
claims of coverage are read off all the completions. What is not varied here is alike and known
on both sides.

Where the engine's documented reading differs from the bare table, this follows the docstring and
says so in a comment that begins with "docstring".
"""

import itertools
from dataclasses import dataclass, field
from functools import cache

COMPOSITE = "metal-composite-panel"
FACINGS = (COMPOSITE, "high-pressure-laminate", "solid-aluminium")
ANOTHER = "something-else"  # an unknown facing could be one that no test here has
CORES = ("1", "2", "3")
CORE_VALUES = {"1": 2.0, "2": 13.6, "3": 44.0}
CLASSES = ("A1", "A2-s1,d0", "A2-s1,d1", "B-s1,d0", "B-s2,d0", "D-s3,d2", "F")
INSULATIONS = ("stone-wool", "glass-wool", "pir-foam", "phenolic-foam")
SECOND_INSULATIONS = ("none", "stone-wool", "pir-foam")
BARRIERS = ("open-state-intumescent", "full-fill-mineral", "none")
VERTICAL_BARRIERS = ("full-fill-mineral", "none")
THICKNESSES = (100.0, 101.5, 103.0, 150.0)
# No side of these is milder, or the milder side acquits nothing: the oracle never asks them for it.
INSULATION_CLASSES = ("A1", "B-s1,d0", "E")
JOINTS = ("open", "closed", "baffled")
DEPTHS = (50.0, 51.5, 53.0, 80.0)
NO_CORE = "no core"
MEASURING_TOLERANCE_MM = 2.0

# Milder first; by family, as the shipped orders have it. Stone and glass wool are one family.
FAMILY = {
    "stone-wool": "mineral wool",
    "glass-wool": "mineral wool",
    "pir-foam": "pir",
    "phenolic-foam": "phenolic",
}
WORSE_FAMILIES = {
    "mineral wool": {"mineral wool", "pir", "phenolic"},
    "pir": {"pir"},
    "phenolic": {"phenolic"},
}

EVERYTHING: dict[str, tuple[object, ...]] = {
    "facing": (*FACINGS, ANOTHER),
    "core": (*CORES, NO_CORE),
    "class": CLASSES,
    "insulation": INSULATIONS,
    "second": SECOND_INSULATIONS,
    "barrier": BARRIERS,
    "thickness": (1.0, *THICKNESSES),
    "vertical": VERTICAL_BARRIERS,
    "insulation class": INSULATION_CLASSES,
    "joint": JOINTS,
    "depth": (1.0, *DEPTHS),
}

OPENED, DRAWN, ASSUMED = "opening-up", "drawing", "assumption"
STRENGTH = {ASSUMED: 0, DRAWN: 2, OPENED: 3}
# How strong a source must be for cover to lean on it.
LEAST = {
    "facing": 3,
    "core": 3,
    "insulation": 3,
    "second": 3,
    "barrier": 3,
    "class": 2,
    "thickness": 2,
    "vertical": 3,
    "insulation class": 2,
    "joint": 1,
    "depth": 2,
}
NAMES = tuple(LEAST)
DECISIVE = ("facing", "core", "insulation", "second")


@dataclass
class Known:
    """What is held of one parameter: everything it could be, how well, and whether disputed."""

    could_be: tuple[object, ...]
    basis: str = OPENED
    in_conflict: bool = False

    @property
    def is_one(self) -> bool:
        return len(self.could_be) == 1


@dataclass
class Side:
    """A wall or the wall of a test: parameters by name; what is missing is unknown."""

    known: dict[str, Known] = field(default_factory=dict)

    def has(self, name: str) -> bool:
        return name in self.known

    def could_be(self, name: str) -> tuple[object, ...]:
        """Everything a parameter could be, as far as anybody has said."""
        if name in self.known:
            return self.known[name].could_be
        return EVERYTHING[name]


@dataclass
class Tested:
    """A test as the oracle knows it."""

    __test__ = False

    ref: str
    side: Side
    fails: bool
    is_withdrawn: bool
    is_shut: bool  # one gate not met
    is_ajar: bool  # one gate unknown


@dataclass
class Verdict:
    """The oracle's word on one wall."""

    coverage: str
    by_inference: bool
    covered_too: bool


def judge(wall: Side, tests: list[Tested]) -> Verdict:
    """The design's table, from the top."""
    in_conflict = any(known.in_conflict for known in wall.known.values())
    passing = [t for t in tests if not t.fails and not t.is_shut]
    # Neither doubt about a failing test nor a later paper acquits.
    failing = [t for t in tests if t.fails and not t.is_withdrawn]
    # docstring of coverage.py: a withdrawn one contradicts nothing, and leaves a doubt
    undone = [t for t in tests if t.fails and t.is_withdrawn]

    covered = not in_conflict and any(covers(wall, t) for t in passing)
    if any(is_of_same_materials(wall, t) for t in failing):
        return Verdict("contradicted", False, covered)
    if every_possibility_is_at_least_as_onerous(wall, failing):
        return Verdict("contradicted", True, covered)
    found = "covered" if covered else uncovered(wall, passing, in_conflict=in_conflict)
    # docstring of coverage.py: too little known where a failing test could have been of this wall
    doubted = could_be_contradicted(wall, failing + undone)
    doubted = doubted or any(is_of_same_materials(wall, t) for t in undone)
    if found != "too-little-known" and doubted:
        found = "too-little-known"
    return Verdict(found, False, False)


def uncovered(wall: Side, passing: list[Tested], *, in_conflict: bool) -> str:
    """The lower half of the table."""
    if not in_conflict and any(is_for_an_engineer(wall, t) for t in passing):
        return "to-assess"
    # docstring of coverage.py: too little known also where the decisive layers are not known well
    # enough to say what would be relevant, or where surveys disagree.
    unsure = in_conflict or not decisive_layers_are_known(wall)
    if unsure or any(is_relevant(wall, t) for t in passing):
        return "too-little-known"
    return "no-matching-evidence"


# --- One parameter -------------------------------------------------------------------------------


def answers(wall: Side, test: Tested, name: str) -> set[bool]:
    """For every completion of both sides: are they the same, or allowed by a rule?"""
    # docstring of readings.py: an assumption is no knowledge, so it is compared as unknown.
    assumed = wall.has(name) and wall.known[name].basis == ASSUMED
    left = Side().could_be(name) if assumed else wall.could_be(name)
    return answers_of(name, left, test.side.could_be(name))


@cache
def answers_of(name: str, left: tuple[object, ...], right: tuple[object, ...]) -> set[bool]:
    """Asked once for the same completions: all of them are gone through, pair by pair."""
    return {is_same(name, a, b) for a, b in itertools.product(left, right)}


def is_same(name: str, a: object, b: object) -> bool:
    if name in ("thickness", "depth"):
        return abs(a - b) <= MEASURING_TOLERANCE_MM  # type: ignore[operator]
    return a == b


def is_weak(wall: Side, name: str) -> bool:
    return wall.has(name) and STRENGTH[wall.known[name].basis] < LEAST[name]


def differs(wall: Side, test: Tested, name: str) -> bool:
    return answers(wall, test, name) == {False}


def is_settled_as_same(wall: Side, test: Tested, name: str) -> bool:
    """Same in every completion, from a good enough source.

    Docstring of surveys.py: a drawing is no sighting.
    """
    return answers(wall, test, name) == {True} and not is_weak(wall, name)


# --- Passing tests -------------------------------------------------------------------------------


def covers(wall: Side, test: Tested) -> bool:
    return not test.is_ajar and all(is_settled_as_same(wall, test, name) for name in NAMES)


def is_relevant(wall: Side, test: Tested) -> bool:
    return not any(differs(wall, test, name) for name in DECISIVE)


def is_for_an_engineer(wall: Side, test: Tested) -> bool:
    """Relevant, nothing left open, and something that may be judged differs.

    Docstring of coverage.py: a known difference counts even from a weak source.
    """
    settled = [is_settled_as_same(wall, test, name) or differs(wall, test, name) for name in NAMES]
    return is_relevant(wall, test) and all(settled) and not test.is_ajar


def decisive_layers_are_known(wall: Side) -> bool:
    needed = ["facing", "insulation"]
    if COMPOSITE in wall.could_be("facing") and wall.has("facing"):
        needed.append("core")
    return all(
        wall.has(name) and wall.known[name].is_one and not is_weak(wall, name) for name in needed
    )


# --- Failing tests -------------------------------------------------------------------------------


def is_acquitted(wall: Side, test: Tested) -> bool:
    """Something known, from a good enough source, makes the wall milder than the test."""
    for name in ("barrier", "vertical"):
        seen = wall.has(name) and not is_weak(wall, name) and test.side.has(name)
        if seen and all(
            b == "none" and a != "none"
            for a, b in itertools.product(wall.could_be(name), test.side.could_be(name))
        ):
            return True
    # The calorific value of a core stands for the core here: known where the category is one.
    if not (wall.has("core") and test.side.has("core")):
        return False
    if STRENGTH[wall.known["core"].basis] < STRENGTH[DRAWN]:
        return False
    mine, theirs = wall.could_be("core"), test.side.could_be("core")
    if NO_CORE in (*mine, *theirs) or len(theirs) > 1:
        return False
    if len(mine) > 1 and not wall.known["core"].in_conflict:
        return False  # more than one category was claimed without any calorific value
    return max(CORE_VALUES[str(c)] for c in mine) < CORE_VALUES[str(theirs[0])]


def is_of_same_materials(wall: Side, test: Tested) -> bool:
    """The decisive materials are those of the test: facing, core or class, insulation family.

    Materials count from any source here: a drawing, even an assumption, can only accuse.
    """
    severity = severity_name(wall)
    for name in ("facing", severity):
        if not (wall.has(name) and test.side.has(name)):
            return False
        if not (wall.known[name].is_one and wall.could_be(name) == test.side.could_be(name)):
            return False
    tested = families_of(test.side)
    same = bool(tested) and tested <= families_of(wall) and not lacks_a_layer(wall, test)
    return same and not is_acquitted(wall, test)


def lacks_a_layer(wall: Side, test: Tested) -> bool:
    """Some layer of the test is there for certain, and the wall can have nothing of the kind."""
    if not (wall.has("insulation") and wall.has("second")):
        return False
    mine = {
        FAMILY.get(str(layer))
        for name in ("insulation", "second")
        for layer in wall.could_be(name)
        if layer != "none"
    }
    for name in ("insulation", "second"):
        theirs = test.side.could_be(name) if test.side.has(name) else ("none",)
        if "none" not in theirs and not mine & {FAMILY.get(str(layer)) for layer in theirs}:
            return True
    return False


def severity_name(wall: Side) -> str:
    return "core" if wall.could_be("facing") == (COMPOSITE,) else "class"


def families_of(side: Side) -> set[str]:
    """The insulation families known to be there."""
    found = set()
    for name in ("insulation", "second"):
        families = {FAMILY.get(str(i)) for i in side.could_be(name)} if side.has(name) else {None}
        if len(families) == 1:
            found |= families
    return {family for family in found if family}


Cell = tuple[str, str, tuple[str, ...]]


def cells(side: Side) -> list[Cell]:
    """Every completion as (facing, core or class, families of the insulation layers).

    Docstring of adverse.py: a second layer that nobody has recorded says nothing and is left out.
    """
    second = side.could_be("second") if side.has("second") else ("none",)
    known = (side.could_be(name) for name in ("facing", "core", "class", "insulation"))
    return cells_of(*known, second)


@cache
def cells_of(
    facings: tuple[object, ...],
    cores: tuple[object, ...],
    classes: tuple[object, ...],
    insulations: tuple[object, ...],
    seconds: tuple[object, ...],
) -> list[Cell]:
    """Worked out once for the same completions."""
    found = []
    for facing in facings:
        severities = cores if facing == COMPOSITE else classes
        for severity, *layers in itertools.product(severities, insulations, seconds):
            if (facing == COMPOSITE) == (severity in CORES):
                families = tuple(FAMILY[str(layer)] for layer in layers if layer != "none")
                found.append((str(facing), str(severity), families))
    return found


def every_possibility_is_at_least_as_onerous(wall: Side, failing: list[Tested]) -> bool:
    """For every completion of the wall some failing test speaks against it.

    Docstring of two_layers.py: each of the test's layers, whatever it could be, has one layer of
    the wall that is at least as onerous, in as bad a facing.
    """
    against = [tuple(cells(t.side)) for t in failing if not is_acquitted(wall, t)]
    return all(any(speaks(tested, mine) for tested in against) for mine in cells(wall))


@cache
def speaks(tested: tuple[Cell, ...], mine: Cell) -> bool:
    """Whether a failing test, whatever its wall was, speaks against one completion."""
    facing, severity, layers = mine
    return bool(layers) and all(
        any(
            all(
                is_at_least((facing, severity, layer), (f, s, theirs[place : place + 1]))
                for f, s, theirs in tested
            )
            for layer in layers
        )
        for place in (0, 1)
    )


def could_be_contradicted(wall: Side, failing: list[Tested]) -> bool:
    """Some completion of some failing test speaks against some completion of the wall.

    Docstring of reaction.py: smoke and droplets say nothing of spread, so they leave a doubt.
    """
    mine = {(f, main_class(s), layers) for f, s, layers in cells(wall)}
    return any(
        speaks((theirs,), one)
        for test in failing
        if not is_acquitted(wall, test)
        for theirs in {(f, main_class(s), layers) for f, s, layers in cells(test.side)}
        for one in mine
    )


def main_class(severity: str) -> str:
    """A core category as it is; a class without its letters for smoke and droplets."""
    has_letters = severity not in CORES and "-" in severity
    return f"{severity.partition('-')[0]}-s1,d0" if has_letters else severity


@cache
def is_at_least(mine: tuple[str, str, str], theirs: Cell) -> bool:
    """One layer of mine is at least as onerous as every layer of theirs, in as bad a facing."""
    worse = all(mine[2] in WORSE_FAMILIES[layer] for layer in theirs[2])
    if mine[0] != theirs[0] or not worse:
        return False
    if mine[0] == COMPOSITE:
        return mine[1] >= theirs[1]
    return class_is_at_least(mine[1], theirs[1])


def class_is_at_least(mine: str, theirs: str) -> bool:
    """Part by part: main class, smoke, droplets. F has met nothing, A1 everything."""
    worst = {"A1": "A-s1,d0", "F": "Z-s3,d2"}
    mine, theirs = worst.get(mine, mine), worst.get(theirs, theirs)
    main_m, _, suffixes_m = mine.partition("-")
    main_t, _, suffixes_t = theirs.partition("-")
    smoke_m, drops_m = suffixes_m.split(",")
    smoke_t, drops_t = suffixes_t.split(",")
    return main_m >= main_t and smoke_m >= smoke_t and drops_m >= drops_t
