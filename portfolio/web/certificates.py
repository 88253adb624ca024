"""Certificates of materials: the list, one of them, and the form."""

from __future__ import annotations

from dataclasses import asdict
from typing import Any, Self

from flask import Blueprint, render_template, url_for
from flask.typing import ResponseReturnValue
from wtforms import StringField

from portfolio.domain.evidence import Answer3
from portfolio.domain.plain_text import wrong_in_name
from portfolio.domain.rights import Right
from portfolio.services.certificates import (
    CertificateFacts,
    CertificateFilter,
    CertificateLine,
    create_certificate,
    editable_certificate,
    find_certificate,
    list_certificates,
    save_certificate,
)
from portfolio.services.documents.listing import documents_of_certificate
from portfolio.services.editing import Saved
from portfolio.services.editing_buildings import owners_for
from portfolio.sheets.writing import Cell, Table
from portfolio.web import downloads, labels, store
from portfolio.web.filters import Option, Query
from portfolio.web.form_fields import DayField, MeasureField, choice, offered, told, told_ref
from portfolio.web.page_form import PageForm
from portfolio.web.paging import paging_of, wanted_page
from portfolio.web.saving import saved_or_shown

blueprint = Blueprint("certificates", __name__)

_VALID = {
    Answer3.MET.value: "valid",
    Answer3.NOT_MET.value: "not valid",
    Answer3.UNKNOWN.value: "unknown",
}
_VALID_OPTIONS: list[Option] = list(_VALID.items())
HEADERS = (
    "Reference",
    "Issued by",
    "Product",
    "Material",
    "Class (EN 13501-1)",
    "Calorific value (MJ/kg)",
    "Valid from",
    "Valid until",
    "Valid today",
    "Why",
)


class CertificateForm(PageForm):
    """What a paper says of a product."""

    holder = choice("Held by", [], empty=None)
    ref = StringField("Reference", **told_ref(100, required="Give the certificate a reference."))
    issued_by = StringField("Issued by", **told(200))
    product = StringField(
        "Product",
        description="Its identity, as your organisation writes it in walls.",
        **told(200, required="Say of which product it speaks.", wrong_in=wrong_in_name),
    )
    material = StringField("Material", **told(200))
    reaction_class = StringField("Class of EN 13501-1", description="Such as A2-s1,d0.", **told(20))
    calorific_value = MeasureField("Calorific value", unit="MJ/kg", description="In MJ/kg.")
    valid_from = DayField("Valid from")
    valid_until = DayField("Valid until", description="The last day that counts.")

    @classmethod
    def filled(cls, facts: CertificateFacts | None, revision: int = 0, **more: Any) -> Self:
        """The form for a certificate, or for a new one."""
        values: dict[str, Any] = {"revision": str(revision)}
        return cls(data=values | (asdict(facts) if facts else {}), **more)

    def offer_holders(self, holders: list[tuple[int, str]]) -> None:
        """The organisations to choose from; without a choice to make, none is asked."""
        if not holders:
            del self.holder
        else:
            self.holder.choices = offered((str(key), name) for key, name in holders)

    def facts(self) -> CertificateFacts:
        """What the form says, once it is valid."""
        return CertificateFacts(
            self.ref.data or "",
            self.product.data or "",
            self.issued_by.data or "",
            self.material.data or "",
            self.reaction_class.data or "",
            self.calorific_value.data,
            self.valid_from.data,
            self.valid_until.data,
        )


@blueprint.get("/certificates")
def index() -> ResponseReturnValue:
    """One's own certificates; a page of them, or all as a file."""
    query = Query()
    wanted = CertificateFilter(query.text("text"), query.choice("valid", _VALID_OPTIONS))
    query.check()
    form, page = downloads.asked_format(), wanted_page()
    limits = {} if form else {"limit": page.size, "offset": page.offset}
    with store.reading() as session:
        found = list_certificates(session, store.viewer(), wanted, store.today(), **limits)
    if form:
        rows = [_cells(line) for line in found.rows]
        return downloads.send("certificates", [Table("Certificates", HEADERS, rows)])
    return render_template(
        "certificates/list.html",
        rows=found.rows,
        paging=paging_of(page, found.total),
        valid=_VALID,
        options=_VALID_OPTIONS,
        may_add=Right.EDIT in store.viewer().rights,
        downloads=downloads.links(),
    )


def _cells(line: CertificateLine) -> list[Cell]:
    row = line.row
    return [
        row.ref,
        row.issued_by,
        row.product,
        row.material,
        row.reaction_class,
        row.calorific_value,
        row.valid_from.isoformat() if row.valid_from else "",
        row.valid_until.isoformat() if row.valid_until else "",
        _VALID[line.validity.answer.value],
        line.validity.reason,
    ]


@blueprint.get("/certificates/<int:certificate_id>")
def show(certificate_id: int) -> ResponseReturnValue:
    """One certificate, with its documents."""
    on = store.today()
    with store.reading() as session:
        viewer = store.viewer()
        line = find_certificate(session, viewer, certificate_id, on)
        documents = documents_of_certificate(session, viewer, certificate_id, on)
    return render_template(
        "certificates/certificate.html",
        line=line,
        documents=documents,
        labels=labels,
        valid=_VALID,
        may_edit=viewer.may(Right.EDIT, line.row.organisation_id),
    )


@blueprint.route("/certificates/new", methods=["GET", "POST"])
def new() -> ResponseReturnValue:
    """Add a certificate."""
    with store.reading() as session:
        holders = owners_for(session, store.viewer())
    form = CertificateForm.filled(None)
    form.offer_holders(holders)
    return saved_or_shown(
        form,
        "certificates/form.html",
        save=lambda session: create_certificate(
            session, store.viewer(), int(form.holder.data), form.facts()
        ),
        to=_address,
        certificate=None,
    )


@blueprint.route("/certificates/<int:certificate_id>/edit", methods=["GET", "POST"])
def edit(certificate_id: int) -> ResponseReturnValue:
    """Change a certificate."""
    with store.reading() as session:
        facts, revision = editable_certificate(session, store.viewer(), certificate_id)
    form = CertificateForm.filled(facts, revision)
    form.offer_holders([])
    return saved_or_shown(
        form,
        "certificates/form.html",
        save=lambda session: save_certificate(
            session,
            store.viewer(),
            certificate_id,
            form.facts(),
            revision=form.known_revision,
        ),
        to=_address,
        filled=lambda stored: CertificateForm.filled(stored, formdata=None),
        certificate=facts,
        certificate_id=certificate_id,
    )


def _address(saved: Saved) -> str:
    return url_for("certificates.show", certificate_id=saved.id)
