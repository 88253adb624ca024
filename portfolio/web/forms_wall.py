"""The part of a form that describes a wall: what holds for the whole, and a row for each layer."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any

from wtforms import Field, FieldList, Form, FormField, RadioField, StringField

from portfolio.domain import reaction
from portfolio.domain.errors import InputError, Problem
from portfolio.domain.parameters import ROLE_ATTRIBUTES, Role
from portfolio.domain.walls import BuildUp
from portfolio.reference.loader import load_reference
from portfolio.services.wall_entries import (
    LAYER_FIELDS,
    WALL_FIELDS,
    layer_texts,
    read_wall,
    wall_texts,
)
from portfolio.services.wall_words import ROLE_TITLES
from portfolio.web.form_fields import choice, offered, told
from portfolio.web.page_form import PageForm

MOST_LAYERS = 14
LEAST_ROWS = 6
FREE_ROWS = 2
MORE_ROWS = 3
MORE = "more"
"""Name of the button that only asks for more rows."""


class LayerForm(Form):
    """One layer; what is empty is unknown. Keys are those of the uploaded sheet."""

    role = StringField("Role", **told(40))
    material = StringField("Material or type", **told(300))
    class_ = StringField("Class", name="class", **told(40))
    thickness_mm = StringField("Thickness or depth (mm)", **told(60))
    spacing_mm = StringField("Spacing (mm)", **told(60))
    core_category = StringField("Core category", **told(60))
    calorific_value_mj_kg = StringField("Calorific value (MJ/kg)", **told(60))
    joint = StringField("Joints", **told(60))
    joint_width_mm = StringField("Joint width (mm)", **told(60))
    product = StringField("Product", **told(300))
    layer_note = StringField("Note", **told(1000))

    def texts(self) -> dict[str, str]:
        return {key: self[_form_key(key)].data or "" for key in LAYER_FIELDS}


def _form_key(key: str) -> str:
    """`class` is no name for an attribute."""
    return "class_" if key == "class" else key


@dataclass(frozen=True, slots=True)
class WordGroup:
    """Words of the vocabulary that go together: (value, words)."""

    title: str
    words: tuple[tuple[str, str], ...]


def words_of(category: str) -> tuple[tuple[str, str], ...]:
    """The words of a category as choices."""
    terms = load_reference().vocabulary[category].terms.values()
    return tuple((term.key, term.label) for term in terms)


class WallForm(PageForm):
    """A form with a wall in it."""

    system_family = choice("System family", [])
    substrate = choice("Substrate", [])
    all_layers_listed = RadioField(
        "Are all layers listed?",
        choices=offered(
            [
                ("yes", "yes: what is not listed is not there"),
                ("no", "no: what is not listed is unknown"),
            ]
        ),
        default="no",
    )
    layers = FieldList(FormField(LayerForm), "Layers", max_entries=MOST_LAYERS)

    roles: tuple[tuple[str, str], ...] = tuple((role.value, ROLE_TITLES[role]) for role in Role)
    classes: tuple[str, ...] = reaction.CLASSES

    def offer(self) -> None:
        """The words to choose from, and some rows to fill."""
        for field, category in (
            (self.system_family, "system-family"),
            (self.substrate, "substrate"),
        ):
            known = words_of(category)
            kept = [] if not field.data or field.data in dict(known) else [(field.data, field.data)]
            field.choices = offered([("", "unknown"), *known, *kept])
        free = sum(not any(entry.form.data.values()) for entry in self.layers)
        self.offer_rows(max(LEAST_ROWS - len(self.layers.entries), FREE_ROWS - free))

    def offer_rows(self, more: int) -> None:
        """Add empty rows, as many as a wall may have."""
        for _ in range(min(more, MOST_LAYERS - len(self.layers.entries))):
            self.layers.append_entry()

    @property
    def has_room(self) -> bool:
        """Whether another layer may be added."""
        return len(self.layers.entries) < MOST_LAYERS

    def add_rows_if_asked(self, sent: Mapping[str, str]) -> None:
        """The buttons for more rows work without script, by sending the form."""
        place = sent.get(MORE, "")
        if place.isascii() and place.isdigit() and 1 <= int(place) <= len(self.layers.entries):
            self._insert_row(int(place) - 1)
        elif place:
            self.offer_rows(MORE_ROWS)

    def _insert_row(self, at: int) -> None:
        rows = [entry.form.data for entry in self.layers]
        while self.layers.entries:
            self.layers.pop_entry()
        for row in [*rows[:at], {}, *rows[at:]][:MOST_LAYERS]:
            self.layers.append_entry(row)

    def read_wall(self) -> BuildUp:
        """The wall that the form tells of. Raises InputError."""
        whole = {key: self[key].data or "" for key in WALL_FIELDS}
        return read_wall(whole, [entry.form.texts() for entry in self.layers])

    def validate(self, extra_validators: Any = None) -> bool:
        """Besides the fields: the wall can be read, each problem at its own field."""
        is_fine = bool(super().validate(extra_validators))
        try:
            self.read_wall()
        except InputError as error:
            # rows have no numbers here: a gap in them only follows from a row that cannot be read
            self.refuse(problem for problem in error.problems if problem.column != "layer_no")
            return False
        return is_fine

    def field_of(self, problem: Problem) -> Field | None:
        """The field that a problem is about: of a layer's row where it names one."""
        if problem.row is None:
            return super().field_of(problem)
        found: Field = self.layers[problem.row - 1].form[_form_key(problem.column)]
        return found

    @staticmethod
    def materials() -> Sequence[WordGroup]:
        """What the layers of each role may be made of."""
        return [
            WordGroup(ROLE_TITLES[role], words_of(attributes[0].category))
            for role, attributes in ROLE_ATTRIBUTES.items()
            if attributes[0].category
        ]

    @staticmethod
    def words(category: str) -> Sequence[tuple[str, str]]:
        return words_of(category)


def wall_values(build_up: BuildUp) -> dict[str, Any]:
    """What to fill the form of a wall with."""
    layers = (layer_texts(layer) for layer in build_up.layers)
    return wall_texts(build_up) | {
        "layers": [{_form_key(key): text for key, text in layer.items()} for layer in layers]
    }
