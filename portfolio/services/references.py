"""What people mean by the references that they type: BUILDING/ZONE, or test:REF."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date
from enum import StrEnum

import sqlalchemy as sa
from sqlalchemy.orm import Session

from portfolio.db import models
from portfolio.domain.errors import NotFoundError
from portfolio.services.explaining import find_zone
from portfolio.services.reliance import known_tests, names_for
from portfolio.services.test_names import TestNames
from portfolio.services.viewer import Viewer

TEST_MARK = "test:"


class Kind(StrEnum):
    """What has a wall that can be compared."""

    ZONE = "zone"
    TEST = "test"


@dataclass(frozen=True, slots=True)
class Thing:
    """A zone or a test by the id of its row."""

    kind: Kind
    id: int


def zone_named(session: Session, viewer: Viewer, name: str, owner: str = "") -> int:
    """The zone named BUILDING/ZONE; either reference may hold a slash itself.

    Raises NotFoundError where there is none, or more than one.
    """
    parts = name.split("/")
    found = set()
    refused: list[NotFoundError] = []
    for place in range(1, len(parts)):
        building_ref, zone_ref = "/".join(parts[:place]), "/".join(parts[place:])
        try:
            found.add(find_zone(session, viewer, building_ref, zone_ref, owner))
        except NotFoundError as error:
            refused.append(error)
    if len(found) == 1:
        return found.pop()
    if found:
        raise NotFoundError(f'"{name}" may mean more than one zone: see their pages instead.')
    raise refused[0] if refused else NotFoundError(f'"{name}" names no zone as BUILDING/ZONE.')


def thing_named(
    session: Session,
    viewer: Viewer,
    name: str,
    on: date,
    *,
    owner: str = "",
    beside: Thing | None = None,
) -> Thing:
    """The zone or test that `name` means, to be compared with `beside` where that is known.

    A name with a slash is a zone's first, then a test's; with "test:" before it a test's only.
    Beside a zone, a test is the one that the zone's owner means by the reference. Raises
    NotFoundError alike for what is not there and what is not this viewer's to see.
    """
    name = name.strip()
    if not name.startswith(TEST_MARK) and "/" in name:
        try:
            return Thing(Kind.ZONE, zone_named(session, viewer, name, owner))
        except NotFoundError:
            if (test := _test_named(session, viewer, name, on, owner=owner, beside=beside)) is None:
                raise
            return Thing(Kind.TEST, test)
    ref = name.removeprefix(TEST_MARK).strip()
    test = _test_named(session, viewer, ref, on, owner=owner, beside=beside)
    if test is None:
        hint = "" if name.startswith(TEST_MARK) else " A zone is named as BUILDING/ZONE."
        raise NotFoundError(f'There is no test "{ref}".{hint}')
    return Thing(Kind.TEST, test)


def pair_named(
    session: Session, viewer: Viewer, left: str, right: str, on: date, *, owner: str = ""
) -> tuple[Thing, Thing]:
    """The two that are meant. Whichever can be a zone is looked for first, since beside a zone a
    test is the one that the zone's owner means. Raises NotFoundError."""

    def named(name: str, beside: Thing | None = None) -> Thing:
        return thing_named(session, viewer, name, on, owner=owner, beside=beside)

    if left.startswith(TEST_MARK) or "/" not in left:
        second = named(right)
        return named(left, second), second
    first = named(left)
    return first, named(right, first)


def _test_named(
    session: Session, viewer: Viewer, ref: str, on: date, *, owner: str, beside: Thing | None
) -> int | None:
    """The record that is meant by the reference: by a zone's owner, else by an owner that is named,
    else by the viewer. Raises NotFoundError where it may be one of several."""
    known = _known(session, viewer, on, owner, beside)
    if (found := known.ids.get(ref)) is None and (alike := known.by_ref.get(ref)):
        names = " or ".join(f'"{known.names[test.id]}"' for test in alike)
        raise NotFoundError(f'Several organisations hold a test "{ref}": name it as {names}.')
    return found


def _known(
    session: Session, viewer: Viewer, on: date, owner: str, beside: Thing | None
) -> TestNames:
    if beside is not None and beside.kind is Kind.ZONE:
        return known_tests(session, _owner_of(session, viewer, beside.id), on)
    if owner and viewer.organisation_id is None:
        query = sa.select(models.Organisation.id).where(models.Organisation.ref == owner)
        if (named := session.scalar(query)) is not None:
            return known_tests(session, named, on)
    return names_for(session, viewer, on)


def _owner_of(session: Session, viewer: Viewer, zone_id: int) -> int:
    """The organisation whose zone it is. Raises NotFoundError where the viewer may not read it."""
    query = (
        sa.select(models.Building.organisation_id)
        .join(models.Zone, models.Zone.building_id == models.Building.id)
        .where(models.Zone.id == zone_id)
        .where(viewer.reads(models.Building.organisation_id, models.Building.id))
    )
    if (found := session.scalar(query)) is None:
        raise NotFoundError("There is no such zone.")
    return found
