"""Adds documents, says what each supports, and takes that back with a reason.

The same content added again is the same document of that organisation; what another organisation
holds is never looked at, so that nobody learns of it by adding a file.
"""

from __future__ import annotations

from collections.abc import Collection, Mapping, Sequence
from dataclasses import dataclass
from datetime import date

import sqlalchemy as sa
from sqlalchemy.orm import Session

from portfolio.db import changelog
from portfolio.db.documents import Document, DocumentSupport
from portfolio.domain.documents import (
    HAVE_LAYERS,
    LARGEST_MB,
    DocumentKind,
    FactKind,
    SeenBy,
    SupportedFact,
    media_of,
    shown_name,
)
from portfolio.domain.errors import InputError, NotFoundError, Problem
from portfolio.domain.rights import Right
from portfolio.services.documents.contents import Contents
from portfolio.services.documents.facts import Place, place_of, places_of
from portfolio.services.marking import mark_paper_gone, mark_survey_paper_gone
from portfolio.services.papers_in_packs import overtake_by_paper, packs_with_paper
from portfolio.services.stored import batches
from portfolio.services.viewer import Viewer

NOT_NAMED = "that is kept to the organisation that holds it"
LARGEST = LARGEST_MB * 1024 * 1024


@dataclass(frozen=True, slots=True)
class DocumentFacts:
    """What is said of a document when it is added. `on` is the day that it bears."""

    kind: DocumentKind
    reference: str = ""
    on: date | None = None
    seen_by: SeenBy = SeenBy.OWN


@dataclass(frozen=True, slots=True)
class Added:
    """What became of a document: `was_held` where this organisation had the same content, and who
    may see it now, which `was_narrowed` by this."""

    id: int
    name: str
    was_held: bool
    newly_supported: int
    seen_by: SeenBy
    was_narrowed: bool = False


@dataclass(frozen=True, slots=True)
class GivenContent:
    """A file as it was handed in."""

    name: str
    content: bytes


def add_document(
    session: Session,
    viewer: Viewer,
    contents: Contents,
    given: GivenContent,
    *,
    facts: DocumentFacts,
    supports: Sequence[SupportedFact],
    on: date,
) -> Added:
    """Keep a document and what it supports, which is at least one fact.

    A document that the organisation holds keeps what was first said of it; but of two choices who
    may see it the narrower counts, whichever came first. Raises NotFoundError, ForbiddenError,
    InputError; then nothing was kept, at most a file that nobody refers to.
    """
    places = _places_to_support(session, viewer, supports)
    name = _checked(given, facts, on)
    # the file first: a row never refers to a file that is not there
    sha256 = contents.put(given.content)
    row = Document(
        organisation_id=viewer.organisation_id or places[0].organisation_id,
        sha256=sha256,
        size=len(given.content),
        media=media_of(given.content),
        file_name=name,
        kind=facts.kind,
        reference=facts.reference,
        on=facts.on,
        seen_by=facts.seen_by,
        added_by=viewer.name,
        added_on=on,
    )
    held = _held(session, row) or _kept(session, viewer, row)
    kept = held or row
    newly = _support(session, viewer, kept, supports=supports, places=places, on=on)
    narrowed = held is not None and _narrowed(session, viewer, held, facts.seen_by)
    return Added(kept.id, kept.file_name, held is not None, newly, kept.seen_by, narrowed)


def attach(
    session: Session,
    viewer: Viewer,
    document_id: int,
    supports: Sequence[SupportedFact],
    on: date,
    *,
    seen_by: SeenBy,
) -> Added:
    """Let a document of one's own support more facts; `seen_by` is who may see it with these.

    Raises NotFoundError, ForbiddenError, and InputError, also where more would see it than that:
    a document is seen by the same with everything that it supports.
    """
    row = _own(session, viewer, document_id)
    if seen_by is SeenBy.OWN and row.seen_by is not SeenBy.OWN:
        message = (
            f"Document {row.id} is shown to whoever may see what it supports, and would be to "
            "whoever may see this: choose so, or add its file again to keep it to your "
            "organisation, here and wherever it is shown now."
        )
        raise InputError([Problem(message, column="seen_by")])
    places = _places_to_support(session, viewer, supports)
    newly = _support(session, viewer, row, supports=supports, places=places, on=on)
    return Added(row.id, row.file_name, True, newly, row.seen_by)


def detach(session: Session, viewer: Viewer, support_id: int, reason: str, on: date) -> Place:
    """Take back that a document supports a fact, which is returned; the document is kept.

    Packs in which it supports the fact are overtaken, and a decision that it supported, or that
    rests on a survey that it supported, is marked. Whoever may change the fact may do so,
    whoever's document it is. Raises NotFoundError, ForbiddenError, InputError without a reason.
    """
    row = session.get(DocumentSupport, support_id)
    if row is None:
        raise NotFoundError("There is no such document.")
    document = row.document
    tests = {row.test_id or 0} if row.fact is FactKind.TEST else set()
    buildings = {row.building_id} if row.building_id else set()
    packs = packs_with_paper(session, document.id, tests, buildings, on)
    place = _detached(session, viewer, row, reason)
    told = f"{document.reference or document.file_name} no longer supports {place.full_words}"
    overtake_by_paper(session, viewer.actor, packs, told, on)
    # what is kept to its organisation is not named to whoever reads the decision
    is_shown = document.seen_by is SeenBy.WITH_FACT
    name = document.reference or document.file_name if is_shown else NOT_NAMED
    if place.kind is FactKind.DECISION:
        mark_paper_gone(session, place.id, name, on)
    elif place.kind is FactKind.SURVEY and place.zone_id is not None:
        mark_survey_paper_gone(session, place.zone_id, place.words, name, on)
    return place


def detach_consents(
    session: Session, viewer: Viewer, consent_ids: Collection[int], reason: str
) -> None:
    """Take back all support of consents that are about to go; in packs none stands.

    Raises what `detach` does.
    """
    for batch in batches(consent_ids):
        query = sa.select(DocumentSupport).where(
            DocumentSupport.fact == FactKind.CONSENT, DocumentSupport.fact_id.in_(batch)
        )
        for row in session.scalars(query.order_by(DocumentSupport.id)).all():
            _detached(session, viewer, row, reason)


def _detached(session: Session, viewer: Viewer, row: DocumentSupport, reason: str) -> Place:
    place = place_of(session, SupportedFact(row.fact, row.fact_id, row.layer))
    document, layer = row.document, row.layer
    if not viewer.sees(document.organisation_id) and document.seen_by is SeenBy.OWN:
        raise NotFoundError("There is no such document.")
    place.require(viewer, Right.EDIT)
    if not reason.strip():
        raise InputError([Problem("Say why it no longer supports this.", column="reason")])
    document.supports.remove(row)
    session.flush()
    told = {"supports": (words_of(place, layer), None)}
    _log(session, viewer, document, "detached", told, reason=reason.strip())
    return place


def words_of(place: Place, layer: int) -> str:
    """A fact in words, with the layer where it is one."""
    return f"{place.full_words}, layer {layer}" if layer else place.full_words


def _own(session: Session, viewer: Viewer, document_id: int) -> Document:
    row = session.get(Document, document_id)
    if row is None:
        raise NotFoundError("There is no such document.")
    viewer.require(Right.EDIT, row.organisation_id, what="document")
    return row


def _held(session: Session, row: Document) -> Document | None:
    """The document that the organisation has of the same content."""
    same = {"organisation_id": row.organisation_id, "sha256": row.sha256}
    return session.scalar(sa.select(Document).filter_by(**same))


def _kept(session: Session, viewer: Viewer, row: Document) -> Document | None:
    """Write a new document; of two who add the same at once, the later gets the earlier one's."""
    try:
        with session.begin_nested():
            session.add(row)
    except sa.exc.IntegrityError:
        held = _held(session, row)
        if held is None:
            raise
        return held
    told = {
        "file": (None, row.file_name),
        "SHA-256": (None, row.sha256),
        "kind": (None, row.kind),
        "reference": (None, row.reference),
        "date": (None, row.on),
        "seen by": (None, row.seen_by),
    }
    _log(session, viewer, row, "created", {key: told[key] for key in told if told[key][1]})
    return None


def _narrowed(session: Session, viewer: Viewer, row: Document, wanted: SeenBy) -> bool:
    """Keep a document that is shown to others to its organisation where that is wanted now."""
    session.refresh(row, ["seen_by"])
    if wanted is not SeenBy.OWN or row.seen_by is SeenBy.OWN:
        return False
    told = {"seen by": (row.seen_by, wanted)}
    row.seen_by = wanted
    session.flush()
    _log(session, viewer, row, "changed", told)
    return True


def _places_to_support(
    session: Session, viewer: Viewer, supports: Sequence[SupportedFact]
) -> list[Place]:
    """The place of each fact, in their order, once it is sure that the viewer may change it."""
    if not supports:
        raise InputError([Problem("Choose what it supports.", column="supports")])
    known = places_of(session, supports)
    found = []
    for fact in supports:
        place = known.get((fact.kind, fact.id))
        if place is None:
            raise NotFoundError("There is no such fact.")
        place.require(viewer, Right.EDIT)
        if fact.layer and not (fact.kind in HAVE_LAYERS and fact.layer <= place.layers):
            problem = Problem(
                "This has no such layer.", f"a layer from 1 to {place.layers}", column="layer"
            )
            raise InputError([problem])
        found.append(place)
    return found


def _checked(given: GivenContent, facts: DocumentFacts, on: date) -> str:
    """The name to show. Raises InputError with everything wrong."""
    name, problems = shown_name(given.name), []
    if not name:
        problems.append(Problem("The file has no name.", column="file"))
    if not given.content:
        problems.append(Problem("The file is empty.", column="file"))
    if len(given.content) > LARGEST:
        message = f"The file is too large: a document has up to {LARGEST_MB} MB."
        problems.append(Problem(message, column="file"))
    if facts.on is not None and facts.on > on:
        problems.append(Problem("This day has not come yet.", column="on"))
    if problems:
        raise InputError(problems)
    return name


def _support(
    session: Session,
    viewer: Viewer,
    row: Document,
    *,
    supports: Sequence[SupportedFact],
    places: Sequence[Place],
    on: date,
) -> int:
    """Add what the document does not support yet, and tell how many that were."""
    # two who let it support the same at once come one after the other
    session.execute(sa.select(Document.id).filter_by(id=row.id).with_for_update())
    session.expire(row, ["supports"])
    known = {(s.fact, s.fact_id, s.layer) for s in row.supports}
    added = []
    for fact, place in zip(supports, places, strict=True):
        key = (fact.kind, fact.id, fact.layer)
        if key in known:
            continue
        known.add(key)
        row.supports.append(
            DocumentSupport(
                fact=fact.kind,
                fact_id=fact.id,
                layer=fact.layer,
                building_id=place.building_id,
                zone_id=place.zone_id,
                test_id=place.test_id,
                certificate_id=place.certificate_id,
                added_by=viewer.name,
                added_on=on,
            )
        )
        added.append(words_of(place, fact.layer))
    if added:
        session.flush()
        _log(session, viewer, row, "attached", {"supports": (None, added)})
    return len(added)


def _log(
    session: Session,
    viewer: Viewer,
    row: Document,
    action: str,
    told: Mapping[str, tuple[object, object]],
    *,
    reason: str = "",
) -> None:
    entry = changelog.Entry(
        action,
        "document",
        row.id,
        row.reference or row.file_name,
        row.organisation_id,
        told,
        reason,
    )
    changelog.record(session, viewer.actor, [entry])
