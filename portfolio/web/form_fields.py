"""Fields that read what people write, and forms that lose nothing of it when it is refused."""

from __future__ import annotations

import re
from collections.abc import Iterable, Sequence
from datetime import date
from typing import Any

import wtforms.fields.choices
from flask_wtf import FlaskForm
from wtforms import (
    BooleanField,
    Field,
    FieldList,
    FormField,
    HiddenField,
    RadioField,
    SelectField,
    StringField,
)
from wtforms.validators import DataRequired, Length, Optional, ValidationError

from portfolio.domain.errors import Problem
from portfolio.domain.measures import read_number
from portfolio.domain.values import Range
from portfolio.domain.vocabulary import UNKNOWN_WORDS
from portfolio.sheets.dates import EXPECTED, read_date

MOST = 1_000_000
_WHOLE = re.compile(r"[+-]?\d{1,9}")
_UNSTORABLE = re.compile("[\x00-\x08\x0b-\x1f\x7f\ud800-\udfff\ufffe\uffff]")


def _is_unknown(text: str) -> bool:
    return not text or text.casefold() in UNKNOWN_WORDS


class _Written(StringField):
    """A text input whose text is kept as it was written, and read once."""

    data: Any

    def _value(self) -> str:
        if self.raw_data:
            return str(self.raw_data[0])
        return "" if self.data is None else self.written(self.data)

    def written(self, value: Any) -> str:
        """The text that reads as the value."""
        return str(value)

    def process_formdata(self, valuelist: list[Any]) -> None:
        if valuelist:
            self.data = None
            text = str(valuelist[0]).strip()
            if not _is_unknown(text):
                self.data = self.read(text)

    def read(self, text: str) -> Any:
        """The value of a text. Raises ValueError saying what was expected."""
        raise NotImplementedError


class MeasureField(_Written):
    """One number in `unit`, or nothing for unknown."""

    def __init__(self, label: str, *, unit: str, **more: Any) -> None:
        super().__init__(label, validators=[Optional()], **more)
        self.unit = unit

    def read(self, text: str) -> float:
        expected = f'Give one number in {self.unit}, or "unknown".'
        try:
            value = read_number(text, self.unit)
        except ValueError as error:
            raise ValueError(expected) from error
        if not isinstance(value, Range) or not value.is_known or value.high > MOST:
            raise ValueError(expected)
        return value.low

    def written(self, value: float) -> str:
        return f"{value:.6f}".rstrip("0").rstrip(".") or "0"


class WholeField(_Written):
    """A whole number from `least` to `most`, or nothing for unknown."""

    def __init__(self, label: str, *, least: int = 0, most: int = MOST, **more: Any) -> None:
        super().__init__(label, validators=[Optional()], **more)
        self.least, self.most = least, most

    def read(self, text: str) -> int:
        if _WHOLE.fullmatch(text) and self.least <= int(text) <= self.most:
            return int(text)
        raise ValueError(f'Give a whole number from {self.least} to {self.most}, or "unknown".')


class DayField(_Written):
    """A date, the year first or the day first."""

    def __init__(self, label: str, *, required: bool = False, **more: Any) -> None:
        super().__init__(label, validators=[_must_say if required else Optional()], **more)

    def read(self, text: str) -> date:
        try:
            return read_date(text)
        except ValueError as error:
            raise ValueError(f"{error} Give {EXPECTED}.") from error

    def written(self, value: date) -> str:
        return value.isoformat()


def _must_say(form: object, field: Field) -> None:
    del form
    if field.data is None and not field.process_errors:
        raise ValidationError("Give a date.")


def told(longest: int, *, required: str = "") -> dict[str, Any]:
    """Arguments of a text field: trimmed, storable, at most `longest` characters."""
    check = DataRequired(required) if required else Optional()
    most = Length(max=longest, message=f"Give at most {longest} characters.")
    return {"filters": [_tidy], "validators": [check, most, _storable]}


def _tidy(text: str | None) -> str:
    return (text or "").replace("\r\n", "\n").strip()


def _storable(form: object, field: Field) -> None:
    del form
    if _UNSTORABLE.search(field.data or ""):
        raise ValidationError("This holds a character that cannot be kept.")


def choice(
    label: str, words: Iterable[tuple[str, str]], *, empty: str | None = "unknown", **more: Any
) -> SelectField:
    """A closed list of (value, words); `empty` stands for no value."""
    first = [] if empty is None else [("", empty)]
    return SelectField(label, choices=offered([*first, *words]), **more)


def offered(words: Iterable[tuple[str, str]]) -> list[Any]:
    """(value, words) as the choices of a field."""
    # WTForms 3.3 deprecates plain tuples; its type stubs and version 3.2 do not know the new class
    kind = getattr(wtforms.fields.choices, "SelectChoice", None)
    return [(value, label) if kind is None else kind(value, label) for value, label in words]


class PageForm(FlaskForm):
    """A form that can show what a service refused, and what somebody else saved meanwhile."""

    revision = HiddenField("revision")
    others: Sequence[tuple[str, str, str]] = ()
    """Where a save was overtaken: (field, what this form says, what is stored now)."""

    @property
    def known_revision(self) -> int:
        """The revision that the form was filled from; 0 where it was tampered with."""
        text = self.revision.data or ""
        return int(text) if _WHOLE.fullmatch(text) else 0

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
