"""What sponsors said to other organisations about one test: the holder's list and forms."""

from __future__ import annotations

from datetime import date
from typing import Self

from flask import Blueprint, request, url_for
from flask.typing import ResponseReturnValue
from wtforms import StringField, TextAreaField

from portfolio.domain.evidence import Consent, Shows
from portfolio.services.consents import (
    SAID,
    ConsentFacts,
    Consents,
    consent_of,
    consents_of,
    save_consent,
    take_back,
)
from portfolio.services.editing import Saved
from portfolio.web import labels, store
from portfolio.web.form_fields import DayField, choice, told, told_ref
from portfolio.web.page_form import PageForm
from portfolio.web.saving import saved_or_shown

blueprint = Blueprint("consents", __name__)

_SHOWS = (
    (Shows.REFERENCE.value, "its reference and outcome only"),
    (Shows.EVERYTHING.value, "everything that is recorded of it"),
)


class ConsentForm(PageForm):
    """What the sponsor was asked, or said, on behalf of one organisation."""

    organisation = StringField(
        "Organisation",
        description=(
            "Its reference, as spreadsheets name it. It takes effect only if an organisation of "
            "that reference is registered here when you save; this page does not tell whether "
            "one is."
        ),
        **told_ref(required="Give the reference of the organisation."),
    )
    consent = choice("Consent", [(said.value, labels.word(said)) for said in SAID], empty=None)
    purpose = StringField("For what", **told(300))
    on = DayField("Date")
    until = DayField("Until", description="The last day on which a consent given counts.")
    shows = choice("What may be shown of the report", _SHOWS, empty=None)
    document = StringField("Document", description="Its reference.", **told(300))

    @classmethod
    def filled(
        cls, facts: ConsentFacts, revision: int | None = None, *, is_empty: bool = False
    ) -> Self:
        """The form over what is stored; `is_empty`: whatever was sent is left aside."""
        data = {
            "organisation": facts.organisation,
            "consent": facts.consent.value,
            "purpose": facts.purpose,
            "on": facts.on,
            "until": facts.until,
            "shows": facts.shows.value,
            "document": facts.document,
            "revision": revision,
        }
        return cls(formdata=None, data=data) if is_empty else cls(data=data)

    def facts(self) -> ConsentFacts:
        """What the form says, once it is valid."""
        on: date | None = self.on.data
        return ConsentFacts(
            self.organisation.data or "",
            Consent(self.consent.data),
            self.purpose.data or "",
            on,
            self.until.data,
            Shows(self.shows.data),
            self.document.data or "",
        )


class TakeBackForm(PageForm):
    """Why an entry should not be there."""

    reason = TextAreaField("Reason", **told(2000, required="Say why it is taken back."))

    @classmethod
    def over(cls, found: Consents) -> Self:
        """The form over the list as it is now."""
        return cls(data={"revision": found.revision})


@blueprint.route("/tests/<int:test_id>/consents", methods=["GET", "POST"])
def index(test_id: int) -> ResponseReturnValue:
    """The list, and a form to add to it; ?organisation= fills it with what is stored."""
    with store.reading() as session:
        found = consents_of(session, store.viewer(), test_id)
    form = ConsentForm.filled(_asked(found), found.revision)
    return saved_or_shown(
        form,
        "details/consents.html",
        save=lambda session: save_consent(
            session,
            store.viewer(),
            test_id,
            form.facts(),
            revision=form.known_revision,
            on=store.today(),
        ),
        to=_address,
        filled=lambda facts: ConsentForm.filled(facts, is_empty=True),
        found=found,
        labels=labels,
        today=store.today(),
        shows=dict(_SHOWS),
    )


@blueprint.route(
    "/tests/<int:test_id>/consents/<int:consent_id>/take-back", methods=["GET", "POST"]
)
def remove(test_id: int, consent_id: int) -> ResponseReturnValue:
    """Take back an entry that was made by mistake, with a reason."""
    with store.reading() as session:
        found = consents_of(session, store.viewer(), test_id)
        entry = consent_of(found, consent_id)
    form = TakeBackForm.over(found)
    return saved_or_shown(
        form,
        "details/consent_take_back.html",
        save=lambda session: take_back(
            session,
            store.viewer(),
            test_id,
            consent_id,
            form.reason.data or "",
            revision=form.known_revision,
            on=store.today(),
        ),
        to=_address,
        found=found,
        entry=entry,
        labels=labels,
    )


def _asked(found: Consents) -> ConsentFacts:
    organisation = request.args.get("organisation", "")
    return found.facts_of(organisation) or ConsentFacts("")


def _address(saved: Saved) -> str:
    return url_for("consents.index", test_id=saved.id)
