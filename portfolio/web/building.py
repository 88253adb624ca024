"""The page of one building, its evidence pack, and the forms that add or change a building."""

from __future__ import annotations

from flask import Blueprint, render_template, url_for
from flask.typing import ResponseReturnValue

from portfolio.services.building_page import building_page
from portfolio.services.documents.listing import documents_of_building
from portfolio.services.editing import Saved
from portfolio.services.editing_buildings import (
    create_building,
    editable_building,
    owners_for,
    save_building,
)
from portfolio.services.packs import building_pack
from portfolio.web import downloads, labels, store
from portfolio.web.forms_building import BuildingForm
from portfolio.web.heights_tables import TITLES, height_tables, threshold_rows
from portfolio.web.saving import saved_or_shown

blueprint = Blueprint("building", __name__)


@blueprint.get("/buildings/<int:building_id>")
def show(building_id: int) -> ResponseReturnValue:
    """One building with its zones; its heights and thresholds also as a file."""
    form = downloads.asked_format()
    with store.reading() as session:
        page = building_page(session, store.viewer(), building_id, store.today())
        if form:
            return downloads.send(f"heights-{building_id}", height_tables(page))
        documents = documents_of_building(session, store.viewer(), building_id, store.today())
        return render_template(
            "details/building.html",
            page=page,
            labels=labels,
            documents=documents,
            thresholds=threshold_rows(page.thresholds),
            height_files=downloads.links(*TITLES),
        )


@blueprint.get("/buildings/<int:building_id>/pack.xlsx")
def pack(building_id: int) -> ResponseReturnValue:
    """The evidence pack of one building."""
    with store.reading() as session:
        made = building_pack(session, store.viewer(), building_id, store.today())
    name = f"evidence-{building_id}-{store.today().isoformat()}.xlsx"
    return downloads.pack(made, name)


@blueprint.route("/buildings/new", methods=["GET", "POST"])
def new() -> ResponseReturnValue:
    """Add a building."""
    with store.reading() as session:
        owners = owners_for(session, store.viewer())
    form = BuildingForm.filled(None)
    form.offer_owners(owners)
    return saved_or_shown(
        form,
        "details/building_form.html",
        save=lambda session: create_building(
            session, store.viewer(), int(form.owner.data), form.facts(), store.today()
        ),
        to=_address,
        building=None,
    )


@blueprint.route("/buildings/<int:building_id>/edit", methods=["GET", "POST"])
def edit(building_id: int) -> ResponseReturnValue:
    """Change a building."""
    with store.reading() as session:
        found = editable_building(session, store.viewer(), building_id)
    form = BuildingForm.filled(found.facts, found.revision)
    form.offer_owners([])
    return saved_or_shown(
        form,
        "details/building_form.html",
        save=lambda session: save_building(
            session,
            store.viewer(),
            building_id,
            form.facts(),
            revision=form.known_revision,
            on=store.today(),
        ),
        to=_address,
        filled=lambda facts: BuildingForm.filled(facts, formdata=None),
        building=found,
    )


def _address(saved: Saved) -> str:
    return url_for("building.show", building_id=saved.id)
