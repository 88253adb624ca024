"""A wall as texts to fill in, and back: what the cells of a form hold for each layer.

The texts are read as the cells of an uploaded sheet are, so that a form and a file mean the same
by the same words.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence

from portfolio.domain.errors import InputError, Problem
from portfolio.domain.measures import write_value
from portfolio.domain.parameters import WALL_ATTRIBUTES
from portfolio.domain.walls import BuildUp, Layer
from portfolio.reference.loader import load_reference
from portfolio.sheets.cells import Cells
from portfolio.sheets.converting_walls import WallReader
from portfolio.sheets.layout_walls import ATTRIBUTE_OF_COLUMN, LAYER_COLUMNS, LAYERS
from portfolio.sheets.raw import RawRow

LAYER_FIELDS: tuple[str, ...] = tuple(c.key for c in LAYER_COLUMNS if c.key != "layer_no")
WALL_FIELDS = ("system_family", "substrate", "all_layers_listed")
_KEY_OF_HEADER = {column.header: column.key for column in LAYERS.columns}
_WALL = {attribute.key: attribute for attribute in WALL_ATTRIBUTES}

Texts = Mapping[str, str]


def read_wall(whole: Texts, layers: Sequence[Texts]) -> BuildUp:
    """The wall that the texts tell of; rows without any text are passed over.

    Raises InputError: each problem has the field's key as its column, and as its row the place of
    the layer in `layers`, from 1; no row where it is about the whole wall.
    """
    filled = [
        (i, texts) for i, texts in enumerate(layers, 1) if any(map(str.strip, texts.values()))
    ]
    head = _cells(0, whole)
    rows = [
        _cells(place, {**texts, "layer_no": str(number)})
        for number, (place, texts) in enumerate(filled, start=1)
    ]
    found = WallReader(load_reference().vocabulary).build_up(head, rows)
    if problems := [problem for cells in (head, *rows) for problem in cells.problems]:
        raise InputError([_placed(problem) for problem in problems])
    return found


def _cells(place: int, texts: Texts) -> Cells:
    stripped = {key: text.strip() for key, text in texts.items()}
    return Cells(RawRow("", LAYERS.key, place, stripped), LAYERS)


def _placed(problem: Problem) -> Problem:
    return Problem(
        problem.message,
        problem.expected,
        row=problem.row or None,
        column=_KEY_OF_HEADER[problem.column],
        value=problem.value,
    )


def wall_texts(build_up: BuildUp) -> dict[str, str]:
    """What is said of the wall as a whole, as `read_wall` reads it."""
    vocabulary = load_reference().vocabulary
    return {
        "system_family": write_value(_WALL["system_family"], build_up.system_family, vocabulary),
        "substrate": write_value(_WALL["substrate"], build_up.substrate, vocabulary),
        "all_layers_listed": "yes" if build_up.lists_all_layers else "no",
    }


def layer_texts(layer: Layer) -> dict[str, str]:
    """One layer, as `read_wall` reads it."""
    vocabulary = load_reference().vocabulary
    texts = dict.fromkeys(LAYER_FIELDS, "")
    texts |= {"role": layer.role.value, "layer_note": layer.note}
    for column, attribute in ATTRIBUTE_OF_COLUMN[layer.role].items():
        texts[column] = write_value(attribute, layer.value(attribute.key), vocabulary)
    return texts
