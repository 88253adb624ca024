"""The form that adds a document to a building, a zone or a test."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from typing import Self

from flask import Blueprint, flash, url_for
from flask.typing import ResponseReturnValue
from flask_wtf.file import FileField
from sqlalchemy.orm import Session
from wtforms import StringField

from portfolio.domain.documents import (
    LARGEST_MB,
    LONGEST_REFERENCE,
    DocumentKind,
    SeenBy,
    SupportedFact,
    read_fact,
)
from portfolio.domain.errors import InputError, Problem
from portfolio.services.documents.adding import (
    Added,
    DocumentFacts,
    GivenContent,
    add_document,
    attach,
)
from portfolio.services.documents.contents import contents_for
from portfolio.services.documents.facts import Place
from portfolio.services.documents.offering import (
    Offer,
    offer_of_building,
    offer_of_certificate,
    offer_of_test,
    offer_of_zone,
)
from portfolio.services.editing import Saved
from portfolio.services.viewer import Viewer
from portfolio.web import labels, store
from portfolio.web.form_fields import DayField, WholeField, choice, offered, told
from portfolio.web.page_form import PageForm
from portfolio.web.saving import saved_or_shown

blueprint = Blueprint("documents_adding", __name__)
_LARGEST_NUMBER = 2**31 - 1
_MOST_LAYERS = 999


class DocumentForm(PageForm):
    """A file or a document that is held already, and the fact that it supports."""

    supports = choice("It supports", [], empty=None)
    layer = WholeField(
        "Of its layers only number",
        least=1,
        most=_MOST_LAYERS,
        description="Counted from the inside; for surveys and tests.",
    )
    file = FileField(
        "File", description=f"Any kind, up to {LARGEST_MB} MB. It is kept exactly as it is."
    )
    document = WholeField(
        "Or the number of a document that you hold already",
        least=1,
        most=_LARGEST_NUMBER,
        description="As in the list of documents. What was said of it stays.",
    )
    kind = choice("Kind", labels.DOCUMENT_KINDS.items(), empty=None)
    reference = StringField("Reference", **told(LONGEST_REFERENCE))
    on = DayField("Date", description="The day that the document bears.")
    seen_by = choice("Who may see it", labels.SEEN_BY.items(), empty=None)

    @classmethod
    def offering(cls, places: Sequence[Place]) -> Self:
        """The form in which these facts can be chosen."""
        form = cls(data={})
        form.supports.choices = offered([(str(place.fact), place.full_words) for place in places])
        return form

    def fact(self) -> SupportedFact:
        """The fact that was chosen, once the form is valid."""
        found = read_fact(self.supports.data or "")
        if found is None:
            raise InputError([Problem("Choose what it supports.", column="supports")])
        return SupportedFact(found.kind, found.id, self.layer.data or 0)

    def given(self) -> GivenContent:
        """The file. Raises InputError where none was chosen."""
        sent = self.file.data
        if sent is None or not sent.filename:
            message = "Choose a file, or give the number of a document."
            raise InputError([Problem(message, column="file")])
        return GivenContent(sent.filename, sent.read())

    def facts(self) -> DocumentFacts:
        """What the form says of the document."""
        return DocumentFacts(
            DocumentKind(self.kind.data),
            self.reference.data or "",
            self.on.data,
            SeenBy(self.seen_by.data),
        )


@blueprint.route("/buildings/<int:thing_id>/documents/new", methods=["GET", "POST"])
def to_building(thing_id: int) -> ResponseReturnValue:
    """Add a document to a building, or to what hangs on it."""
    return _added(offer_of_building, thing_id, url_for("building.show", building_id=thing_id))


@blueprint.route("/zones/<int:thing_id>/documents/new", methods=["GET", "POST"])
def to_zone(thing_id: int) -> ResponseReturnValue:
    """Add a document to a survey of a zone, or to a ruling."""
    return _added(offer_of_zone, thing_id, url_for("zone.show", zone_id=thing_id))


@blueprint.route("/tests/<int:thing_id>/documents/new", methods=["GET", "POST"])
def to_test(thing_id: int) -> ResponseReturnValue:
    """Add a document to a test, or to what its sponsor said."""
    return _added(offer_of_test, thing_id, url_for("evidence.show", test_id=thing_id))


@blueprint.route("/certificates/<int:thing_id>/documents/new", methods=["GET", "POST"])
def to_certificate(thing_id: int) -> ResponseReturnValue:
    """Add a document to a certificate: the paper itself."""
    back = url_for("certificates.show", certificate_id=thing_id)
    return _added(offer_of_certificate, thing_id, back)


def _added(
    offer_of: Callable[[Session, Viewer, int], Offer], thing_id: int, back: str
) -> ResponseReturnValue:
    with store.reading() as session:
        offer = offer_of(session, store.viewer(), thing_id)
    form = DocumentForm.offering(offer.places)
    return saved_or_shown(
        form,
        "documents/add.html",
        save=lambda session: _save(session, form),
        to=lambda saved: url_for("documents.show", document_id=saved.id),
        offer=offer,
        back=back,
    )


def _save(session: Session, form: DocumentForm) -> Saved:
    viewer, on, fact = store.viewer(), store.today(), form.fact()
    if form.document.data is not None:
        seen_by = SeenBy(form.seen_by.data)
        added = attach(session, viewer, form.document.data, [fact], on, seen_by=seen_by)
    else:
        contents = contents_for(store.engine())
        given, facts = form.given(), form.facts()
        added = add_document(session, viewer, contents, given, facts=facts, supports=[fact], on=on)
    _tell(added, form)
    return Saved(added.id, added.name)


def _tell(added: Added, form: DocumentForm) -> None:
    if not added.was_held:
        return
    what = (
        f"You held this content already, as document {added.id}: what was said of it then stands, "
        "and it supports this as well."
        if form.document.data is None
        else f"Document {added.id} supports this as well."
    )
    flash(f"{what} {_seen(added)}", "success")


def _seen(added: Added) -> str:
    """Who may see a document that was held before, in words."""
    if added.seen_by is SeenBy.WITH_FACT:
        return "Whoever may see what it supports may see it."
    own = "Only your organisation may see it"
    if added.was_narrowed:
        return f"{own} from now on, also with what it was shown with before."
    return f"{own}, with everything that it supports."
