"""The form by which a logger's file is handed in to be judged."""

from __future__ import annotations

from flask_wtf import FlaskForm
from wtforms import StringField

from portfolio.services.classified_page import Choices
from portfolio.web.form_fields import choice, offered, offered_texts, told

AS_PAGE, AS_XLSX = "page", "xlsx"
AS_CSV = {"criteria": "CSV: criteria", "channels": "CSV: channels", "readings": "CSV: readings"}
ASKS_MOST, NOT_TOLD = "not told: the set that asks most", "not told"


class ClassifyForm(FlaskForm):
    """What belongs to a log besides the files."""

    ignition = StringField(
        "Ignition",
        description="On the log's own clock, such as 300, 5:00 or 14:05:00.",
        **told(30),
    )
    annex = choice("Criteria", [])
    test_edition = choice("Edition that the test was done to", [])
    minute = StringField(
        "Minute of the rig",
        description="From ignition. Empty: when level 2 was hottest.",
        **told(10),
    )
    given_as = choice(
        "Give the answer as",
        [
            (AS_PAGE, "a page"),
            (AS_XLSX, "XLSX with charts"),
            *AS_CSV.items(),
        ],
        empty=None,
        default=AS_PAGE,
    )

    @classmethod
    def offering(cls, found: Choices) -> ClassifyForm:
        """A form in which these annexes and editions may be chosen."""
        form = cls()
        form.annex.choices = offered([("", ASKS_MOST), *found.annexes])
        editions = offered_texts(found.test_editions)
        form.test_edition.choices = offered([("", NOT_TOLD), *editions])
        return form
