"""Certificates of materials that an organisation recorded for itself: listed, added, changed."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import asdict, dataclass, fields
from datetime import date

import sqlalchemy as sa
from sqlalchemy.orm import Session

from portfolio.db import changelog
from portfolio.db.certificates import Certificate
from portfolio.db.models import Organisation
from portfolio.domain import certificates
from portfolio.domain.certificates import Validity, validity_on
from portfolio.domain.errors import InputError, NotFoundError, Problem
from portfolio.domain.evidence import Answer3
from portfolio.domain.reaction import classes_meant
from portfolio.domain.rights import Right
from portfolio.services.editing import Saved, StaleError, differences
from portfolio.services.viewer import Viewer


@dataclass(frozen=True, slots=True)
class CertificateFacts:
    """What a person may say of a certificate. None and "" mean that nobody has said."""

    ref: str
    product: str
    issued_by: str = ""
    material: str = ""
    reaction_class: str = ""
    calorific_value: float | None = None
    valid_from: date | None = None
    valid_until: date | None = None


@dataclass(frozen=True, slots=True)
class CertificateLine:
    """One certificate, with what it says and whether it is valid on the day asked for."""

    row: Certificate
    says: tuple[tuple[str, str], ...]
    validity: Validity


@dataclass(frozen=True, slots=True)
class CertificateFilter:
    """Which certificates: words, and an answer to whether they are valid."""

    text: str = ""
    valid: str = ""


@dataclass(frozen=True, slots=True)
class CertificatePage:
    """Certificates by reference, and how many there are altogether."""

    rows: Sequence[CertificateLine]
    total: int


def list_certificates(
    session: Session,
    viewer: Viewer,
    wanted: CertificateFilter,
    on: date,
    *,
    limit: int | None = None,
    offset: int = 0,
) -> CertificatePage:
    """A page of one's own certificates; without a limit all of them."""
    kept = [viewer.only(Certificate.organisation_id), *_conditions(wanted, on)]
    total = session.scalar(sa.select(sa.func.count()).select_from(Certificate).where(*kept)) or 0
    order = Certificate.ref, Certificate.id
    query = sa.select(Certificate).where(*kept).order_by(*order).limit(limit).offset(offset)
    return CertificatePage([_line(row, on) for row in session.scalars(query)], total)


def find_certificate(
    session: Session, viewer: Viewer, certificate_id: int, on: date
) -> CertificateLine:
    """One certificate of one's own. Raises NotFoundError."""
    return _line(_required(session, viewer, certificate_id, Right.READ), on)


def editable_certificate(
    session: Session, viewer: Viewer, certificate_id: int
) -> tuple[CertificateFacts, int]:
    """What to fill a form with, and the revision. Raises NotFoundError, ForbiddenError."""
    row = _required(session, viewer, certificate_id, Right.EDIT)
    return _facts(row), row.revision


def create_certificate(
    session: Session, viewer: Viewer, organisation_id: int, facts: CertificateFacts
) -> Saved:
    """Add a certificate. Raises InputError, NotFoundError, ForbiddenError."""
    viewer.require(Right.EDIT, organisation_id, what="organisation")
    if session.get(Organisation, organisation_id) is None:
        raise NotFoundError("There is no such organisation.")
    _check(session, organisation_id, facts)
    row = Certificate(organisation_id=organisation_id, **asdict(facts))
    session.add(row)
    session.flush()
    told = {key: (None, value) for key, value in asdict(facts).items() if value}
    _log(session, viewer, row, "created", told)
    return Saved(row.id, row.ref)


def save_certificate(
    session: Session,
    viewer: Viewer,
    certificate_id: int,
    facts: CertificateFacts,
    *,
    revision: int,
) -> Saved:
    """Change a certificate. Raises InputError, NotFoundError, ForbiddenError, StaleError."""
    row = _required(session, viewer, certificate_id, Right.EDIT, is_locked=True)
    stored = _facts(row)
    if row.revision != revision:
        raise StaleError(stored, row.revision)
    _check(session, row.organisation_id, facts, but=row.id)
    changes = differences(asdict(stored), asdict(facts))
    if changes:
        for key, value in asdict(facts).items():
            setattr(row, key, value)
        row.revision += 1
        _log(session, viewer, row, "changed", changes)
    return Saved(row.id, row.ref)


def _required(
    session: Session,
    viewer: Viewer,
    certificate_id: int,
    right: Right,
    *,
    is_locked: bool = False,
) -> Certificate:
    row = session.get(Certificate, certificate_id, with_for_update=is_locked or None)
    if row is None:
        raise NotFoundError("There is no such certificate.")
    viewer.require(right, row.organisation_id, what="certificate")
    return row


def _conditions(wanted: CertificateFilter, on: date) -> list[sa.ColumnElement[bool]]:
    found: list[sa.ColumnElement[bool]] = []
    kept = Certificate
    if wanted.text:
        words = (kept.ref, kept.product, kept.material, kept.issued_by)
        found.append(sa.or_(*(c.icontains(wanted.text, autoescape=True) for c in words)))
    # the rule of domain.certificates.validity_on, asked of the store
    over = sa.or_(
        sa.func.coalesce(kept.valid_until < on, sa.false()),
        sa.func.coalesce(kept.valid_from > on, sa.false()),
    )
    dated = sa.and_(kept.valid_from.is_not(None), kept.valid_until.is_not(None))
    if wanted.valid == Answer3.NOT_MET:
        found.append(over)
    elif wanted.valid == Answer3.MET:
        found += [~over, dated]
    elif wanted.valid == Answer3.UNKNOWN:
        found += [~over, ~dated]
    return found


def _line(row: Certificate, on: date) -> CertificateLine:
    known = certificates.Certificate(
        row.product,
        row.material,
        row.reaction_class,
        row.calorific_value,
        row.valid_from,
        row.valid_until,
    )
    return CertificateLine(row, certificates.says(known), validity_on(known, on))


def _facts(row: Certificate) -> CertificateFacts:
    names = [field.name for field in fields(CertificateFacts)]
    return CertificateFacts(**{name: getattr(row, name) for name in names})


def _check(
    session: Session, organisation_id: int, facts: CertificateFacts, *, but: int | None = None
) -> None:
    problems = []
    same = sa.select(Certificate.id).filter_by(organisation_id=organisation_id, ref=facts.ref)
    if session.scalar(same.where(Certificate.id != (but or 0))) is not None:
        message = "There is a certificate of this reference already."
        problems.append(Problem(message, column="ref", value=facts.ref))
    if facts.reaction_class:
        try:
            classes_meant(facts.reaction_class)
        except ValueError as error:
            message = f"This cannot be read: {error}."
            expected = 'a class of EN 13501-1 such as "A2-s1,d0"'
            problems.append(Problem(message, expected, column="reaction_class"))
    first, last = facts.valid_from, facts.valid_until
    if first is not None and last is not None and last < first:
        problems.append(Problem("It would end before it begins.", column="valid_until"))
    if problems:
        raise InputError(problems)


def _log(
    session: Session,
    viewer: Viewer,
    row: Certificate,
    action: str,
    told: Mapping[str, tuple[object, object]],
) -> None:
    entry = changelog.Entry(action, "certificate", row.id, row.ref, row.organisation_id, told)
    changelog.record(session, viewer.actor, [entry])
