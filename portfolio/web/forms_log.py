"""The form by which it is kept how a log is read."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from typing import Any, Self

from wtforms import StringField

from portfolio.db.documents import Document
from portfolio.domain.errors import InputError
from portfolio.services.classified_page import Choices
from portfolio.services.log_readings import ReadingFacts
from portfolio.web.form_fields import choice, offered, offered_texts, told
from portfolio.web.forms_classify import ASKS_MOST, NOT_TOLD
from portfolio.web.page_form import PageForm

_IN_HEADERS, _NO_LIST = "the log’s own headers say so", "none"


class ReadingForm(PageForm):
    """How a log is read and judged. It is kept only where the log can be read so."""

    ignition = StringField(
        "Ignition",
        description="On the log's own clock, such as 300, 5:00 or 14:05:00.",
        **told(30),
    )
    criteria = choice("Criteria", [])
    test_edition = choice("Edition that the test was done to", [])
    channels = choice("Where the channels are", [])
    observations = choice("What was seen", [])

    _offer: Choices
    _tried: Callable[[ReadingFacts], object]

    @classmethod
    def filled(
        cls,
        facts: ReadingFacts,
        revision: int,
        *,
        offer: Choices,
        lists: Sequence[Document],
        tried: Callable[[ReadingFacts], object],
        **more: Any,
    ) -> Self:
        """The form over what is kept. `lists` may be chosen; `tried` reads the log as the form
        says, and raises InputError where that cannot be done."""
        form = cls(
            data={
                "ignition": facts.ignition,
                "criteria": offer.name_of(facts.asked),
                "test_edition": facts.test_edition,
                "channels": str(facts.channels or ""),
                "observations": str(facts.observations or ""),
                "revision": str(revision),
            },
            **more,
        )
        named = [(str(row.id), f"{row.id}: {row.file_name}") for row in lists]
        form._offer, form._tried = offer, tried
        form.criteria.choices = offered([("", ASKS_MOST), *offer.sets])
        editions = offered_texts(offer.test_editions)
        form.test_edition.choices = offered([("", NOT_TOLD), *editions])
        form.channels.choices = offered([("", _IN_HEADERS), *named])
        form.observations.choices = offered([("", _NO_LIST), *named])
        return form

    def facts(self) -> ReadingFacts:
        """What the form says, once its fields are valid."""
        asked = self._offer.asked_by(self.criteria.data or "", self.test_edition.data or "")
        return ReadingFacts(
            self.ignition.data or "",
            asked.document,
            asked.edition,
            asked.annex,
            asked.test_edition,
            int(self.channels.data) if self.channels.data else None,
            int(self.observations.data) if self.observations.data else None,
        )

    def validate(self, extra_validators: Any = None) -> bool:
        """Check the fields, then whether the log can be read as they say."""
        if not super().validate(extra_validators):
            return False
        try:
            self._tried(self.facts())
        except InputError as error:
            self.refuse(error.problems)
            return False
        return True
