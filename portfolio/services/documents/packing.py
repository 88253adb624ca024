"""The documents behind a building's evidence pack, of today or of an earlier day."""

from __future__ import annotations

from collections.abc import Collection
from datetime import date
from typing import Any

import sqlalchemy as sa
from sqlalchemy.orm import Session

from portfolio.db.documents import Document
from portfolio.domain.documents import FactKind, SupportedFact
from portfolio.packs.contents import PackDocument
from portfolio.services.documents.adding import words_of
from portfolio.services.documents.facts import places_of
from portfolio.services.documents.listing import documents_of_building, documents_of_tests
from portfolio.services.documents.seeing import is_readable
from portfolio.services.reliance import shown_in_full
from portfolio.services.states_then import states_then
from portfolio.services.viewer import Viewer


def pack_documents(
    session: Session, viewer: Viewer, building_id: int, test_ids: Collection[int], on: date
) -> tuple[PackDocument, ...]:
    """What supports the building, its zones, and these tests, as far as the viewer may see it."""
    lines = [
        *documents_of_building(session, viewer, building_id, on),
        *documents_of_tests(session, viewer, test_ids, on),
    ]
    return tuple(_told(line.row, support.words) for line in lines for support in line.supports)


def pack_documents_then(
    session: Session,
    viewer: Viewer,
    building_id: int,
    test_ids: Collection[int],
    on: date,
    *,
    today: date,
) -> tuple[PackDocument, ...]:
    """The same as it was at the end of `on`, of documents and tests that may be seen today."""
    tests = shown_in_full(session, viewer, today, test_ids)
    found: list[tuple[Document, SupportedFact]] = []
    for row, state in documents_then(session, viewer, on, today=today):
        for support in state["supports"]:
            kind = FactKind(support["fact"])
            of_test = kind is FactKind.TEST and support["test_id"] in tests
            if support["building_id"] == building_id or of_test:
                fact = SupportedFact(kind, support["fact_id"], support["layer"])
                found.append((row, fact))
    places = places_of(session, [fact for _, fact in found])
    return tuple(
        _told(row, words_of(places[fact.kind, fact.id], fact.layer)) for row, fact in found
    )


def documents_then(
    session: Session, viewer: Viewer, on: date, *, today: date
) -> list[tuple[Document, dict[str, Any]]]:
    """The documents that the viewer may read today, each with its state at the end of a day."""
    states = states_then(session, "document", None, on)
    query = sa.select(Document).where(is_readable(viewer, today))
    rows = session.scalars(query.order_by(Document.kind, Document.on, Document.id))
    return [(row, states[row.id]) for row in rows if row.id in states]


def _told(row: Document, supports: str) -> PackDocument:
    return PackDocument(
        supports,
        row.kind.value,
        row.reference,
        row.on.isoformat() if row.on else "",
        row.file_name,
        row.size,
        row.sha256,
    )
