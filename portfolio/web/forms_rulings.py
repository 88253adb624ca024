"""The forms in which named people rule: a decision on a zone, and a conflict settled."""

from __future__ import annotations

from datetime import date
from typing import Any

from wtforms import BooleanField, HiddenField, RadioField, StringField, TextAreaField

from portfolio.services.rulings import ConfirmationFacts, DecisionFacts, SettlementFacts
from portfolio.services.zone_page import Conflict
from portfolio.web.form_fields import DayField, offered, told
from portfolio.web.page_form import PageForm


class _ShownForm(PageForm):
    """A form that knows what the engineer had before them."""

    seen = HiddenField("seen")
    """The fingerprint of it."""

    def shown(self, seen: str) -> str:
        """What was before the engineer when they sent the form, "" where it does not say; from now
        on, what is shown now."""
        before = self.seen.data or ""
        self.seen.raw_data, self.seen.data = None, seen
        return before


_QUALIFIED = "Give the engineer's qualification."


class DecisionForm(_ShownForm):
    """A named engineer's ruling on a zone."""

    ruling = TextAreaField(
        "Ruling",
        description="What is decided, in the engineer's own words.",
        **told(5000, required="Say what is decided."),
    )
    by = StringField("Engineer", **told(200, required="Name who decides."))
    qualification = StringField("Qualification", **told(200, required=_QUALIFIED))
    on = DayField("Date of the decision", required=True)
    valid_from = DayField(
        "Valid from", description="Today or earlier. Empty: from the date of the decision."
    )
    valid_until = DayField("Valid until", description="Empty where no end was set.")
    reasons = TextAreaField("Reasons", **told(10000, required="Give the reasons."))
    documents = TextAreaField("Documents", description="One a line.", **told(5000))

    @classmethod
    def empty(cls, on: date) -> DecisionForm:
        """The form with today's date in it."""
        return cls(data={"on": on})

    def facts(self) -> DecisionFacts:
        """What the form says, once it is valid."""
        return DecisionFacts(
            self.ruling.data or "",
            self.by.data or "",
            self.qualification.data or "",
            self.on.data,
            self.valid_until.data,
            self.reasons.data or "",
            self.documents.data or "",
            self.valid_from.data,
        )


class ConfirmationForm(_ShownForm):
    """A named engineer's word that a decision still holds."""

    by = StringField("Engineer", **told(200, required="Name who confirms it."))
    qualification = StringField("Qualification", **told(200, required=_QUALIFIED))
    on = DayField("Date", required=True)
    valid_until = DayField(
        "Valid until", description="The last day from now on. Empty where no end is set."
    )
    no_last_day = BooleanField("No last day: it holds from now on without an end")
    reason = TextAreaField(
        "Why it still holds",
        description="What changed, and why the decision holds all the same.",
        **told(5000, required="Say why it still holds."),
    )

    @classmethod
    def begun(cls, valid_until: date | None, on: date) -> ConfirmationForm:
        """The form with today's date in it, and the decision's last day where it is to come."""
        is_ahead = valid_until is not None and valid_until > on
        return cls(data={"on": on, "valid_until": valid_until if is_ahead else None})

    def facts(self) -> ConfirmationFacts:
        """What the form says, once it is valid."""
        return ConfirmationFacts(
            self.by.data or "",
            self.qualification.data or "",
            self.on.data,
            self.reason.data or "",
            self.valid_until.data,
            bool(self.no_last_day.data),
        )


class SettlementForm(PageForm):
    """A named person's word on which of several surveys to believe."""

    survey_ref = RadioField("Which survey is to be believed?", choices=[])
    everywhere = BooleanField("Believe it about everything else on which it is contradicted, too")
    by = StringField("Your name", **told(200, required="Name who settles it."))
    on = DayField("Date", required=True)
    reason = TextAreaField("Reason", **told(5000, required="Give the reason."))

    @classmethod
    def about(cls, conflict: Conflict, on: date, **more: Any) -> SettlementForm:
        """The form for one conflict."""
        form = cls(data={"on": on}, **more)
        form.survey_ref.choices = offered(
            (claim.survey_ref, f"{claim.survey_ref} ({claim.basis}, {claim.on}): {claim.value}")
            for claim in conflict.claims
        )
        return form

    def facts(self, parameter: str) -> SettlementFacts:
        """What the form says, once it is valid."""
        return SettlementFacts(
            parameter,
            self.survey_ref.data or "",
            self.by.data or "",
            self.on.data,
            self.reason.data or "",
            bool(self.everywhere.data),
        )
