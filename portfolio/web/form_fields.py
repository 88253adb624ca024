"""Fields that read what people write, and keep it as it was written when it cannot be read."""

from __future__ import annotations

import re
from collections.abc import Iterable
from datetime import date
from typing import Any

import wtforms.fields.choices
from wtforms import Field, SelectField, StringField
from wtforms.validators import DataRequired, Length, Optional, ValidationError

from portfolio.domain.measures import read_number
from portfolio.domain.plain_text import Check, is_blank, wrong_in_reference, wrong_in_text
from portfolio.domain.values import Range
from portfolio.domain.vocabulary import UNKNOWN_WORDS
from portfolio.domain.works_money import money_text, read_money
from portfolio.sheets.dates import EXPECTED, read_date

MOST = 1_000_000
WHOLE = re.compile(r"[+-]?\d{1,9}")


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


class MoneyField(_Written):
    """An amount of money as whole minor units, or nothing for unknown."""

    def __init__(self, label: str, **more: Any) -> None:
        super().__init__(label, validators=[Optional()], **more)

    def read(self, text: str) -> int:
        try:
            return read_money(text)
        except ValueError as error:
            raise ValueError(f"Give {error}.") from error

    def written(self, value: int) -> str:
        return money_text(value)


class WholeField(_Written):
    """A whole number from `least` to `most`, or nothing for unknown."""

    def __init__(self, label: str, *, least: int = 0, most: int = MOST, **more: Any) -> None:
        super().__init__(label, validators=[Optional()], **more)
        self.least, self.most = least, most

    def read(self, text: str) -> int:
        if WHOLE.fullmatch(text) and self.least <= int(text) <= self.most:
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


def told(longest: int, *, required: str = "", wrong_in: Check = wrong_in_text) -> dict[str, Any]:
    """Arguments of a text field: trimmed, fit to be kept, at most `longest` characters.

    `wrong_in` is asked what is wrong with the text; references are asked for more.
    """

    def fit(form: object, field: Field) -> None:
        del form
        if wrong := wrong_in(field.data or ""):
            raise ValidationError(wrong)
        if required and is_blank(field.data or ""):
            raise ValidationError(required)

    check = DataRequired(required) if required else Optional()
    most = Length(max=longest, message=f"Give at most {longest} characters.")
    return {"filters": [_tidy], "validators": [check, most, fit]}


def told_ref(longest: int = 60, *, required: str = "") -> dict[str, Any]:
    """Arguments of a field for one reference."""
    return told(longest, required=required, wrong_in=wrong_in_reference)


def _tidy(text: str | None) -> str:
    return (text or "").replace("\r\n", "\n").strip()


def choice(
    label: str, words: Iterable[tuple[str, str]], *, empty: str | None = "unknown", **more: Any
) -> SelectField:
    """A closed list of (value, words); `empty` stands for no value."""
    first = [] if empty is None else [("", empty)]
    return SelectField(label, choices=offered([*first, *words]), **more)


def offered_texts(texts: Iterable[str]) -> list[tuple[str, str]]:
    """Texts that stand for themselves, as (value, words)."""
    return [(text, text) for text in texts]


def offered(words: Iterable[tuple[str, str]]) -> list[Any]:
    """(value, words) as the choices of a field."""
    # WTForms 3.3 deprecates plain tuples; its type stubs and version 3.2 do not know the new class
    kind = getattr(wtforms.fields.choices, "SelectChoice", None)
    return [(value, label) if kind is None else kind(value, label) for value, label in words]
