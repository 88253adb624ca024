"""The change log cannot be rewritten, and whoever gets round that is found out."""

import json
from collections.abc import Iterator
from contextlib import ExitStack
from datetime import timedelta
from typing import Any

import hypothesis
import pytest
import sqlalchemy as sa
from hypothesis import strategies as st

from portfolio.db.append_only import lifted
from portfolio.db.changelog import FIRST_HASH, Actor, Entry, broken_at, entry_hash, record
from portfolio.db.models import Event, LogHead
from portfolio.db.session import engine_for, reading, writing
from tests.robust.processes import working
from tests.robust.worker import begin_log

EVENT = Event.__table__
ENTRIES = 6


@pytest.fixture
def engine(database_url: str) -> Iterator[sa.Engine]:
    """A database with a few entries in its log."""
    made = engine_for(database_url)
    for number in range(1, ENTRIES + 1):
        _write(made, number, {"metres": (None, 18.6 + number)})
    yield made
    made.dispose()


def _write(engine: sa.Engine, number: int, changes: dict[str, Any]) -> None:
    with writing(engine) as session:
        entry = Entry("changed", "thing", number, f"T-{number}", None, changes, "seen")
        record(session, Actor("A. Tester"), [entry])


def _fault(engine: sa.Engine) -> str | None:
    with reading(engine) as session:
        return broken_at(session)


def _tamper(engine: sa.Engine, *statements: Any) -> None:
    """Do to the log what nobody can do who has not taken its protection away."""
    with engine.execution_options(writes=True).begin() as connection, lifted(connection):
        for statement in statements:
            connection.execute(statement)


def _entry(engine: sa.Engine, number: int) -> dict[str, Any]:
    with engine.connect() as connection:
        row = connection.execute(sa.select(EVENT).where(EVENT.c.id == number)).mappings().one()
        return dict(row)


def _change(number: int, **values: Any) -> Any:
    return sa.update(EVENT).where(EVENT.c.id == number).values(**values)


# --- Protected -----------------------------------------------------------------------------------


@pytest.mark.parametrize(
    "statement",
    [
        "UPDATE event SET reason = 'better'",
        "UPDATE event SET actor = actor WHERE id = 3",
        "DELETE FROM event",
        "DELETE FROM event WHERE id = 6",
    ],
)
def test_the_database_refuses_to_change_or_remove_an_entry(
    engine: sa.Engine, statement: str
) -> None:
    options = engine.execution_options(writes=True)
    with pytest.raises(sa.exc.DBAPIError, match="append-only"), options.begin() as connection:
        connection.execute(sa.text(statement))
    assert _fault(engine) is None


@pytest.mark.postgres
@pytest.mark.parametrize("statement", ["TRUNCATE event", "TRUNCATE organisation CASCADE"])
def test_the_database_refuses_to_empty_the_log(postgres_url: str, statement: str) -> None:
    engine = engine_for(postgres_url)
    _write(engine, 1, {})
    with pytest.raises(sa.exc.DBAPIError, match="append-only"), engine.begin() as connection:
        connection.execute(sa.text(statement))
    assert _fault(engine) is None
    engine.dispose()


def test_the_database_refuses_to_replace_an_entry(sqlite_url: str) -> None:
    engine = engine_for(sqlite_url)
    _write(engine, 1, {})
    row = _entry(engine, 1) | {"reason": "better"}
    replace = sa.insert(EVENT).prefix_with("OR REPLACE").values(**row)
    options = engine.execution_options(writes=True)
    with pytest.raises(sa.exc.DBAPIError, match="append-only"), options.begin() as connection:
        connection.execute(replace)
    assert _fault(engine) is None
    engine.dispose()


# --- Found out -----------------------------------------------------------------------------------


def test_an_untouched_log_is_whole(engine: sa.Engine) -> None:
    assert _fault(engine) is None


@pytest.mark.parametrize(
    "values",
    [
        {"reason": "better"},
        {"actor": "B. Tester"},
        {"action": "created"},
        {"subject_id": 99},
        {"subject_ref": "T-3 "},
        {"person_id": 1},
        {"acting_organisation_id": 1},
        {"changes": {"metres": [None, 99.9]}},
        {"changes": {"metres": [None, "21.6"]}},
        {"changes": {}},
        {"state": {}},
    ],
    ids=str,
)
def test_an_altered_entry_is_found(engine: sa.Engine, values: dict[str, Any]) -> None:
    _tamper(engine, _change(3, **values))
    assert _fault(engine) == "entry 3 has been altered"


def test_an_altered_moment_is_found(engine: sa.Engine) -> None:
    moment = _entry(engine, 3)["at"] + timedelta(microseconds=1)
    _tamper(engine, _change(3, at=moment))
    assert _fault(engine) == "entry 3 has been altered"


def test_an_entry_altered_with_its_hash_is_found_at_the_next(engine: sa.Engine) -> None:
    row = _entry(engine, 3) | {"reason": "better"}
    _tamper(engine, _change(3, reason="better", hash=entry_hash(row)))
    assert _fault(engine) == (
        "entry 4 does not follow the entry before it: one is missing or moved"
    )


def test_the_last_entry_altered_with_its_hash_is_found(engine: sa.Engine) -> None:
    row = _entry(engine, ENTRIES) | {"reason": "better"}
    _tamper(engine, _change(ENTRIES, reason="better", hash=entry_hash(row)))
    assert _fault(engine) is not None


@pytest.mark.parametrize("number", range(1, ENTRIES))
def test_a_removed_entry_is_found(engine: sa.Engine, number: int) -> None:
    _tamper(engine, sa.delete(EVENT).where(EVENT.c.id == number))
    assert _fault(engine) == (
        f"entry {number + 1} does not follow the entry before it: one is missing or moved"
    )


def test_a_removed_end_is_found(engine: sa.Engine) -> None:
    _tamper(engine, sa.delete(EVENT).where(EVENT.c.id == ENTRIES))
    assert _fault(engine) == f"the log ends after {ENTRIES - 1} entries, {ENTRIES} were written"


def test_a_log_emptied_with_its_head_forgotten_is_found(engine: sa.Engine) -> None:
    _tamper(engine, sa.delete(EVENT))
    assert _fault(engine) == f"the log ends after 0 entries, {ENTRIES} were written"


def test_a_forgotten_head_is_found(engine: sa.Engine) -> None:
    _tamper(engine, sa.delete(LogHead))
    assert _fault(engine) == f"the log ends after {ENTRIES} entries, 0 were written"


def test_swapped_entries_are_found(engine: sa.Engine) -> None:
    _tamper(engine, _change(3, id=-1), _change(4, id=3), _change(-1, id=4))
    assert _fault(engine) == (
        "entry 3 does not follow the entry before it: one is missing or moved"
    )


@pytest.mark.parametrize("place", [0, ENTRIES + 1])
def test_a_forged_entry_at_either_end_is_found(engine: sa.Engine, place: int) -> None:
    before = _entry(engine, ENTRIES)["hash"] if place else FIRST_HASH
    forged = _entry(engine, 3) | {"id": place, "reason": "forged", "previous_hash": before}
    _tamper(engine, sa.insert(EVENT).values(**forged | {"hash": entry_hash(forged)}))
    assert _fault(engine) is not None


def test_a_forged_entry_in_the_middle_is_found(engine: sa.Engine) -> None:
    _tamper(engine, *(_change(number, id=number + 1) for number in range(ENTRIES, 2, -1)))
    assert _fault(engine) is None  # the chain does not depend on numbers
    forged = _entry(engine, 2) | {"id": 3, "reason": "forged"}
    forged["previous_hash"] = _entry(engine, 2)["hash"]
    _tamper(engine, sa.insert(EVENT).values(**forged | {"hash": entry_hash(forged)}))
    assert _fault(engine) == (
        "entry 4 does not follow the entry before it: one is missing or moved"
    )


# --- Written by many -----------------------------------------------------------------------------


def test_those_who_begin_the_log_at_once_write_one_chain(database_url: str) -> None:
    rounds, writers = 10, 4
    with ExitStack() as stack:
        names = [f"W{number}" for number in range(writers)]
        workers = [
            stack.enter_context(working(begin_log, database_url, name, rounds)) for name in names
        ]
        for worker in workers:
            worker.wait_until_ready()
        for worker in workers:
            worker.tell("go")
        assert [worker.hear() for worker in workers] == [rounds] * writers
    engine = engine_for(database_url)
    assert _fault(engine) is None
    with reading(engine) as session:
        assert session.scalar(sa.select(LogHead.entries)) == 2 * rounds * writers
        actors = session.scalars(sa.select(Event.actor).order_by(Event.id)).all()
    # the entries of one change stand together
    assert actors[::2] == actors[1::2]
    engine.dispose()


# --- Alike on both databases ---------------------------------------------------------------------

_TEXT = st.text(st.characters(exclude_categories=["Cs"], exclude_characters="\x00"), max_size=20)
_PLAIN = st.recursive(
    st.none()
    | st.booleans()
    | st.integers(-(10**30), 10**30)
    | st.floats(allow_nan=False, allow_infinity=False)
    | _TEXT,
    lambda inner: st.lists(inner, max_size=3) | st.dictionaries(_TEXT, inner, max_size=3),
    max_leaves=8,
)
_CHANGES = st.dictionaries(_TEXT, st.tuples(_PLAIN, _PLAIN), max_size=4)


def _read_back(engine: sa.Engine, changes: dict[str, Any]) -> list[Any]:
    """What is stored of changes, read within the transaction that is then given up."""
    with engine.connect() as connection, sa.orm.Session(connection) as session:
        record(session, Actor("A. Tester"), [Entry("changed", "thing", 1, "T", None, changes)])
        session.expire_all()
        fault = broken_at(session)
        row = session.scalars(sa.select(Event).order_by(Event.id.desc())).first()
        assert row is not None
        return [fault, row.changes, entry_hash({c.name: getattr(row, c.name) for c in EVENT.c})]


@pytest.fixture
def both(request: pytest.FixtureRequest) -> Iterator[list[sa.Engine]]:
    engines = [
        engine_for(request.getfixturevalue(f"{name}_url")) for name in ("sqlite", "postgres")
    ]
    yield engines
    for engine in engines:
        engine.dispose()


@pytest.mark.postgres
@hypothesis.settings(
    max_examples=80, suppress_health_check=[hypothesis.HealthCheck.function_scoped_fixture]
)
@hypothesis.given(changes=_CHANGES)
@hypothesis.example(changes={"a": (1e22, 1e-7), "b": (-0.0, 5e-324), "ß": ("\u2028", [None, [[]]])})
@hypothesis.example(
    changes={"b": (1, 1.0), "a": (True, None), "\U0001f9f1": ({}, {"z": 1, "a": 2})}
)
def test_whatever_changed_verifies_on_both_databases(
    both: list[sa.Engine], changes: dict[str, Any]
) -> None:
    plain = json.loads(json.dumps({key: list(pair) for key, pair in changes.items()}))
    for engine in both:
        fault, kept, _ = _read_back(engine, changes)
        assert fault is None
        # compared as text: True == 1 == 1.0
        assert json.dumps(kept) == json.dumps(plain)


@pytest.mark.postgres
@hypothesis.settings(
    max_examples=40, suppress_health_check=[hypothesis.HealthCheck.function_scoped_fixture]
)
@hypothesis.given(changes=_CHANGES)
def test_an_entry_has_the_same_hash_on_both_databases(
    both: list[sa.Engine], changes: dict[str, Any], monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr("portfolio.db.changelog.datetime", _Noon)
    first, second = (_read_back(engine, changes)[2] for engine in both)
    assert first == second


class _Noon:
    """A clock that stands still."""

    @staticmethod
    def now(zone: Any) -> Any:
        from tests.robust.worker import NOON

        return NOON.astimezone(zone) + timedelta(microseconds=123_450)
