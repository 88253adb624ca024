"""Who may do what: roles inside an organisation, and what a grant of a building allows."""

from datetime import date

import pytest

from portfolio.domain.rights import (
    RIGHTS_OF_ACCESS,
    RIGHTS_OF_ROLE,
    Access,
    Grant,
    Right,
    Role,
    granted,
    waiting_seconds,
)

ON = date(2026, 3, 1)
READ = frozenset({Right.READ})


def grant(
    access: Access = Access.READ,
    *,
    since: date = date(2026, 1, 1),
    until: date | None = None,
    is_taken_back: bool = False,
) -> Grant:
    return Grant(7, access, since, until, is_taken_back)


def test_only_an_engineer_decides_on_walls() -> None:
    deciding = {role for role in Role if Right.DECIDE in RIGHTS_OF_ROLE[role]}
    assert deciding == {Role.ENGINEER}


def test_every_role_and_every_access_may_read() -> None:
    assert all(Right.READ in RIGHTS_OF_ROLE[role] for role in Role)
    assert all(Right.READ in RIGHTS_OF_ACCESS[access] for access in Access)


@pytest.mark.parametrize(
    ("found", "is_allowed", "why"),
    [
        (grant(), True, "open-ended"),
        (grant(since=ON), True, "the first day"),
        (grant(since=date(2026, 3, 2)), False, "from tomorrow"),
        (grant(until=ON), True, "the last day counts"),
        (grant(until=date(2026, 2, 28)), False, "ended yesterday"),
        (grant(is_taken_back=True), False, "taken back"),
    ],
)
def test_a_grant_allows_only_on_its_days_and_until_it_is_taken_back(
    found: Grant, is_allowed: bool, why: str
) -> None:
    assert granted([found], ON) == ({7: READ} if is_allowed else {}), why


def test_several_grants_of_a_building_allow_the_most_of_any() -> None:
    both = [grant(Access.EDIT), grant(Access.READ)]
    assert granted(both, ON) == granted(both[::-1], ON) == {7: RIGHTS_OF_ACCESS[Access.EDIT]}


def test_waiting_after_failed_sign_ins_doubles_up_to_a_quarter_of_an_hour() -> None:
    waits = [waiting_seconds(failures) for failures in range(50)]
    assert waits[:6] == [0, 0, 0, 0, 2, 4]
    assert waits == sorted(waits)
    assert max(waits) == 900
