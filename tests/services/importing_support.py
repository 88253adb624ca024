"""Imports into a database, step by step, as the pages and commands do it."""

from collections.abc import Iterator
from contextlib import contextmanager
from datetime import date

import sqlalchemy as sa
from sqlalchemy.orm import Session

from portfolio.db import models
from portfolio.db.session import engine_for, reading, writing
from portfolio.services.importing import ImportPlan, ImportResult, apply_import, plan_import
from portfolio.services.viewer import Viewer
from portfolio.sheets.drafts import Drafts
from portfolio.sheets.raw import GivenFile
from tests.sheets.support import building, csv_file, drafts_of, layer, record, zone

ON = date(2026, 3, 1)
LOCAL = Viewer("A. Tester")

ORGANISATIONS = csv_file(
    "organisations",
    {"organisation": "O-1", "name": "First owner", "kind": "owner"},
    {"organisation": "O-2", "name": "Second owner", "kind": "owner"},
)
ESTATE = (
    ORGANISATIONS,
    csv_file("buildings", building(name="House", storeys=7, top_floor_height_m="18.6", note="n")),
    csv_file("zones", zone(face="north", area_m2="320"), zone(zone="Z-2", face="south")),
    csv_file("layers", layer(role="facing", material="clay-brick", survey_source="report 4")),
    csv_file(
        "tests", record(title="panel", standing="live", consent_given_to="O-2", substrate="masonry")
    ),
    csv_file("tested_layers", record(layer_no=1, role="facing", material="fibre-cement")),
)


class Store:
    """A database of a test's own, and its engine."""

    def __init__(self, engine: sa.Engine) -> None:
        self.engine = engine

    def plan(self, *files: GivenFile, viewer: Viewer = LOCAL) -> ImportPlan:
        return self.plan_drafts(drafts_of(*files), viewer)

    def plan_drafts(self, drafts: Drafts, viewer: Viewer = LOCAL) -> ImportPlan:
        with reading(self.engine) as session:
            return plan_import(session, viewer, drafts, ON)

    def apply(self, plan: ImportPlan, viewer: Viewer = LOCAL) -> ImportResult:
        with writing(self.engine) as session:
            return apply_import(session, viewer, plan, ON)

    def take_in(self, *files: GivenFile, viewer: Viewer = LOCAL) -> ImportResult:
        return self.apply(self.plan(*files, viewer=viewer), viewer)

    def viewer_of(self, ref: str) -> Viewer:
        with reading(self.engine) as session:
            query = sa.select(models.Organisation.id).where(models.Organisation.ref == ref)
            return Viewer("B. Tester", session.scalars(query).one())

    @contextmanager
    def session(self) -> Iterator[Session]:
        with reading(self.engine) as session:
            yield session


@contextmanager
def opened(url: str) -> Iterator[Store]:
    """The store at an address, closed at the end."""
    engine = engine_for(url)
    try:
        yield Store(engine)
    finally:
        engine.dispose()
