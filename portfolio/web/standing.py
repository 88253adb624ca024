"""Changes a test's standing: first what it would do is shown, then it is saved."""

from __future__ import annotations

from datetime import date
from typing import Self

from flask import Blueprint, flash, redirect, render_template, request, url_for
from flask.typing import ResponseReturnValue
from wtforms import HiddenField, StringField, TextAreaField

from portfolio.domain.errors import InputError
from portfolio.domain.evidence import Standing
from portfolio.services.editing import StaleError
from portfolio.services.foreseeing import Effects
from portfolio.services.standing import (
    StandingFacts,
    StandingPage,
    change_standing,
    effects_of,
    standing_page,
)
from portfolio.web import labels, store
from portfolio.web.form_fields import DayField, choice, told, told_ref
from portfolio.web.page_form import PageForm
from portfolio.web.saving import saved_message

blueprint = Blueprint("standing", __name__)


class StandingForm(PageForm):
    """A test's standing from a day on, and why."""

    standing = choice("Standing", [(one.value, labels.word(one)) for one in Standing], empty=None)
    superseded_by = StringField(
        "Superseded by",
        description="Reference of the test that takes its place.",
        **told_ref(),
    )
    on = DayField("Since", required=True)
    reason = TextAreaField("Reason", **told(2000, required="Say why."))
    document = StringField("Document", description="Its reference.", **told(300))
    shown = HiddenField("shown")

    @classmethod
    def of(cls, page: StandingPage, today: date) -> Self:
        """The form over what the standing is now."""
        data = {"standing": page.standing.value, "on": today, "revision": page.revision}
        return cls(data=data)

    def facts(self) -> StandingFacts:
        """What the form says, once it is valid."""
        return StandingFacts(
            Standing(self.standing.data),
            self.on.data,
            self.reason.data or "",
            self.superseded_by.data or "",
            self.document.data or "",
        )

    @property
    def mark(self) -> str:
        """What the effects that were shown belong to."""
        return f"{self.standing.data} {self.superseded_by.data or ''} {self.revision.data}"


@blueprint.route("/tests/<int:test_id>/standing", methods=["GET", "POST"])
def change(test_id: int) -> ResponseReturnValue:
    """The form; sent once it shows what would change, sent again it saves that."""
    with store.reading() as session:
        page = standing_page(session, store.viewer(), test_id)
    form = StandingForm.of(page, store.today())
    if request.method == "GET":
        return _shown(form, page)
    if not form.validate():
        return _shown(form, page, status=400)
    try:
        if form.shown.data == form.mark:
            return _save(form, test_id)
        with store.reading() as session:
            effects = effects_of(session, store.viewer(), test_id, form.facts(), store.today())
    except InputError as error:
        form.refuse(error.problems)
        return _shown(form, page, status=400)
    except StaleError as error:
        form.form_errors.append(
            "Somebody else has changed this test meanwhile: look at what would change now."
        )
        form.revision.raw_data, form.revision.data = None, str(error.revision)
        form.shown.raw_data, form.shown.data = None, ""
        return _shown(form, page, status=409)
    form.shown.raw_data, form.shown.data = None, form.mark
    return _shown(form, page, effects=effects)


def _save(form: StandingForm, test_id: int) -> ResponseReturnValue:
    with store.writing() as session:
        saved = change_standing(
            session,
            store.viewer(),
            test_id,
            form.facts(),
            revision=form.known_revision,
            on=store.today(),
        )
    flash(saved_message(saved), "success")
    return redirect(url_for("evidence.show", test_id=test_id))


def _shown(
    form: StandingForm, page: StandingPage, *, effects: Effects | None = None, status: int = 200
) -> tuple[str, int]:
    shown = {"form": form, "page": page, "effects": effects, "labels": labels}
    return render_template("details/standing.html", **shown), status
