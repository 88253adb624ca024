"""The form in which an engineer writes an application rule, with its conditions and examples."""

from __future__ import annotations

import hashlib
from collections.abc import Sequence
from datetime import date
from typing import Any, Self

from wtforms import Field, FieldList, Form, FormField, HiddenField, StringField, TextAreaField

from portfolio.domain.errors import Problem
from portfolio.domain.parameters import PARAMETERS
from portfolio.domain.plain_text import wrong_in_name
from portfolio.domain.rules import RuleKind
from portfolio.reference.loader import load_reference
from portfolio.services.rules.texts import (
    ANSWERS,
    CONDITIONED,
    LONGEST,
    RULED,
    ConditionTexts,
    ExampleTexts,
    RuleTexts,
)
from portfolio.sheets.lists import jurisdictions
from portfolio.web.form_fields import DayField, choice, offered, offered_texts, told
from portfolio.web.page_form import PageForm

MOST_CONDITIONS, MOST_EXAMPLES = 8, 16
_LEAST_CONDITIONS, _LEAST_EXAMPLES, _FREE = 2, 3, 1
_WORDS = 'Words parted by "|".'
_OF_CONDITION = {"condition": "parameter", "words": "words"}
_OF_EXAMPLE = ("zone", "tested", "expect", "others", "jurisdiction")


def _titles(keys: Sequence[str]) -> list[tuple[str, str]]:
    return [(key, PARAMETERS[key].title) for key in keys]


_DECISIVE = ", ".join(title for key, title in _titles(RULED) if PARAMETERS[key].is_decisive)


class ConditionForm(Form):
    """Another parameter, and the words that it has to be one of."""

    parameter = choice("Parameter", _titles(CONDITIONED), empty="none")
    words = StringField("Is one of", **told(500))

    def texts(self) -> ConditionTexts:
        return ConditionTexts(self.parameter.data or "", self.words.data or "")


class ExampleForm(Form):
    """One worked example."""

    zone = StringField("The zone has", **told(200))
    tested = StringField("The test had", **told(200))
    expect = choice("The answer is", offered_texts(ANSWERS), empty="none")
    others = StringField("Where both have", **told(500))
    jurisdiction = StringField("The zone stands in", **told(60))

    def texts(self) -> ExampleTexts:
        return ExampleTexts(
            self.zone.data or "",
            self.tested.data or "",
            self.expect.data or "",
            _read_others(self.others.data or ""),
            self.jurisdiction.data or "",
        )


def _read_others(text: str) -> tuple[tuple[str, str], ...]:
    """ "title = word; title = word" as keys and words; what has no such title stays as it is."""
    keys = {title.casefold(): key for key, title in _titles(CONDITIONED)}
    pairs = (part.partition("=") for part in text.split(";") if part.strip())
    named = ((name.strip(), word.strip()) for name, _, word in pairs)
    return tuple((keys.get(name.casefold(), name), word) for name, word in named)


def _write_others(others: Sequence[tuple[str, str]]) -> str:
    return "; ".join(f"{PARAMETERS[key].title} = {word}" for key, word in others)


class RuleForm(PageForm):
    """A rule, or a further version of it."""

    holder = choice("For the walls of", [], empty=None)
    key = StringField(
        "Key",
        description='Its name for good: small letters, digits, hyphens, as "wider-cavity".',
        **told(LONGEST["key"], required="Give the rule a key.", wrong_in=wrong_in_name),
    )
    title = StringField("Title", **told(LONGEST["title"], required="Say in a line what it allows."))
    parameter = choice(
        "Parameter", _titles(RULED), empty=None, description=f"Decisive are {_DECISIVE}."
    )
    kind = choice("The zone may be", [(k.value, k.label) for k in RuleKind], empty=None)
    amount = StringField(
        "By at most",
        description="In the parameter's unit. Empty: no limit at all in that direction.",
        **told(30),
    )
    equals = StringField("The words that count as equals", description=_WORDS, **told(1000))
    families = StringField(
        "System families", description=f"{_WORDS} Empty: all of them.", **told(500)
    )
    jurisdictions = StringField(
        "Jurisdictions", description=f"{_WORDS} Empty: all of them.", **told(500)
    )
    since = DayField("From", required=True, description="The first day on which it counts.")
    until = DayField("Until", description="The last day that counts.")
    document = StringField(
        "Document", **told(LONGEST["document"], required="Say on which document it rests.")
    )
    clause = StringField("Clause", **told(LONGEST["clause"]))
    author = StringField(
        "Engineer", **told(LONGEST["author"], required="Name the engineer who answers for it.")
    )
    reason = TextAreaField("Reason", **told(LONGEST["reason"], required="Say why."))
    conditions = FieldList(FormField(ConditionForm), "Conditions", max_entries=MOST_CONDITIONS)
    examples = FieldList(FormField(ExampleForm), "Examples", max_entries=MOST_EXAMPLES)
    shown = HiddenField("shown")

    @classmethod
    def begun(cls, author: str, today: date) -> Self:
        """The form for a new rule."""
        return cls(data={"revision": "0", "author": author, "since": today})

    @classmethod
    def filled(cls, texts: RuleTexts, version: int = 0, **more: Any) -> Self:
        """The form over what a version says."""
        values = {name: getattr(texts, name) for name in texts.__dataclass_fields__}
        conditions = [{"parameter": c.parameter, "words": c.words} for c in texts.conditions]
        examples = [
            {name: getattr(e, name) for name in _OF_EXAMPLE} | {"others": _write_others(e.others)}
            for e in texts.examples
        ]
        lists = {"conditions": conditions, "examples": examples}
        return cls(data=values | lists | {"revision": str(version)}, **more)

    def offer_holders(self, holders: list[tuple[int, str]]) -> None:
        """The organisations to choose from."""
        self.holder.choices = offered((str(key), name) for key, name in holders)

    def keep(self) -> None:
        """A further version has the key and the organisation of those before it."""
        del self.key, self.holder

    def offer_rows(self) -> None:
        """Rows to fill, and at least an empty one after those that are filled."""
        for rows, least, most in (
            (self.conditions, _LEAST_CONDITIONS, MOST_CONDITIONS),
            (self.examples, _LEAST_EXAMPLES, MOST_EXAMPLES),
        ):
            filled = len(_filled(rows))
            for _ in range(min(max(least, filled + _FREE), most) - len(rows.entries)):
                rows.append_entry()

    def texts(self, key: str = "") -> RuleTexts:
        """What the form says, once it is valid; `key` where it asks for none."""
        return RuleTexts(
            key or self.key.data or "",
            self.title.data or "",
            self.parameter.data,
            self.kind.data,
            self.amount.data or "",
            self.equals.data or "",
            self.families.data or "",
            self.jurisdictions.data or "",
            tuple(entry.form.texts() for entry in _filled(self.conditions)),
            self.since.data,
            self.until.data,
            self.document.data or "",
            self.clause.data or "",
            self.author.data or "",
            self.reason.data or "",
            tuple(entry.form.texts() for entry in _filled(self.examples)),
        )

    def mark(self, texts: RuleTexts, organisation_id: int) -> str:
        """What the effects that were shown belong to."""
        told_then = repr((texts, organisation_id, self.known_revision))
        return hashlib.sha256(told_then.encode()).hexdigest()

    def field_of(self, problem: Problem) -> Field | None:
        """The field that a problem is about: of a condition's or an example's row."""
        if problem.row is None:
            return super().field_of(problem)
        name = _OF_CONDITION.get(problem.column)
        rows = self.examples if name is None else self.conditions
        found: Field = _filled(rows)[problem.row - 1].form[name or problem.column]
        return found

    def show_again(self, shown: str = "") -> None:
        """Prepare to be shown once more; `shown` marks what the effects beside it belong to."""
        self.shown.raw_data, self.shown.data = None, shown
        self.offer_rows()

    @property
    def places(self) -> tuple[str, ...]:
        """The jurisdictions that the reference data speaks of."""
        return jurisdictions(load_reference())

    @property
    def words(self) -> list[tuple[str, str]]:
        """The parameters that have words, each with the words as they may be written."""
        vocabulary = load_reference().vocabulary
        found = ((title, PARAMETERS[key].attribute.category) for key, title in _titles(CONDITIONED))
        return [(title, ", ".join(vocabulary[category].terms)) for title, category in found]


def _filled(rows: Any) -> list[Any]:
    return [entry for entry in rows if any(entry.form.data.values())]
