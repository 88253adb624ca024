"""Compares the rows of documents with their files: missing, damaged, and what nobody refers to."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import sqlalchemy as sa
from sqlalchemy.orm import Session

from portfolio.db.documents import Document
from portfolio.services.documents.contents import Contents, FileState


@dataclass(frozen=True, slots=True)
class Fault:
    """A content that is not as it was kept, and the documents (ids and names) that need it."""

    sha256: str
    state: FileState
    documents: tuple[tuple[int, str], ...]


@dataclass(frozen=True, slots=True)
class Verified:
    """What was found. `strays` are files that no document refers to: harmless, never removed."""

    documents: int
    files: int
    faults: tuple[Fault, ...]
    strays: tuple[str, ...]


def verify_documents(session: Session, contents: Contents) -> Verified:
    """Read every file once. Names come before rows: what is added meanwhile is no stray."""
    before = set(contents.names())
    rows = session.execute(
        sa.select(Document.id, Document.sha256, Document.size, Document.file_name).order_by(
            Document.id
        )
    ).all()
    needed: dict[str, list[tuple[int, str]]] = {}
    sizes: dict[str, int] = {}
    for row in rows:
        needed.setdefault(row.sha256, []).append((row.id, row.file_name))
        sizes[row.sha256] = row.size
    faults = _faults(contents, needed, sizes)
    return Verified(len(rows), len(needed), tuple(faults), tuple(sorted(before - needed.keys())))


def _faults(
    contents: Contents, needed: dict[str, list[tuple[int, str]]], sizes: dict[str, int]
) -> Sequence[Fault]:
    states = {sha256: contents.state_of(sha256, sizes[sha256]) for sha256 in needed}
    return [
        Fault(sha256, state, tuple(needed[sha256]))
        for sha256, state in states.items()
        if state is not FileState.WHOLE
    ]
