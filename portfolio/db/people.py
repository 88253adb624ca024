"""Tables of people, how they sign in, and what organisations share with one another."""

from __future__ import annotations

from datetime import date, datetime

import sqlalchemy as sa
from sqlalchemy.orm import Mapped, mapped_column, relationship

from portfolio.db.base import Base, stored_enum
from portfolio.db.models import Building, Organisation
from portfolio.domain.rights import Access, Role

MOMENT = sa.DateTime(timezone=True)


class Person(Base):
    """Someone who works for an organisation and may sign in."""

    __tablename__ = "person"

    id: Mapped[int] = mapped_column(primary_key=True)
    organisation_id: Mapped[int] = mapped_column(sa.ForeignKey("organisation.id"), index=True)
    #: lower case; what a person signs in with
    email: Mapped[str] = mapped_column(sa.String(200), unique=True)
    name: Mapped[str] = mapped_column(sa.String(200))
    role: Mapped[Role] = mapped_column(stored_enum(Role, "role"))
    password_hash: Mapped[str] = mapped_column(sa.String(300))
    is_active: Mapped[bool] = mapped_column(default=True)

    organisation: Mapped[Organisation] = relationship()


class SignIn(Base):
    """One signed-in browser. The cookie holds a random token, the table only its hash."""

    __tablename__ = "sign_in"

    id: Mapped[int] = mapped_column(primary_key=True)
    person_id: Mapped[int] = mapped_column(
        sa.ForeignKey("person.id", ondelete="CASCADE"), index=True
    )
    token_hash: Mapped[str] = mapped_column(sa.String(64), unique=True)
    started_at: Mapped[datetime] = mapped_column(MOMENT)
    seen_at: Mapped[datetime] = mapped_column(MOMENT)

    person: Mapped[Person] = relationship()


class Invitation(Base):
    """A one-time link by which a person joins an organisation or sets a new password."""

    __tablename__ = "invitation"

    id: Mapped[int] = mapped_column(primary_key=True)
    organisation_id: Mapped[int] = mapped_column(sa.ForeignKey("organisation.id"), index=True)
    email: Mapped[str] = mapped_column(sa.String(200))
    name: Mapped[str] = mapped_column(sa.String(200))
    role: Mapped[Role] = mapped_column(stored_enum(Role, "role"))
    token_hash: Mapped[str] = mapped_column(sa.String(64), unique=True)
    expires_at: Mapped[datetime] = mapped_column(MOMENT)
    used_at: Mapped[datetime | None] = mapped_column(MOMENT)
    invited_by: Mapped[str] = mapped_column(sa.String(200))

    organisation: Mapped[Organisation] = relationship()


class FailedSignIn(Base):
    """Failures in a row for one account or one address, and until when it must wait."""

    __tablename__ = "failed_sign_in"

    #: "account:…" or "address:…", hashed, so that the table lists nobody
    key: Mapped[str] = mapped_column(sa.String(64), primary_key=True)
    failures: Mapped[int]
    wait_until: Mapped[datetime] = mapped_column(MOMENT)


class BuildingGrant(Base):
    """An owner lets a consultancy read or edit one building, from a day to a day."""

    __tablename__ = "building_grant"
    __table_args__ = (sa.Index("ix_building_grant_to", "organisation_id", "building_id"),)

    id: Mapped[int] = mapped_column(primary_key=True)
    building_id: Mapped[int] = mapped_column(
        sa.ForeignKey("building.id", ondelete="CASCADE"), index=True
    )
    organisation_id: Mapped[int] = mapped_column(sa.ForeignKey("organisation.id"))
    access: Mapped[Access] = mapped_column(stored_enum(Access, "access"))
    from_day: Mapped[date]
    #: the last day that counts; NULL: until taken back
    until_day: Mapped[date | None]
    taken_back_at: Mapped[datetime | None] = mapped_column(MOMENT)
    granted_by: Mapped[str] = mapped_column(sa.String(200))

    building: Mapped[Building] = relationship()
    organisation: Mapped[Organisation] = relationship()


class DemandShare(Base):
    """An owner lets a laboratory see its demand, with or without its name."""

    __tablename__ = "demand_share"
    __table_args__ = (sa.UniqueConstraint("owner_id", "laboratory_id"),)

    id: Mapped[int] = mapped_column(primary_key=True)
    owner_id: Mapped[int] = mapped_column(sa.ForeignKey("organisation.id"), index=True)
    laboratory_id: Mapped[int] = mapped_column(sa.ForeignKey("organisation.id"), index=True)
    #: whether names, addresses and exact heights may appear where enough owners share
    is_named: Mapped[bool]
    since: Mapped[date]
    granted_by: Mapped[str] = mapped_column(sa.String(200))

    owner: Mapped[Organisation] = relationship(foreign_keys=owner_id)
    laboratory: Mapped[Organisation] = relationship(foreign_keys=laboratory_id)
