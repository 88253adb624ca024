"""The form in which a named engineer says which outcome of a test counts."""

from __future__ import annotations

from datetime import date
from typing import Self

from flask import Blueprint, url_for
from flask.typing import ResponseReturnValue
from wtforms import StringField, TextAreaField

from portfolio.domain.evidence import Outcome, outcome_from_criteria
from portfolio.services.editing import Saved
from portfolio.services.outcome_rulings import OutcomeFacts, contradiction, rule_on_outcome
from portfolio.web import labels, store
from portfolio.web.form_fields import DayField, choice, told
from portfolio.web.page_form import PageForm
from portfolio.web.saving import saved_or_shown

blueprint = Blueprint("outcome", __name__)

_EITHER = [(one.value, labels.word(one)) for one in (Outcome.FAILED, Outcome.PASSED)]


class OutcomeForm(PageForm):
    """Which of two outcomes counts."""

    outcome = choice("The outcome that counts", _EITHER, empty=None)
    by = StringField("Engineer", **told(200, required="Name the engineer."))
    qualification = StringField("Qualification", **told(200))
    on = DayField("Date", required=True)
    reason = TextAreaField("Reasons", **told(5000, required="Give the reasons."))
    document = StringField("Document", description="Its reference.", **told(300))

    @classmethod
    def empty(cls, on: date) -> Self:
        """The form with today's date in it."""
        return cls(data={"on": on})

    def facts(self) -> OutcomeFacts:
        """What the form says, once it is valid."""
        return OutcomeFacts(
            Outcome(self.outcome.data),
            self.by.data or "",
            self.on.data,
            self.reason.data or "",
            self.qualification.data or "",
            self.document.data or "",
        )


@blueprint.route("/tests/<int:test_id>/outcome", methods=["GET", "POST"])
def settle(test_id: int) -> ResponseReturnValue:
    """Say which outcome counts; the other one stays on record beside it."""
    with store.reading() as session:
        known = contradiction(session, store.viewer(), test_id)
    form = OutcomeForm.empty(store.today())
    return saved_or_shown(
        form,
        "details/outcome_form.html",
        save=lambda session: rule_on_outcome(
            session, store.viewer(), test_id, form.facts(), store.today()
        ),
        to=_address,
        test=known,
        test_id=test_id,
        from_criteria=outcome_from_criteria(known.criteria),
        labels=labels,
    )


def _address(saved: Saved) -> str:
    return url_for("evidence.show", test_id=saved.id)
