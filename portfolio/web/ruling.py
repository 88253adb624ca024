"""The list of decisions, and the forms in which named people rule on a zone."""

from __future__ import annotations

from flask import Blueprint, render_template, url_for
from flask.typing import ResponseReturnValue

from portfolio.domain.rested_on import fingerprint, named
from portfolio.domain.rights import Right
from portfolio.services.editing import Saved
from portfolio.services.ruling_review import Ruling, list_rulings, one_ruling, ruling_fields
from portfolio.services.rulings import basis_of, confirm_decision, record_decision, settle
from portfolio.services.zone_page import conflict_of, zone_row
from portfolio.sheets.writing import Cell, Table
from portfolio.web import downloads, store
from portfolio.web.filters import Query
from portfolio.web.forms_rulings import ConfirmationForm, DecisionForm, SettlementForm
from portfolio.web.paging import paging_of, wanted_page
from portfolio.web.saving import saved_or_shown

blueprint = Blueprint("ruling", __name__)


_STATES = [("review", "to be looked at again"), ("all", "all")]
_HEADERS = (
    "Owner",
    "Building",
    "Zone",
    "Date",
    "Ruling",
    "Engineer",
    "Qualification",
    "Ruled on",
    "Valid from",
    "Valid until",
    "State",
    "Why to look at it again",
    "Last confirmed on",
    "Confirmed by",
)


@blueprint.get("/decisions")
def index() -> ResponseReturnValue:
    """The decisions to look at again, or all, newest first; a page of them, or the whole as a
    file."""
    query = Query()
    to_review = query.choice("state", _STATES, "review") == "review"
    query.check()
    form, page = downloads.asked_format("json"), wanted_page()
    limit, offset = (None, 0) if form else (page.size, page.offset)
    with store.reading() as session:
        found = list_rulings(
            session, store.viewer(), store.today(), to_review=to_review, limit=limit, offset=offset
        )
        if form == "json":
            told = [ruling_fields(ruling) for ruling in found.rows]
            return downloads.json_attachment(told, "decisions")
        if form:
            rows = [_cells(ruling) for ruling in found.rows]
            return downloads.send("decisions", [Table("Decisions", _HEADERS, rows)])
        return render_template(
            "decisions.html",
            rows=found.rows,
            paging=paging_of(page, found.total),
            states=_STATES,
            downloads=downloads.links(more=["json"]),
        )


def _cells(found: Ruling) -> list[Cell]:
    row, last = found.row, found.confirmed[-1] if found.confirmed else None
    return [
        found.owner_ref,
        found.building_ref,
        found.zone_ref,
        row.on,
        row.ruling,
        row.by,
        row.qualification,
        found.ruled_on,
        row.valid_from,
        found.valid_until,
        found.state,
        "; ".join(found.because),
        last.on if last else None,
        last.by if last else "",
    ]


@blueprint.route("/zones/<int:zone_id>/decisions/new", methods=["GET", "POST"])
def decide(zone_id: int) -> ResponseReturnValue:
    """Record a named engineer's decision; it stands beside the computed coverage."""
    with store.reading() as session:
        zone = zone_row(session, store.viewer(), zone_id)
        place = zone.building.organisation_id, zone.building_id
        store.viewer().require(Right.DECIDE, *place, what="zone")
        basis = basis_of(session, zone_id, store.today())
    form = DecisionForm.empty(store.today())
    seen = form.shown(fingerprint(basis))
    return saved_or_shown(
        form,
        "details/decision_form.html",
        save=lambda session: record_decision(
            session, store.viewer(), zone_id, form.facts(), store.today(), seen=seen
        ),
        to=_address,
        zone=zone,
        basis=basis,
        named=named,
    )


@blueprint.route("/decisions/<int:decision_id>/confirm", methods=["GET", "POST"])
def confirm(decision_id: int) -> ResponseReturnValue:
    """Say that a decision still holds although something that it rested on has changed."""
    with store.reading() as session:
        found = one_ruling(session, store.viewer(), decision_id, store.today())
        basis = basis_of(session, found.row.zone_id, store.today())
    form = ConfirmationForm.begun(found.valid_until, store.today())
    seen = form.shown(fingerprint(basis))
    return saved_or_shown(
        form,
        "details/confirmation_form.html",
        save=lambda session: confirm_decision(
            session, store.viewer(), decision_id, form.facts(), store.today(), seen=seen
        ),
        to=_address,
        found=found,
    )


@blueprint.route("/zones/<int:zone_id>/settle/<parameter>", methods=["GET", "POST"])
def settle_conflict(zone_id: int, parameter: str) -> ResponseReturnValue:
    """Say which of several surveys is to be believed about one parameter."""
    with store.reading() as session:
        zone = zone_row(session, store.viewer(), zone_id)
        conflict = conflict_of(session, store.viewer(), zone_id, parameter, store.today())
    form = SettlementForm.about(conflict, store.today())
    return saved_or_shown(
        form,
        "details/settlement_form.html",
        save=lambda session: settle(
            session, store.viewer(), zone_id, form.facts(parameter), store.today()
        ),
        to=_address,
        zone=zone,
        conflict=conflict,
    )


def _address(saved: Saved) -> str:
    return url_for("zone.show", zone_id=saved.id)
