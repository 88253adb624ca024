"""Forms that can show what a service refused, and what somebody else saved meanwhile."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from typing import Any

from flask_wtf import FlaskForm
from wtforms import (
    BooleanField,
    Field,
    FieldList,
    FormField,
    HiddenField,
    RadioField,
    SelectField,
)

from portfolio.domain.errors import Problem
from portfolio.web.form_fields import WHOLE


class PageForm(FlaskForm):
    """A form that can show what a service refused, and what somebody else saved meanwhile."""

    revision = HiddenField("revision")
    others: Sequence[tuple[str, str, str]] = ()
    """Where a save was overtaken: (field, what this form says, what is stored now)."""

    @property
    def known_revision(self) -> int:
        """The revision that the form was filled from; 0 where it was tampered with."""
        text = self.revision.data or ""
        return int(text) if WHOLE.fullmatch(text) else 0

    def refuse(self, problems: Iterable[Problem]) -> None:
        """Show each problem at its field; what belongs to none stands above the form."""
        for problem in problems:
            text = problem.message
            if problem.expected:
                text += f" Expected: {problem.expected}."
            field = self.field_of(problem)
            if field is None:
                self.form_errors.append(text)
            else:
                field.errors = [*field.errors, text]

    def field_of(self, problem: Problem) -> Field | None:
        """The field that a problem is about."""
        found: Field | None = self._fields.get(problem.column)
        return found

    @property
    def told_errors(self) -> list[tuple[str, str]]:
        """Everything wrong, in the order of the page: (id of the field or "", sentence)."""
        found = [("", str(error)) for error in self.form_errors]
        for field in self:
            found += _errors_of(field)
        return found

    def overtaken_by(self, stored: PageForm, revision: int) -> None:
        """Hold both versions side by side; the next save is a decision between them."""
        mine, theirs = texts_of(self), texts_of(stored)
        self.others = [
            (label, mine.get(label, ""), theirs.get(label, ""))
            for label in dict.fromkeys((*mine, *theirs))
            if mine.get(label, "") != theirs.get(label, "")
        ]
        self.revision.raw_data = None
        self.revision.data = str(revision)


def _errors_of(field: Field) -> list[tuple[str, str]]:
    """The errors of a field; of a list of rows, those of each field of each row."""
    if not isinstance(field, FieldList):
        first = f"{field.id}-0" if isinstance(field, RadioField) else field.id
        return [(first, f"{field.label.text}: {error}") for error in field.errors]
    # what was added to a row's field after validation is not in the list's own errors
    found = [(field.id, error) for error in field.errors if isinstance(error, str)]
    for place, entry in enumerate(field, start=1):
        for inner in entry.form:
            name = f"{field.label.text}, row {place}, {inner.label.text}"
            found += [(inner.id, f"{name}: {error}") for error in inner.errors]
    return found


def texts_of(form: Any) -> dict[str, str]:
    """What a form says, field by field, in words."""
    return {
        field.label.text: text_of(field)
        for field in form
        if not isinstance(field, HiddenField) and field.type != "CSRFTokenField"
    }


def text_of(field: Field) -> str:
    """What one field says, in words."""
    if isinstance(field, FieldList):
        return "\n".join(filter(None, (text_of(entry) for entry in field)))
    if isinstance(field, FormField):
        parts = ((inner.label.text, text_of(inner)) for inner in field.form)
        return ", ".join(f"{label}: {text}" for label, text in parts if text)
    if isinstance(field, SelectField):
        words = {value: label for value, label, *_ in field.iter_choices()}
        return str(words.get(field.data, field.data)) if field.data else ""
    if isinstance(field, BooleanField):
        return "yes" if field.data else "no"
    return str(field._value())  # type: ignore[attr-defined]  # of every input
