"""An invented nation of walls and tests for measuring only: seeded, so that two runs are alike.

Walls recur as in `invented.py`, and what a zone is known by varies. One zone in ten has a wall of
its own, so the number of different walls grows with the number of zones. Half of the tests are of
walls that recur, told in full; whether a test failed follows from what burns in it. Nothing of a
real wall or test is in it.
"""

from __future__ import annotations

import random
from itertools import accumulate

import numpy as np

from portfolio.db import mapping, models
from portfolio.domain.evidence import Answer3, Outcome, TestRecord
from portfolio.domain.gates import Setting
from portfolio.domain.judging import Walls
from portfolio.domain.readings import read_walls
from portfolio.domain.rules import RuleSet, rules_in_force
from portfolio.domain.surveys import Basis, Survey, Wall, resolve
from portfolio.domain.walls import NONE, BuildUp
from portfolio.reference.loader import load_reference
from tests.benchmarks import invented
from tests.benchmarks.invented import ON

RECURRING = 3_000
SETTINGS = (Setting("England"), Setting("Scotland"))
_BURNS = ("pir-foam", "phenolic-foam", "eps")


def rules() -> RuleSet:
    return rules_in_force(load_reference().rules, ON)


_CLASSES = {
    "lining": "A2-s1,d0",
    "sheathing": "A2-s1,d0",
    "membrane": "E",
    "insulation": "A1",
    "facing": "B-s1,d0",
}
_CALORIFIC_VALUES = {"1": "2", "2": "13.6", "3": "44"}


def recurring(seed: int = 1) -> list[invented.Wall]:
    """Walls that many zones have, told in full."""
    rng = random.Random(seed)
    return [whole(invented.wall(rng, complete=True)) for _ in range(RECURRING)]


def whole(wall: invented.Wall) -> invented.Wall:
    """The wall with what `invented.wall` leaves out, so that nothing of it is unknown."""
    layers = [dict(layer) for layer in _layers(wall)]
    for layer in layers:
        role = layer["role"]
        if role in _CLASSES:
            foam = layer.get("material") in _BURNS
            layer["class"] = "E" if foam else _CLASSES[role]
        if role != "cavity" and layer.get("type") != NONE:
            layer.setdefault("product", f"{role} A")
        if layer.get("type") == NONE:
            layer.pop("spacing")
        if "core_category" in layer:
            layer["calorific_value"] = _CALORIFIC_VALUES[layer["core_category"]]
    layers.append({"role": "finish", "material": "polyester-coating", "product": "finish A"})
    return {**wall, "layers": layers}


def _layers(wall: invented.Wall) -> list[dict[str, str]]:
    layers = wall["layers"]
    assert isinstance(layers, list)
    return layers


def zones(count: int, seed: int = 2) -> Walls:
    """That many zones as they were resolved from their surveys."""
    rng = random.Random(seed)
    known = recurring()
    weights = list(accumulate(1 / place for place in range(1, RECURRING + 1)))
    tolerances = rules().tolerances()
    kinds: dict[tuple[object, ...], int] = {}
    walls: list[Wall] = []
    kind = np.empty(count, dtype=np.int32)
    build_ups: dict[int, BuildUp] = {}
    told: list[invented.Wall] = []
    for zone in range(count):
        if rng.random() < 0.1:
            wall = invented.wall(rng, complete=False)
            told.append(wall)  # so that no two walls are of one id
        else:
            wall = rng.choices(known, cum_weights=weights)[0]
        bases = [rng.choice((Basis.OPENING_UP, Basis.OPENING_UP, Basis.DRAWING, Basis.OUTSIDE))]
        if rng.random() < 0.2:
            bases.append(rng.choice((Basis.OPENING_UP, Basis.DRAWING)))
        key = (id(wall), *bases)
        if key not in kinds:
            if id(wall) not in build_ups:
                vocabulary = load_reference().vocabulary
                build_ups[id(wall)] = mapping.build_up_from_json(wall, vocabulary)
            surveys = [
                Survey(f"S{i}", basis, ON, "invented", build_ups[id(wall)])
                for i, basis in enumerate(bases)
            ]
            kinds[key] = len(walls)
            walls.append(resolve(surveys, (), tolerances))
        kind[zone] = kinds[key]
    setting = np.array(rng.choices((0, 1), (9, 1), k=count), dtype=np.int32)
    return Walls(read_walls(walls).of(kind), setting, SETTINGS)


def records(count: int, seed: int = 3) -> list[TestRecord]:
    """That many tests; all of them may be leant on."""
    rng = random.Random(seed)
    known = recurring()
    holder = models.Organisation(id=1, ref="O1", name="Owner 1", kind="owner")
    found = []
    for number in range(count):
        row = invented.row_of_test(rng, number)
        recurs = number % 2 == 0
        row.build_up = known[number // 2 % len(known)] if recurs else whole(row.build_up)
        failed = burns(row.build_up)
        row.external_spread = Answer3.NOT_MET if failed else Answer3.MET
        row.printed_outcome = Outcome.FAILED if failed else Outcome.PASSED
        row.organisation = holder
        row.sponsor = row.laboratory = ""
        found.append(mapping.tested_wall_of(row, load_reference().vocabulary, None))
    return found


def burns(build_up: invented.Wall) -> bool:
    """Whether an invented wall fails its test: a filled composite panel before foam, or timber."""
    layers = {layer["role"]: layer for layer in _layers(build_up)}
    foam = layers["insulation"].get("material") in _BURNS
    facing = layers["facing"]
    return foam and (facing.get("core_category") in ("2", "3") or facing["material"] == "timber")
