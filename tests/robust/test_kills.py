"""Whenever the program is killed, what it was writing is there whole or not at all."""

import random
import time
from collections.abc import Callable
from pathlib import Path
from typing import Any

import sqlalchemy as sa
from sqlalchemy.orm import Session

from portfolio.db import models
from portfolio.db.documents import Document
from portfolio.db.session import engine_for
from portfolio.services.documents.contents import Contents
from portfolio.services.documents.verifying import verify_documents
from portfolio.services.keeping.archive import verify
from tests.robust.processes import working
from tests.robust.wholeness import faults_of, looking_into
from tests.robust.worker import (
    BUILDINGS,
    ZONES,
    add_documents_without_end,
    back_up_without_end,
    edit_without_end,
    estate,
    import_without_end,
    take_in_estate,
)

# together sixty on each database
IMPORTS, EDITS, BACKUPS, DOCUMENTS = 18, 16, 16, 10
LONGEST_MS = 400
_WORK = Callable[[str, str, Any, Path], None]
_CHECK = Callable[[Session, str, list[str]], None]


def _kill_at_random(
    work: _WORK,
    url: str,
    folder: Path,
    times: int,
    check: _CHECK,
) -> int:
    """Kill workers at random moments, and check after each; returns how much they had saved."""
    chance, saved = random.Random(work.__name__), 0
    for number in range(times):
        name = f"K{number}"
        with working(work, url, name, folder) as worker:
            worker.wait_until_ready()
            time.sleep(chance.uniform(0, LONGEST_MS) / 1000)
            told = worker.kill()
        _wait_for_the_server(url)
        with looking_into(url) as session:
            assert faults_of(session) == []
            check(session, name, told)
        saved += len(told)
    return saved


def _wait_for_the_server(url: str) -> None:
    """PostgreSQL's own process may still be ending what the killed one had asked for."""
    if url.startswith("sqlite"):
        return
    engine = engine_for(url)
    others = sa.text(
        "SELECT count(*) FROM pg_stat_activity"
        " WHERE datname = current_database() AND pid <> pg_backend_pid()"
        " AND backend_type = 'client backend'"
    )
    try:
        with engine.connect().execution_options(isolation_level="AUTOCOMMIT") as connection:
            until = time.monotonic() + 20
            while connection.scalar(others):
                assert time.monotonic() < until, "the server still works for a killed process"
                time.sleep(0.01)
    finally:
        engine.dispose()


def _begin(url: str) -> None:
    engine = engine_for(url)
    take_in_estate(engine, estate("FIRST"))
    engine.dispose()


def test_a_killed_import_is_whole_or_absent(database_url: str, tmp_path: Path) -> None:
    def check(session: Session, name: str, told: list[str]) -> None:
        found = _imported(session, name)
        assert set(found.values()) <= {(BUILDINGS, ZONES, ZONES)}
        # the one after the last may have been saved before its name could be told
        assert len(found) - len(told) in (0, 1)
        assert set(told) <= found.keys()

    _begin(database_url)
    saved = _kill_at_random(import_without_end, database_url, tmp_path, IMPORTS, check)
    assert saved < IMPORTS * 3, "hardly an import was under way when it was killed"


def _imported(session: Session, name: str) -> dict[str, tuple[int, int, int]]:
    """By prefix, the buildings, zones and surveys that there are of a worker's imports."""
    query = (
        sa.select(models.Building.ref, models.Building.id, models.Zone.id, models.Survey.id)
        .outerjoin(models.Zone, models.Zone.building_id == models.Building.id)
        .outerjoin(models.Survey, models.Survey.zone_id == models.Zone.id)
        .where(models.Building.ref.startswith(f"{name}-"))
    )
    parts: dict[str, tuple[set[int], set[int], set[int]]] = {}
    for ref, *ids in session.execute(query):
        seen = parts.setdefault(ref.rpartition("-")[0], (set(), set(), set()))
        for place, found in zip(seen, ids, strict=True):
            place.update({found} - {None})
    return {prefix: tuple(map(len, sets)) for prefix, sets in parts.items()}  # type: ignore[misc]


def test_an_edit_that_was_acknowledged_outlives_a_kill(database_url: str, tmp_path: Path) -> None:
    def check(session: Session, name: str, told: list[str]) -> None:
        notes = _notes(session, name)
        assert set(told) <= set(notes)
        assert len(notes) - len(told) in (0, 1)

    _begin(database_url)
    saved = _kill_at_random(edit_without_end, database_url, tmp_path, EDITS, check)
    assert saved > 0


def _notes(session: Session, name: str) -> list[str]:
    """What the log says that a worker saved: each save has one note of its own."""
    rows = session.scalars(sa.select(models.Event.changes).where(models.Event.actor == name))
    named = ("note", "description", "source", "ruling")
    return [str(changes[key][1]) for changes in rows for key in named if key in changes]


def test_a_killed_backup_never_has_its_final_name_unless_it_is_whole(
    database_url: str, tmp_path: Path
) -> None:
    def check(session: Session, name: str, told: list[str]) -> None:
        finished = sorted(path.name for path in tmp_path.glob(f"{name}-*.zip"))
        assert set(told) <= set(finished)
        for file in finished:
            rows = {part.name: part.rows for part in verify(tmp_path / file).parts}
            assert (rows["building"], rows["zone"], rows["survey"]) == (BUILDINGS, ZONES, ZONES)

    _begin(database_url)
    _kill_at_random(back_up_without_end, database_url, tmp_path, BACKUPS, check)
    assert list(tmp_path.glob("*.unfinished")), "no backup was under way when it was killed"


def test_a_kill_leaves_no_document_without_its_file(database_url: str, tmp_path: Path) -> None:
    contents = Contents(tmp_path / "documents")

    def check(session: Session, name: str, told: list[str]) -> None:
        found = verify_documents(session, contents)
        assert found.faults == ()
        query = sa.select(Document.sha256).where(Document.added_by == name)
        kept = set(session.scalars(query))
        assert set(told) <= kept
        # the one after the last may have been saved before it could be told
        assert len(kept) - len(told) in (0, 1)

    _begin(database_url)
    saved = _kill_at_random(add_documents_without_end, database_url, tmp_path, DOCUMENTS, check)
    assert saved > 0
