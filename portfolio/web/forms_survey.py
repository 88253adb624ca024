"""The form of a survey: what one source says of a zone's wall on one date."""

from __future__ import annotations

from datetime import date
from typing import Any

from flask import request
from wtforms import StringField

from portfolio.domain.surveys import Basis, Survey
from portfolio.services.surveying import SurveyStart
from portfolio.web.form_fields import DayField, choice, told, told_ref
from portfolio.web.forms_wall import WallForm, wall_values


class SurveyForm(WallForm):
    """What one source says of a zone on one date."""

    ref = StringField("Reference", **told_ref(required="Give the survey a reference."))
    basis = choice("What it rests on", [(b.value, b.label) for b in Basis], empty="choose one")
    on = DayField("Date of the survey", required=True)
    source = StringField(
        "Source", description="The document or the person that says so.", **told(300)
    )

    def validate(self, extra_validators: Any = None) -> bool:
        """Besides the wall: nothing is a survey that does not say what it rests on."""
        is_fine = super().validate(extra_validators)
        if not self.basis.data:
            self.basis.errors = ["Choose what the survey rests on."]
            is_fine = False
        return is_fine

    @classmethod
    def begun(cls, start: SurveyStart, on: date) -> SurveyForm:
        """The form with the latest survey's wall in it: most of it is usually seen again."""
        form = cls(data={"ref": start.next_ref, "on": on} | wall_values(start.build_up))
        form.offer()
        form.add_rows_if_asked(request.form)
        return form

    def survey(self) -> Survey:
        """The survey, once the form is valid."""
        return Survey(
            self.ref.data or "",
            Basis(self.basis.data),
            self.on.data,
            self.source.data or "",
            self.read_wall(),
        )
