"""The forms of works: new ones, what is said of them, their statuses, interim measures."""

from __future__ import annotations

from flask import Blueprint, url_for
from flask.typing import ResponseReturnValue

from portfolio.domain.rights import Right
from portfolio.services.editing_buildings import editable_building
from portfolio.services.works.facts import (
    facts_of,
    interim_facts_of,
    required_interim,
    required_works,
)
from portfolio.services.works.recording import (
    add_step,
    create_interim,
    create_works,
    save_interim,
    save_works,
)
from portfolio.web import store
from portfolio.web.forms_works import InterimForm, NewWorksForm, StepForm, WorksForm
from portfolio.web.saving import saved_or_shown

blueprint = Blueprint("works_editing", __name__)


@blueprint.route("/buildings/<int:building_id>/works/new", methods=["GET", "POST"])
def new(building_id: int) -> ResponseReturnValue:
    """Begin works on a building."""
    with store.reading() as session:
        building = editable_building(session, store.viewer(), building_id)
    form = NewWorksForm.begun(store.today())
    return saved_or_shown(
        form,
        "works/form.html",
        save=lambda session: create_works(
            session,
            store.viewer(),
            building_id,
            form.facts(),
            form.step(),
            today=store.today(),
        ),
        to=lambda saved: _address(building_id, saved.id),
        place=(building.facts.ref, building_id),
        works=None,
    )


@blueprint.route("/works/<int:works_id>/edit", methods=["GET", "POST"])
def edit(works_id: int) -> ResponseReturnValue:
    """Change what is said of works; their status has a form of its own."""
    with store.reading() as session:
        row = required_works(session, store.viewer(), works_id, Right.EDIT)
        facts, revision = facts_of(row), row.revision
        place = row.building.ref, row.building_id
    form = WorksForm.filled(facts, revision)
    return saved_or_shown(
        form,
        "works/form.html",
        save=lambda session: save_works(
            session,
            store.viewer(),
            works_id,
            form.facts(),
            revision=form.known_revision,
            today=store.today(),
        ),
        to=lambda saved: _address(place[1], saved.id),
        filled=lambda stored: WorksForm.filled(stored, formdata=None),
        place=place,
        works=facts,
    )


@blueprint.route("/works/<int:works_id>/status", methods=["GET", "POST"])
def step(works_id: int) -> ResponseReturnValue:
    """Record the status that works reached; the earlier ones are kept."""
    with store.reading() as session:
        row = required_works(session, store.viewer(), works_id, Right.EDIT)
        told = facts_of(row)
        status, place = row.status, (row.building.ref, row.building_id)
    form = StepForm.started(status, told.built_on, store.today())
    return saved_or_shown(
        form,
        "works/status_form.html",
        save=lambda session: add_step(
            session,
            store.viewer(),
            works_id,
            form.facts(),
            built_on=form.built_on.data,
            today=store.today(),
        ),
        to=lambda saved: _address(place[1], saved.id),
        place=place,
        works=told,
        status=status,
    )


@blueprint.route("/works/<int:works_id>/interim/new", methods=["GET", "POST"])
def new_interim(works_id: int) -> ResponseReturnValue:
    """Add an interim measure."""
    with store.reading() as session:
        row = required_works(session, store.viewer(), works_id, Right.EDIT)
        place, named = (row.building.ref, row.building_id), row.ref
    form = InterimForm.filled(None)
    return saved_or_shown(
        form,
        "works/interim_form.html",
        save=lambda session: create_interim(
            session, store.viewer(), works_id, form.facts(), store.today()
        ),
        to=lambda saved: _address(place[1], saved.id),
        place=place,
        named=named,
        measure=None,
    )


@blueprint.route("/works/interim/<int:interim_id>/edit", methods=["GET", "POST"])
def edit_interim(interim_id: int) -> ResponseReturnValue:
    """Change an interim measure, or end it."""
    with store.reading() as session:
        row = required_interim(session, store.viewer(), interim_id, Right.EDIT)
        facts, revision = interim_facts_of(row), row.revision
        place, named = (row.works.building.ref, row.works.building_id), row.works.ref
    form = InterimForm.filled(facts, revision)
    return saved_or_shown(
        form,
        "works/interim_form.html",
        save=lambda session: save_interim(
            session,
            store.viewer(),
            interim_id,
            form.facts(),
            revision=form.known_revision,
            today=store.today(),
        ),
        to=lambda saved: _address(place[1], saved.id),
        filled=lambda stored: InterimForm.filled(stored, formdata=None),
        place=place,
        named=named,
        measure=facts,
    )


def _address(building_id: int, works_id: int) -> str:
    return url_for("works.of_building", building_id=building_id, _anchor=f"works-{works_id}")
