"""The page of one zone with its comparison, and the forms that add to it or change it."""

from __future__ import annotations

from flask import Blueprint, render_template, request, url_for
from flask.typing import ResponseReturnValue

from portfolio.domain.errors import InputError, Problem
from portfolio.services.close_failures import MOST_TOLD
from portfolio.services.documents.listing import documents_of_zone
from portfolio.services.editing import Saved
from portfolio.services.editing_buildings import editable_building
from portfolio.services.editing_zones import create_zone, editable_zone, save_zone
from portfolio.services.orders.zone_place import zone_place
from portfolio.services.surveying import add_survey, survey_start
from portfolio.services.zone_page import zone_page
from portfolio.web import comparison_table, downloads, labels, place_table, store
from portfolio.web.forms_building import ZoneForm
from portfolio.web.forms_survey import SurveyForm
from portfolio.web.saving import saved_or_shown

blueprint = Blueprint("zone", __name__)


@blueprint.get("/zones/<int:zone_id>")
def show(zone_id: int) -> ResponseReturnValue:
    """One zone against its nearest test, or against ?test=<id>; ?all=1 compares every test,
    ?otherwise=1 asks what its facts would do if they are found otherwise than tested, and
    ?order=<name> places it by another order than the house order."""
    form, test_id = downloads.asked_format(), _asked_test()
    every, otherwise = (request.args.get(key) == "1" for key in ("all", "otherwise"))
    with store.reading() as session:
        page = zone_page(
            session,
            store.viewer(),
            zone_id,
            store.today(),
            test_id=test_id,
            compare_all=every,
            otherwise=otherwise,
        )
        placed = zone_place(session, store.viewer(), page.row, request.args.get("order", ""))
        if form:
            tables = comparison_table.tables(page) + place_table.tables(placed)
            return downloads.send(f"comparison-{page.row.ref}", tables)
        return render_template(
            "details/zone.html",
            page=page,
            most_close=MOST_TOLD,
            labels=labels,
            placed=placed,
            bar=place_table.bar(placed),
            downloads=downloads.links(*(("Comparison", "Place") if placed else ())),
            documents=documents_of_zone(session, store.viewer(), zone_id, store.today()),
        )


@blueprint.route("/buildings/<int:building_id>/zones/new", methods=["GET", "POST"])
def new(building_id: int) -> ResponseReturnValue:
    """Add a zone to a building."""
    with store.reading() as session:
        building = editable_building(session, store.viewer(), building_id)
    form = ZoneForm.filled(None)
    return saved_or_shown(
        form,
        "details/zone_form.html",
        save=lambda session: create_zone(
            session, store.viewer(), building_id, form.facts(), store.today()
        ),
        to=_address,
        zone=None,
        building_id=building_id,
        building_ref=building.facts.ref,
    )


@blueprint.route("/zones/<int:zone_id>/edit", methods=["GET", "POST"])
def edit(zone_id: int) -> ResponseReturnValue:
    """Change a zone."""
    with store.reading() as session:
        found = editable_zone(session, store.viewer(), zone_id)
    form = ZoneForm.filled(found.facts, found.revision)
    return saved_or_shown(
        form,
        "details/zone_form.html",
        save=lambda session: save_zone(
            session,
            store.viewer(),
            zone_id,
            form.facts(),
            revision=form.known_revision,
            on=store.today(),
        ),
        to=_address,
        filled=lambda facts: ZoneForm.filled(facts, formdata=None),
        zone=found,
        building_id=found.building.id,
        building_ref=found.building.ref,
    )


@blueprint.route("/zones/<int:zone_id>/surveys/new", methods=["GET", "POST"])
def survey(zone_id: int) -> ResponseReturnValue:
    """Add a survey; it begins with what the latest one says."""
    with store.reading() as session:
        start = survey_start(session, store.viewer(), zone_id)
    form = SurveyForm.begun(start, store.today())
    return saved_or_shown(
        form,
        "details/survey_form.html",
        save=lambda session: add_survey(
            session, store.viewer(), zone_id, form.survey(), store.today()
        ),
        to=_address,
        start=start,
    )


def _address(saved: Saved) -> str:
    return url_for("zone.show", zone_id=saved.id)


def _asked_test() -> int | None:
    text = request.args.get("test", "")
    if not text:
        return None
    if not (text.isascii() and text.isdigit() and len(text) <= len("999999999")):
        raise InputError([Problem("This is no test.", "the number of a test", value=text[:20])])
    return int(text)
