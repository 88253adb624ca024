"""The forms in which named people rule on a zone."""

from __future__ import annotations

from flask import Blueprint, url_for
from flask.typing import ResponseReturnValue

from portfolio.domain.rights import Right
from portfolio.services.editing import Saved
from portfolio.services.rulings import record_decision, settle
from portfolio.services.zone_page import conflict_of, zone_row
from portfolio.web import store
from portfolio.web.forms_rulings import DecisionForm, SettlementForm
from portfolio.web.saving import saved_or_shown

blueprint = Blueprint("ruling", __name__)


@blueprint.route("/zones/<int:zone_id>/decisions/new", methods=["GET", "POST"])
def decide(zone_id: int) -> ResponseReturnValue:
    """Record a named engineer's decision; it stands beside the computed coverage."""
    with store.reading() as session:
        zone = zone_row(session, store.viewer(), zone_id)
        place = zone.building.organisation_id, zone.building_id
        store.viewer().require(Right.DECIDE, *place, what="zone")
    form = DecisionForm.empty(store.today())
    return saved_or_shown(
        form,
        "details/decision_form.html",
        save=lambda session: record_decision(
            session, store.viewer(), zone_id, form.facts(), store.today()
        ),
        to=_address,
        zone=zone,
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
