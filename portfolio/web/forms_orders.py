"""The form in which an engineer writes an order of gaps: a place and bands for each criterion."""

from __future__ import annotations

import hashlib
from typing import Any, Self

from wtforms import Field, FieldList, Form, FormField, HiddenField, StringField, TextAreaField

from portfolio.domain.criteria import CRITERIA
from portfolio.domain.errors import Problem
from portfolio.domain.plain_text import wrong_in_name
from portfolio.services.orders.texts import (
    LONGEST,
    OrderTexts,
    StepTexts,
    bands_expected,
    starting_texts,
)
from portfolio.web.form_fields import choice, offered, told
from portfolio.web.page_form import PageForm

_PLACE_LENGTH = 2


class StepForm(Form):
    """One criterion: where it stands among the steps, and which values count alike."""

    criterion = HiddenField("Criterion")
    place = StringField("Place among the steps", **told(_PLACE_LENGTH))
    bands = StringField("Bands", **told(LONGEST["bands"]))

    @property
    def title(self) -> str:
        """What the row is about; the words of a criterion that was tampered with are empty."""
        found = CRITERIA.get(self.criterion.data or "")
        return found.title if found else ""

    @property
    def expected(self) -> str:
        return bands_expected(self.criterion.data or "") if self.title else ""

    def texts(self) -> StepTexts:
        return StepTexts(self.criterion.data or "", self.place.data or "", self.bands.data or "")


class OrderForm(PageForm):
    """An order, or a further version of it."""

    holder = choice("For", [], empty=None)
    key = StringField(
        "Key",
        description='Its name for good: small letters, digits, hyphens, as "tall-first".',
        **told(LONGEST["key"], required="Give the order a key.", wrong_in=wrong_in_name),
    )
    title = StringField("Title", **told(LONGEST["title"], required="Give the order a title."))
    reason = TextAreaField("Reason", **told(LONGEST["reason"], required="Say why."))
    steps = FieldList(FormField(StepForm), "Steps", max_entries=len(CRITERIA))
    shown = HiddenField("shown")

    @classmethod
    def begun(cls) -> Self:
        """The form for a new order: it begins as the house order."""
        return cls(data={"revision": "0", "steps": _rows(starting_texts())})

    @classmethod
    def filled(cls, texts: OrderTexts, version: int = 0, **more: Any) -> Self:
        """The form over what a version says."""
        values = {"key": texts.key, "title": texts.title, "reason": texts.reason}
        return cls(data=values | {"revision": str(version), "steps": _rows(texts.steps)}, **more)

    def offer_holders(self, holders: list[tuple[int, str]]) -> None:
        """The organisations to choose from."""
        self.holder.choices = offered((str(key), name) for key, name in holders)

    def keep(self) -> None:
        """A further version has the key and the organisation of those before it."""
        del self.key, self.holder

    def texts(self, key: str = "") -> OrderTexts:
        """What the form says, once it is valid; `key` where it asks for none."""
        steps = tuple(entry.form.texts() for entry in self.steps)
        own_key = key or (self.key.data or "")
        return OrderTexts(own_key, self.title.data or "", self.reason.data or "", steps)

    def mark(self, texts: OrderTexts, organisation_id: int) -> str:
        """What the moves that were shown belong to."""
        told_then = repr((texts, organisation_id, self.known_revision))
        return hashlib.sha256(told_then.encode()).hexdigest()

    def field_of(self, problem: Problem) -> Field | None:
        """The field that a problem is about: of a step's row."""
        if problem.row is None or problem.row > len(self.steps.entries):
            return super().field_of(problem)
        found: Field = self.steps[problem.row - 1].form[problem.column]
        return found

    def show_again(self, shown: str = "") -> None:
        """Prepare to be shown once more; `shown` marks what the moves beside it belong to."""
        self.shown.raw_data, self.shown.data = None, shown


def _rows(steps: tuple[StepTexts, ...]) -> list[dict[str, str]]:
    return [{"criterion": s.criterion, "place": s.place, "bands": s.bands} for s in steps]
