"""Who may do what: roles inside an organisation, and what a grant of a building allows."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import date
from enum import StrEnum


class Role(StrEnum):
    """What a person may do inside their organisation."""

    READER = "reader"
    EDITOR = "editor"
    ENGINEER = "engineer"
    ADMINISTRATOR = "administrator"


class Right(StrEnum):
    """One kind of act."""

    READ = "read"
    EDIT = "edit"
    DECIDE = "decide"
    ADMINISTER = "administer"


class Access(StrEnum):
    """How far an owner lets another organisation into a building."""

    READ = "read"
    EDIT = "edit"


RIGHTS_OF_ROLE: dict[Role, frozenset[Right]] = {
    Role.READER: frozenset({Right.READ}),
    Role.EDITOR: frozenset({Right.READ, Right.EDIT}),
    Role.ENGINEER: frozenset({Right.READ, Right.EDIT, Right.DECIDE}),
    # who runs an organisation's accounts does not thereby rule on its walls
    Role.ADMINISTRATOR: frozenset({Right.READ, Right.EDIT, Right.ADMINISTER}),
}

RIGHTS_OF_ACCESS: dict[Access, frozenset[Right]] = {
    Access.READ: frozenset({Right.READ}),
    # the owner asked the consultancy in to work on the building: its engineers may rule on it
    Access.EDIT: frozenset({Right.READ, Right.EDIT, Right.DECIDE}),
}


@dataclass(frozen=True, slots=True)
class Grant:
    """One building opened to one organisation. `until` is the last day that counts."""

    building_id: int
    access: Access
    since: date
    until: date | None
    is_taken_back: bool


def granted(grants: Iterable[Grant], on: date) -> dict[int, frozenset[Right]]:
    """What the grants in force on a day allow, by building: together, the most of any."""
    found: dict[int, frozenset[Right]] = {}
    for grant in grants:
        in_time = grant.since <= on and (grant.until is None or on <= grant.until)
        if in_time and not grant.is_taken_back:
            rights = found.get(grant.building_id, frozenset())
            found[grant.building_id] = rights | RIGHTS_OF_ACCESS[grant.access]
    return found


def waiting_seconds(failures: int) -> int:
    """How long to wait after so many failed sign-ins in a row: none for three, then doubling.

    >>> [waiting_seconds(n) for n in (1, 3, 4, 5, 8, 30)]
    [0, 0, 2, 4, 32, 900]
    """
    free, longest = 3, 900
    return 0 if failures <= free else int(min(2 ** min(failures - free, 20), longest))
