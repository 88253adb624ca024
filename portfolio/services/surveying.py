"""Adds surveys to zones. A survey is never changed: a correction is a new one."""

from __future__ import annotations

import re
from dataclasses import dataclass
from datetime import date

import sqlalchemy as sa
from sqlalchemy.orm import Session

from portfolio.db import changelog, mapping, models
from portfolio.domain.errors import InputError, NotFoundError, Problem
from portfolio.domain.rights import Right
from portfolio.domain.surveys import Survey
from portfolio.domain.walls import BuildUp, parameters_of
from portfolio.reference.loader import load_reference
from portfolio.services.editing import Saved, locked_zone, recompute
from portfolio.services.viewer import Viewer
from portfolio.services.wall_words import build_up_in_words


@dataclass(frozen=True, slots=True)
class SurveyStart:
    """What a new survey's form begins with: a free reference, and the latest survey's wall."""

    zone: models.Zone
    next_ref: str
    latest_ref: str
    build_up: BuildUp


def survey_start(session: Session, viewer: Viewer, zone_id: int) -> SurveyStart:
    """What to fill the form with. Raises NotFoundError."""
    zone = session.get(models.Zone, zone_id)
    if zone is None:
        raise NotFoundError("There is no such zone.")
    viewer.require(Right.EDIT, zone.building.organisation_id, zone.building_id, what="zone")
    query = (
        sa.select(models.Survey)
        .filter_by(zone_id=zone_id)
        .order_by(models.Survey.on, models.Survey.id)
    )
    told = session.scalars(query).all()
    refs = [survey.ref for survey in told]
    if not told:
        return SurveyStart(zone, _next_ref(refs), "", BuildUp())
    latest = mapping.survey_of(told[-1], load_reference().vocabulary)
    return SurveyStart(zone, _next_ref(refs), latest.ref, latest.build_up)


def _next_ref(refs: list[str]) -> str:
    """A reference like the last one, counted on."""
    found = re.fullmatch(r"(.*?)(\d{1,6})", refs[-1]) if refs else None
    stem, number = (found[1], int(found[2])) if found else ("S", len(refs))
    while (ref := f"{stem}{number + 1}") in refs:
        number += 1
    return ref


def add_survey(session: Session, viewer: Viewer, zone_id: int, survey: Survey, on: date) -> Saved:
    """Keep a survey and compute the zone's coverage anew. Raises NotFoundError, InputError."""
    zone = locked_zone(session, viewer, zone_id)
    _check(session, zone_id, survey, on)
    row = models.Survey(
        zone_id=zone_id,
        ref=survey.ref,
        basis=survey.basis,
        on=survey.on,
        source=survey.source,
        build_up=mapping.build_up_to_json(survey.build_up, load_reference().vocabulary),
    )
    session.add(row)
    session.flush()
    building = zone.building
    entry = changelog.Entry(
        "created",
        "survey",
        row.id,
        f"{building.ref} / {zone.ref} / {row.ref}",
        building.organisation_id,
        {
            "basis": (None, survey.basis),
            "date": (None, survey.on),
            "source": (None, survey.source),
            "wall": (None, build_up_in_words(survey.build_up)),
        },
    )
    changelog.record(session, viewer.actor, [entry])
    compared, changed = recompute(session, on, zone_ids=[zone_id])
    return Saved(zone_id, survey.ref, compared, changed)


def _check(session: Session, zone_id: int, survey: Survey, on: date) -> None:
    problems = []
    same = sa.select(models.Survey.id).filter_by(zone_id=zone_id, ref=survey.ref)
    if session.scalar(same) is not None:
        message = "This zone has a survey of this reference already, and surveys are kept."
        problems.append(Problem(message, column="ref", value=survey.ref))
    if survey.on > on:
        message = "This day has not come yet."
        problems.append(Problem(message, column="on", value=survey.on.isoformat()))
    if not parameters_of(survey.build_up):
        message = "The survey says nothing of the wall: give at least one layer."
        problems.append(Problem(message, column="layers"))
    if problems:
        raise InputError(problems)
