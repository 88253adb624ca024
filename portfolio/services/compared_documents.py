"""The documents that support what a comparison tells of a wall, parameter by parameter."""

from __future__ import annotations

from collections.abc import Collection, Mapping, Sequence
from dataclasses import dataclass
from datetime import date

import sqlalchemy as sa
from sqlalchemy.orm import Session

from portfolio.db import models
from portfolio.domain.documents import FactKind
from portfolio.domain.parameters import PARAMETERS
from portfolio.domain.surveys import Wall
from portfolio.domain.walls import BuildUp
from portfolio.services.documents.listing import (
    DocumentLine,
    documents_of_tests,
    documents_of_zone,
)
from portfolio.services.viewer import Viewer


@dataclass(frozen=True, slots=True)
class Paper:
    """One document by its row's id, and what to call it."""

    id: int
    name: str


_Backed = Mapping[tuple[int, int], Sequence[Paper]]
"""Papers by the fact that they support and the layer of it, 0 for the whole fact."""


def papers_of_zone(
    session: Session, viewer: Viewer, zone_id: int, wall: Wall, on: date
) -> dict[str, tuple[Paper, ...]]:
    """By parameter, the documents of the survey that its value is taken from, or of its layer."""
    backed = _backed(documents_of_zone(session, viewer, zone_id, on), FactKind.SURVEY)
    if not backed:
        return {}
    query = sa.select(models.Survey.ref, models.Survey.id).filter_by(zone_id=zone_id)
    ids = {row.ref: row.id for row in session.execute(query)}
    told = ((key, fact.claim.survey) for key, fact in wall.facts.items())
    return {key: _speaking(backed, ids[s.ref], key, s.build_up) for key, s in told}


def papers_of_test(
    session: Session, viewer: Viewer, test_id: int, build_up: BuildUp, on: date
) -> dict[str, tuple[Paper, ...]]:
    """By parameter, the documents of the test, or of its layer."""
    backed = _backed(documents_of_tests(session, viewer, [test_id], on), FactKind.TEST)
    return {key: _speaking(backed, test_id, key, build_up) for key in PARAMETERS} if backed else {}


def _backed(lines: Collection[DocumentLine], kind: FactKind) -> _Backed:
    found: dict[tuple[int, int], list[Paper]] = {}
    for line in lines:
        paper = Paper(line.row.id, line.row.reference or line.row.file_name)
        for support in line.supports:
            if support.place.kind is kind:
                found.setdefault((support.place.id, support.layer), []).append(paper)
    return found


def _speaking(backed: _Backed, fact_id: int, key: str, build_up: BuildUp) -> tuple[Paper, ...]:
    whole = backed.get((fact_id, 0), ())
    layer = _layer_of(key, build_up)
    of_layer = backed.get((fact_id, layer), ()) if layer else ()
    return tuple(dict.fromkeys((*whole, *of_layer)))


def _layer_of(key: str, build_up: BuildUp) -> int:
    """Which layer of the build-up, counted from 1, the parameter is of; 0 for none of them."""
    parameter = PARAMETERS[key]
    alike = [at for at, la in enumerate(build_up.layers, start=1) if la.role is parameter.role]
    return alike[parameter.slot - 1] if parameter.slot <= len(alike) else 0
