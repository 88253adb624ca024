"""What other processes do to a database: write without end until killed, or live until a moment.

Each tells by its pipe what was saved, once the program has said that it was.
"""

import hashlib
import random
import time
from collections.abc import Callable
from dataclasses import dataclass, field, replace
from datetime import UTC, date, datetime
from itertools import count
from multiprocessing.connection import Connection
from pathlib import Path
from typing import Any

import sqlalchemy as sa
from sqlalchemy.orm import configure_mappers

from portfolio.db import models
from portfolio.db.session import engine_for, reading, writing
from portfolio.domain.documents import DocumentKind, FactKind, SupportedFact
from portfolio.domain.surveys import Basis, Survey
from portfolio.reference.loader import load_reference
from portfolio.services.building_page import building_page
from portfolio.services.documents.adding import DocumentFacts, GivenContent, add_document
from portfolio.services.documents.contents import Contents
from portfolio.services.editing import StaleError
from portfolio.services.editing_buildings import editable_building, save_building
from portfolio.services.editing_zones import editable_zone, save_zone
from portfolio.services.gaps import GapFilter, list_gaps
from portfolio.services.importing import plan_import
from portfolio.services.keeping.backup import backup
from portfolio.services.overview import overview
from portfolio.services.rulings import DecisionFacts, record_decision
from portfolio.services.surveying import add_survey, survey_start
from portfolio.services.taking_in import take_in
from portfolio.services.viewer import Viewer
from portfolio.sheets.drafts import Drafts
from tests.sheets.support import building, csv_file, drafts_of, layer, zone

ON = date(2026, 3, 1)
NOON = datetime(2026, 3, 1, 12, tzinfo=UTC)
BUILDINGS, ZONES = 60, 120
"""What one import holds; every zone has a survey."""
READY = "ready"
OWNER = csv_file("organisations", {"organisation": "O-1", "name": "An owner", "kind": "owner"})

# once, in the process from which the others are forked
load_reference()
configure_mappers()


def estate(prefix: str) -> Drafts:
    """Buildings of a prefix, with zones and surveys, as somebody hands them in."""
    places = [
        {"building": f"{prefix}-{number % BUILDINGS}", "zone": f"Z-{number}"}
        for number in range(ZONES)
    ]
    return drafts_of(
        OWNER,
        csv_file(
            "buildings", *(building(building=f"{prefix}-{n}", storeys=7) for n in range(BUILDINGS))
        ),
        csv_file("zones", *(zone(**place) for place in places)),
        csv_file(
            "layers", *(layer(role="facing", material="clay-brick", **place) for place in places)
        ),
    )


def take_in_estate(engine: sa.Engine, drafts: Drafts, *, patience: float | None = None) -> None:
    viewer = Viewer("An importer")
    with writing(engine, patience=patience) as session:
        take_in(session, viewer, plan_import(session, viewer, drafts, ON), ON)


def import_without_end(url: str, name: str, pipe: Connection, folder: Path) -> None:
    """Take in one estate after the other, telling the prefix of each."""
    del folder
    engine = engine_for(url)
    for number in count(1):
        prefix = f"{name}-{number}"
        drafts = estate(prefix)
        if number == 1:
            pipe.send(READY)
        take_in_estate(engine, drafts)
        pipe.send(prefix)


def edit_without_end(url: str, name: str, pipe: Connection, folder: Path) -> None:
    """Save a building, a zone, a survey, a decision in turn, telling the note of each."""
    del folder
    engine, chance = engine_for(url), random.Random(name)
    ids = Ids.of(engine)
    pipe.send(READY)
    for number in count(1):
        note = f"{name}-{number}"
        act = _WRITES[number % len(_WRITES)]
        act(engine, Work(Viewer(name), ids, chance, note))
        pipe.send(note)


def back_up_without_end(url: str, name: str, pipe: Connection, folder: Path) -> None:
    """Write one backup after the other, telling the name of each."""
    engine = engine_for(url)
    pipe.send(READY)
    for number in count(1):
        path = folder / f"{name}-{number}.zip"
        backup(engine, path, NOON)
        pipe.send(path.name)


def add_documents_without_end(url: str, name: str, pipe: Connection, folder: Path) -> None:
    """Add one document after the other, telling the SHA-256 of each."""
    engine, contents = engine_for(url), Contents(folder / "documents")
    building = Ids.of(engine).buildings[0]
    pipe.send(READY)
    for number in count(1):
        content = f"{name}-{number}".encode() * 20_000
        with writing(engine) as session:
            add_document(
                session,
                Viewer(name),
                contents,
                GivenContent("paper", content),
                facts=DocumentFacts(DocumentKind.OTHER),
                supports=[SupportedFact(FactKind.BUILDING, building)],
                on=ON,
            )
        pipe.send(hashlib.sha256(content).hexdigest())


@dataclass(frozen=True, slots=True)
class Ids:
    """What there is to edit."""

    buildings: tuple[int, ...]
    zones: tuple[int, ...]

    @classmethod
    def of(cls, engine: sa.Engine) -> "Ids":
        with reading(engine) as session:
            buildings = session.scalars(sa.select(models.Building.id).order_by(models.Building.id))
            zones = session.scalars(sa.select(models.Zone.id).order_by(models.Zone.id))
            return cls(tuple(buildings.all()), tuple(zones.all()))

    def few(self, number: int) -> "Ids":
        """Only some, so that people get in each other's way."""
        return Ids(self.buildings[:number], self.zones[:number])


@dataclass(frozen=True, slots=True)
class Work:
    """Who does the next thing, to what, and the note by which it will be known."""

    viewer: Viewer
    ids: Ids
    chance: random.Random
    note: str


def _save_building(engine: sa.Engine, work: Work) -> None:
    chosen = work.chance.choice(work.ids.buildings)
    with reading(engine) as session:
        was = editable_building(session, work.viewer, chosen)
    facts = replace(was.facts, note=work.note)
    with writing(engine) as session:
        save_building(session, work.viewer, chosen, facts, revision=was.revision, on=ON)


def _save_zone(engine: sa.Engine, work: Work) -> None:
    chosen = work.chance.choice(work.ids.zones)
    with reading(engine) as session:
        was = editable_zone(session, work.viewer, chosen)
    facts = replace(was.facts, description=work.note)
    with writing(engine) as session:
        save_zone(session, work.viewer, chosen, facts, revision=was.revision, on=ON)


def _add_survey(engine: sa.Engine, work: Work) -> None:
    chosen = work.chance.choice(work.ids.zones)
    with writing(engine) as session:
        wall = survey_start(session, work.viewer, chosen).build_up
        survey = Survey(work.note, Basis.OUTSIDE, ON, work.note, wall)
        add_survey(session, work.viewer, chosen, survey, ON)


def _decide(engine: sa.Engine, work: Work) -> None:
    facts = DecisionFacts(
        ruling=work.note,
        by=work.viewer.name,
        qualification="",
        on=ON,
        valid_until=None,
        reasons="seen on site",
        documents="",
    )
    with writing(engine) as session:
        record_decision(session, work.viewer, work.chance.choice(work.ids.zones), facts, ON)


_Act = Callable[[sa.Engine, Work], None]
_WRITES: tuple[_Act, ...] = (_save_building, _save_zone, _add_survey, _decide)


def _look(engine: sa.Engine, work: Work) -> None:
    with reading(engine) as session:
        overview(session, work.viewer, ON)
        list_gaps(session, work.viewer, GapFilter(), limit=50)
        building_page(session, work.viewer, work.chance.choice(work.ids.buildings))


@dataclass
class Lived:
    """What one person did: notes of the saves that the program acknowledged, and what it said."""

    saved: list[str] = field(default_factory=list)
    looks: int = 0
    stale: int = 0
    failures: list[str] = field(default_factory=list)
    longest: float = 0.0
    """Seconds that the slowest act took."""


def live(url: str, name: str, pipe: Connection, seconds: float) -> None:
    """Edit and look by turns for a while, from when one is told to; then tell how it went."""
    engine, chance = engine_for(url), random.Random(name)
    ids = Ids.of(engine).few(12)
    viewer, lived = Viewer(name), Lived()
    pipe.send(READY)
    pipe.recv()
    until = time.monotonic() + seconds
    for number in count(1):
        began = time.monotonic()
        # on a busy machine everybody comes to save something all the same
        if began >= until and (lived.saved or lived.failures):
            break
        try:
            _live_once(engine, Work(viewer, ids, chance, f"{name}-{number}"), lived)
        except StaleError:
            lived.stale += 1
        except Exception as error:
            lived.failures.append(f"{type(error).__name__}: {error}"[:500])
        lived.longest = max(lived.longest, time.monotonic() - began)
    engine.dispose()
    pipe.send(lived)


def _live_once(engine: sa.Engine, work: Work, lived: Lived) -> None:
    act: Any = work.chance.choice((*_WRITES, None))
    if act is None:
        _look(engine, work)
        lived.looks += 1
    else:
        act(engine, work)
        lived.saved.append(work.note)


def begin_log(url: str, name: str, pipe: Connection, rounds: int) -> None:
    """Write entries of two kinds of work into the log, beginning when told to."""
    from portfolio.db.changelog import Actor, Entry, record

    engine = engine_for(url)
    pipe.send(READY)
    pipe.recv()
    for number in range(rounds):
        with writing(engine) as session:
            entry = Entry("looked at", "nothing", number, f"{name}-{number}", None)
            record(session, Actor(name), [entry, entry])
    engine.dispose()
    pipe.send(rounds)
