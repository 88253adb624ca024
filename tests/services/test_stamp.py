"""The stamp of all results: another one after every change, however many there were."""

import pytest

from portfolio.db.session import engine_for, writing
from portfolio.services import stamp


def test_the_stamp_is_another_one_every_time_and_its_rows_stay_few(
    database_url: str, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(stamp, "MOST_ROWS", 3)
    engine = engine_for(database_url)
    seen = set()
    for _ in range(10):
        with writing(engine) as session:
            stamp.renew_stamp(session)
        with writing(engine) as session:
            seen.add(stamp.stamp_of(session))
            assert stamp.stamp_of(session)[0] <= 3
    engine.dispose()
    assert len(seen) == 10


@pytest.mark.postgres
def test_two_who_change_results_at_once_do_not_wait_for_each_other(postgres_url: str) -> None:
    """On SQLite writers come one after another anyway."""
    engine = engine_for(postgres_url)
    with writing(engine) as one, writing(engine, patience=1) as other:
        stamp.renew_stamp(one)
        stamp.renew_stamp(other)
    with writing(engine) as session:
        assert stamp.stamp_of(session)[0] == 2
    engine.dispose()
