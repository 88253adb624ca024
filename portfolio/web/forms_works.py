"""The forms of works: what is decided and planned, a status, an interim measure."""

from __future__ import annotations

from dataclasses import asdict
from datetime import date
from typing import Any, Self

from wtforms import StringField, TextAreaField

from portfolio.domain.works import Decided, WorksStatus
from portfolio.services.works.facts import (
    DEFAULT_CURRENCY,
    InterimFacts,
    StepFacts,
    WorksFacts,
)
from portfolio.web.form_fields import DayField, MoneyField, choice, told, told_ref
from portfolio.web.page_form import PageForm

DECIDED = [(one.value, one.label) for one in Decided]
STATUSES = [(one.value, one.label) for one in WorksStatus]
_CURRENCY_HINT = "Three letters of ISO 4217, such as GBP or EUR."


class WorksForm(PageForm):
    """What is said of works, but for their status."""

    ref = StringField("Reference", **told_ref(60, required="Give the works a reference."))
    title = StringField("What is done", description="In a few words.", **told(200))
    zones = TextAreaField(
        "Zones",
        description="References, one a line. Empty: the whole building.",
        **told(5000),
    )
    decided = choice("Decided", DECIDED, empty=None)
    decided_reason = TextAreaField(
        "Why, and who decided", description="Needed where none is needed.", **told(5000)
    )
    programme = StringField(
        "Programme",
        description="Of remediation, as you call it. A building in several counts once.",
        **told(100),
    )
    responsible = StringField(
        "Responsible",
        description="A person or a post: no more of anybody than the works need.",
        **told(200),
    )
    funding_route = StringField("Funding route", **told(300))
    currency = StringField("Currency", description=_CURRENCY_HINT, **told(3))
    funding_minor = MoneyField("Funding")
    estimate_minor = MoneyField("Cost estimate")
    outturn_minor = MoneyField("Cost outturn")
    due_on = DayField("Own deadline", description="Of a contract, an order, or your own.")
    due_reason = StringField("What sets it", **told(300))
    residents_told_on = DayField("Residents last informed")
    residents_next_on = DayField("Residents next informed by")
    built_on = DayField("New build-up complete on")
    note = TextAreaField("Note", **told(5000))

    @classmethod
    def filled(cls, facts: WorksFacts | None, revision: int = 0, **more: Any) -> Self:
        """The form for works, or for new ones."""
        values: dict[str, Any] = {"revision": str(revision), "currency": DEFAULT_CURRENCY}
        if facts is not None:
            values |= asdict(facts) | {"zones": "\n".join(facts.zones)}
            values["decided"] = facts.decided.value
        return cls(data=values, **more)

    def facts(self) -> WorksFacts:
        """What the form says, once it is valid."""
        zones = dict.fromkeys(line.strip() for line in (self.zones.data or "").splitlines())
        return WorksFacts(
            ref=self.ref.data or "",
            decided=Decided(self.decided.data),
            title=self.title.data or "",
            decided_reason=self.decided_reason.data or "",
            zones=tuple(sorted(ref for ref in zones if ref)),
            built_on=self.built_on.data,
            programme=self.programme.data or "",
            responsible=self.responsible.data or "",
            funding_route=self.funding_route.data or "",
            currency=(self.currency.data or DEFAULT_CURRENCY).upper(),
            funding_minor=self.funding_minor.data,
            estimate_minor=self.estimate_minor.data,
            outturn_minor=self.outturn_minor.data,
            due_on=self.due_on.data,
            due_reason=self.due_reason.data or "",
            residents_told_on=self.residents_told_on.data,
            residents_next_on=self.residents_next_on.data,
            note=self.note.data or "",
        )


class StepForm(PageForm):
    """A status that works reached."""

    status = choice("Status", STATUSES, empty=None)
    on = DayField("Reached on", required=True)
    built_on = DayField(
        "New build-up complete on",
        description="Needed from “complete, awaiting sign-off” on.",
    )
    documents = TextAreaField(
        "Documents that say so",
        description="One a line. The paper of a completion is added as a document of its own.",
        **told(5000),
    )
    reason = TextAreaField("Reason", description="Needed to go back.", **told(5000))

    @classmethod
    def started(cls, status: WorksStatus, built_on: date | None, today: date) -> Self:
        """The form with today's date, and the status that comes next."""
        following = list(WorksStatus)[min(status.place + 1, len(WorksStatus) - 1)]
        return cls(data={"status": following.value, "on": today, "built_on": built_on})

    def facts(self) -> StepFacts:
        """What the form says, once it is valid."""
        return StepFacts(
            WorksStatus(self.status.data),
            self.on.data,
            self.documents.data or "",
            self.reason.data or "",
        )


class NewWorksForm(WorksForm):
    """New works, with their first status."""

    status = choice("Status", STATUSES, empty=None)
    on = DayField("Status reached on", required=True)
    documents = TextAreaField("Documents that say so", description="One a line.", **told(5000))

    @classmethod
    def begun(cls, today: date) -> Self:
        """The form as it begins."""
        return cls(data={"currency": DEFAULT_CURRENCY, "on": today})

    def step(self) -> StepFacts:
        """The first status, once the form is valid."""
        return StepFacts(WorksStatus(self.status.data), self.on.data, self.documents.data or "")


class InterimForm(PageForm):
    """An interim measure."""

    measure = StringField("Measure", **told(200, required="Say what is done."))
    started_on = DayField("Started on", required=True)
    review_on = DayField("Next review on")
    monthly_minor = MoneyField("Cost a month", description="In the currency of the works.")
    ended_on = DayField("Ended on", description="The last day on which it was kept up.")

    @classmethod
    def filled(cls, facts: InterimFacts | None, revision: int = 0, **more: Any) -> Self:
        """The form for a measure, or for a new one."""
        values: dict[str, Any] = {"revision": str(revision)}
        return cls(data=values | (asdict(facts) if facts else {}), **more)

    def facts(self) -> InterimFacts:
        """What the form says, once it is valid."""
        return InterimFacts(
            self.measure.data or "",
            self.started_on.data,
            self.review_on.data,
            self.ended_on.data,
            self.monthly_minor.data,
        )
