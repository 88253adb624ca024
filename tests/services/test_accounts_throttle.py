"""Guesses wait longer each time, also those that come at the same moment."""

import threading
from collections.abc import Iterator
from datetime import datetime, timedelta

import pytest
import sqlalchemy as sa

from portfolio.db.people import FailedSignIn
from portfolio.services.accounts import throttle
from portfolio.services.accounts.signing_in import Refused, Signed, sign_in
from tests.services.accounts_support import NOON, PASSWORD, People, people_in

READER = "reader@north.test"
HERE = "192.0.2.1"


@pytest.fixture
def found(database_url: str) -> Iterator[People]:
    with people_in(database_url) as people_found:
        yield people_found


def _attempt(found: People, email: str, address: str, now: datetime = NOON) -> int:
    with found.writing() as session:
        return throttle.count_attempt(session, email, address, now)


def test_after_three_free_failures_each_wait_is_twice_the_last(found: People) -> None:
    now, waits = NOON, []
    for _ in range(16):
        wait = _attempt(found, READER, HERE, now)
        if wait:
            waits.append(wait)
            now += timedelta(seconds=wait)
    assert waits == [2, 4, 8, 16, 32, 64]


def test_no_wait_is_longer_than_a_quarter_of_an_hour(found: People) -> None:
    now = NOON
    for _ in range(60):
        now += timedelta(seconds=_attempt(found, READER, HERE, now))
    assert _attempt(found, READER, HERE, now) <= 900


def test_an_hour_after_the_last_wait_it_begins_anew(found: People) -> None:
    for _ in range(5):
        _attempt(found, READER, HERE)
    later = NOON + timedelta(hours=2)
    assert [_attempt(found, READER, HERE, later) for _ in range(4)] == [0, 0, 0, 0]


def test_one_account_guessed_at_from_many_places_has_to_wait(found: People) -> None:
    waits = [_attempt(found, READER, f"192.0.2.{n}") for n in range(20)]
    assert waits[:15] == [0] * 15
    assert waits[16] > 0


def test_one_place_guessing_at_many_accounts_has_to_wait(found: People) -> None:
    waits = [_attempt(found, f"person{n}@north.test", HERE) for n in range(40)]
    assert waits[:30] == [0] * 30
    assert waits[31] > 0


def test_an_account_of_ones_own_does_not_wipe_out_guesses_at_others(found: People) -> None:
    for number in range(29):
        _attempt(found, f"person{number}@north.test", HERE)
    assert isinstance(_signed(found), Signed)
    _attempt(found, "another@north.test", HERE)
    _attempt(found, "yet.another@north.test", HERE)
    assert isinstance(_signed(found), Refused)


def _signed(found: People) -> Signed | Refused:
    return sign_in(found.writing, READER, PASSWORD, address=HERE, now=NOON)


def test_guesses_at_the_same_moment_are_counted_one_by_one(found: People) -> None:
    waits: list[int] = []

    def guess() -> None:
        waits.append(_attempt(found, READER, HERE))

    threads = [threading.Thread(target=guess) for _ in range(12)]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    assert sorted(waits) == [0] * 4 + [2] * 8


def test_the_table_of_failures_names_nobody_and_is_swept(found: People) -> None:
    _attempt(found, "stranger@nowhere.test", "203.0.113.7")
    with found.reading() as session:
        keys = session.scalars(sa.select(FailedSignIn.key)).all()
    assert all(len(key) == 64 and "@" not in key for key in keys)
    later = NOON + timedelta(hours=2)
    with found.writing() as session:
        throttle.forgive(session, READER, HERE, later)
        assert session.scalars(sa.select(FailedSignIn)).all() == []
