"""Rows of layers into build-ups, and into surveys of zones."""

from __future__ import annotations

from collections.abc import Sequence

from portfolio.domain.measures import expected_words, read_value
from portfolio.domain.parameters import PLACES, WALL_ATTRIBUTES, Attribute, Kind, Role
from portfolio.domain.surveys import Basis
from portfolio.domain.values import UNKNOWN, Range, Value
from portfolio.domain.vocabulary import Vocabulary
from portfolio.domain.walls import BuildUp, Layer, parameters_of
from portfolio.sheets.cells import Cells
from portfolio.sheets.drafts import Key, SurveyDraft
from portfolio.sheets.layout_walls import ATTRIBUTE_OF_COLUMN, LAYER_COLUMNS

_WALL = {attribute.key: attribute for attribute in WALL_ATTRIBUTES}
_ROLES = tuple(Role)
_VALUE_COLUMNS = tuple(
    column.key for column in LAYER_COLUMNS if column.key not in ("layer_no", "role", "layer_note")
)
_OF_THE_SURVEY = (
    "basis",
    "survey_date",
    "survey_source",
    "system_family",
    "substrate",
    "all_layers_listed",
)


class WallReader:
    """Reads walls; the same words come back in every row, so each is understood only once."""

    def __init__(self, vocabulary: Vocabulary) -> None:
        self._vocabulary = vocabulary
        self._read: dict[tuple[str, str, str], Value | None] = {}

    def survey(self, key: Key, rows: Sequence[Cells]) -> SurveyDraft | None:
        """The survey that the rows tell of, or None when one of them had a problem."""
        head = rows[0]
        basis = head.listed("basis", tuple(Basis))
        if head.is_unknown("basis"):
            expected = f"one of: {', '.join(Basis)}; assumption when there is nothing better"
            head.refuse("basis", "Every survey says what it rests on.", expected)
        day = head.day("survey_date")
        if head.is_unknown("survey_date"):
            head.refuse(
                "survey_date", "Every survey has a date.", head.sheet.column("survey_date").help
            )
        source = head.text("survey_source")
        for cells in rows[1:]:
            _check_same_survey(head, cells)
        build_up = self.build_up(head, rows)
        if day is None or any(cells.problems for cells in rows):
            return None
        owner, building, zone, ref = key
        return SurveyDraft(
            owner, building, zone, ref, Basis(basis), day, source, build_up, head.place
        )

    def build_up(self, head: Cells, rows: Sequence[Cells]) -> BuildUp:
        """The wall: what `head` says of the whole, and the layers in `rows`."""
        family = self._value(head, "system_family", _WALL["system_family"])
        substrate = self._value(head, "substrate", _WALL["substrate"])
        listed = head.yes("all_layers_listed")
        ordered = _in_order(rows)
        layers = tuple(self._layer(cells, role) for cells, role in ordered)
        if _has_too_many(ordered):
            return BuildUp()
        found = BuildUp(layers, family, substrate, listed)
        try:
            parameters_of(found)
        except ValueError as error:
            facing = next(cells for cells, role in ordered if role is Role.FACING)
            facing.refuse("core_category", f"The two contradict each other: {error}.")
        return found

    def _layer(self, cells: Cells, role: Role) -> Layer:
        attributes = ATTRIBUTE_OF_COLUMN[role]
        values = {}
        for column in _VALUE_COLUMNS:
            attribute = attributes.get(column)
            if attribute is not None:
                value = self._value(cells, column, attribute)
                if value is not UNKNOWN:
                    values[attribute.key] = value
            elif not cells.is_unknown(column):
                name = cells.sheet.column(column).header.lower()
                cells.refuse(column, f"A {role.value} layer has no {name}.", "an empty cell")
        return Layer(role, values, cells.text("layer_note"))

    def _value(self, cells: Cells, column: str, attribute: Attribute) -> Value:
        text = cells.raw(column)
        if not text:
            return UNKNOWN
        memory = (attribute.category or attribute.key, attribute.unit, text)
        if memory not in self._read:
            try:
                self._read[memory] = read_value(attribute, text, self._vocabulary)
            except ValueError:
                self._read[memory] = None
        value = self._read[memory]
        if value is None:
            expected = expected_words(attribute, self._vocabulary)
            cells.refuse(column, f"This is not understood as {attribute.title}.", expected)
            return UNKNOWN
        if attribute.above_zero and isinstance(value, Range) and value.high == 0:
            message = f"A layer that is there has some {attribute.title}."
            cells.refuse(column, message, f"more than 0 {attribute.unit}, or an empty cell")
            return UNKNOWN
        if attribute.kind is Kind.IDENTITY:
            cells.name(column)
        return value


def _check_same_survey(head: Cells, cells: Cells) -> None:
    """What is said of the whole survey must be the same in each of its rows."""
    for column in _OF_THE_SURVEY:
        if cells.raw(column) != head.raw(column):
            message = f"This differs from row {head.row.row}, which is of the same survey."
            cells.refuse(column, message, f'"{head.raw(column)}", or another survey reference')


def _in_order(rows: Sequence[Cells]) -> list[tuple[Cells, Role]]:
    """The rows that hold a layer, from the inside out."""
    by_number: dict[int, Cells] = {}
    found: dict[int, tuple[Cells, Role]] = {}
    is_complete = True
    for cells in rows:
        role = _role(cells)
        number = cells.whole("layer_no", least=1)
        if number is None:
            if role is not None and cells.is_unknown("layer_no"):
                cells.refuse("layer_no", "The layer has no number.", "1 for the innermost layer")
            is_complete = is_complete and role is None and cells.is_unknown("layer_no")
        elif number in by_number:
            first = by_number[number].row.row
            cells.refuse("layer_no", f"Row {first} has this number already.", "one number a layer")
        else:
            # a row whose role is refused has its place in the wall all the same
            by_number[number] = cells
            if role is not None:
                found[number] = cells, role
    for place, number in enumerate(sorted(by_number), start=1) if is_complete else ():
        if place != number:
            cells = by_number[number]
            cells.refuse("layer_no", f"There is no layer {place}.", "numbers without a break")
            break
    return [found[number] for number in sorted(found)]


def _role(cells: Cells) -> Role | None:
    """The role of the layer; None for a row without a layer."""
    if not cells.is_unknown("role"):
        word = cells.listed("role", _ROLES)
        return Role(word) if word else None
    if cells.raw("role") or any(cells.raw(column) for column in (*_VALUE_COLUMNS, "layer_note")):
        message = "This row tells of a layer, but not what the layer does in the wall."
        cells.refuse("role", message, f"one of: {', '.join(Role)}")
    return None


def _has_too_many(ordered: Sequence[tuple[Cells, Role]]) -> bool:
    counts = dict.fromkeys(Role, 0)
    for cells, role in ordered:
        counts[role] += 1
        if counts[role] == PLACES[role] + 1:
            message = f"A wall has at most {PLACES[role]} {role.value} layer(s) here."
            expected = (
                'the layers that matter most, the others in their notes, and "no" under All '
                "layers listed: what is not compared must not count as not there"
            )
            cells.refuse("role", message, expected)
    return any(counts[role] > PLACES[role] for role in Role)
