"""The migrations make the schema that the models declare, in every detail, and lead back out."""

import re
from collections.abc import Iterator
from datetime import date
from pathlib import Path
from typing import Any

import pytest
import sqlalchemy as sa
from alembic import command

from portfolio.db import documents, models, orders, people, results  # noqa: F401
from portfolio.db.changelog import Actor, Entry, record
from portfolio.db.session import (
    alembic_config,
    engine_for,
    reading,
    schema_revision,
    upgrade,
    writing,
)
from portfolio.domain.evidence import Consent
from portfolio.services import coverage
from portfolio.services.renewing import renew
from tests.web.portfolios import ON, Portfolio

# each of these modules declares some of the tables
METADATA = models.Base.metadata
assert {
    documents.Document.__tablename__,
    people.Person.__tablename__,
    results.ZoneTest.__tablename__,
} <= METADATA.tables.keys()
SCHEMA_TABLE = "alembic_version"


@pytest.fixture
def migrated(database_url: str) -> Iterator[sa.Engine]:
    """A database made by the migrations."""
    engine = engine_for(database_url)
    yield engine
    engine.dispose()


@pytest.fixture
def declared(
    database_url: str, request: pytest.FixtureRequest, tmp_path: Path
) -> Iterator[sa.Engine]:
    """A database of the same kind made from the models alone."""
    if database_url.startswith("sqlite"):
        engine = engine_for(f"sqlite:///{tmp_path / 'declared.sqlite'}")
        METADATA.create_all(engine)
        yield engine
        engine.dispose()
        return
    server = request.getfixturevalue("postgres_server")
    with server.database(f"portfolio_declared_{id(request)}") as url:
        engine = engine_for(url)
        METADATA.create_all(engine)
        yield engine
        engine.dispose()


def _tables(engine: sa.Engine) -> dict[str, dict[str, Any]]:
    looked = sa.inspect(engine)
    names = set(looked.get_table_names()) - {SCHEMA_TABLE}
    return {name: _told(looked, name) for name in sorted(names)}


def _told(looked: sa.Inspector, table: str) -> dict[str, Any]:
    return {
        "columns": {
            column["name"]: (_type(column["type"]), column["nullable"], column["default"])
            for column in looked.get_columns(table)
        },
        "primary key": looked.get_pk_constraint(table),
        "checks": {c["name"]: _bare(c["sqltext"]) for c in looked.get_check_constraints(table)},
        "uniques": _by_name(looked.get_unique_constraints(table), "column_names"),
        "foreign keys": _by_name(
            looked.get_foreign_keys(table),
            "constrained_columns",
            "referred_table",
            "referred_columns",
            "options",
        ),
        "indexes": _by_name(looked.get_indexes(table), "column_names", "unique"),
    }


def _type(kind: Any) -> str:
    return f"{kind!r} {getattr(kind, 'collation', None)}"


def _bare(text: str) -> str:
    """The text of a check without the differences of writing."""
    return re.sub(r"\s+", " ", text).strip()


def _by_name(found: list[Any], *parts: str) -> dict[str, tuple[Any, ...]]:
    return {str(one["name"]): tuple(one[part] for part in parts) for one in found}


def test_the_migrations_make_what_the_models_declare(
    migrated: sa.Engine, declared: sa.Engine
) -> None:
    found, wanted = _tables(migrated), _tables(declared)
    assert found.keys() == wanted.keys()
    for table in wanted:
        assert found[table] == wanted[table], table


def test_every_enumeration_is_guarded_by_a_check(migrated: sa.Engine) -> None:
    found = _tables(migrated)
    for table in METADATA.sorted_tables:
        enums = [c for c in table.columns if isinstance(c.type, sa.Enum)]
        texts = " ".join(found[table.name]["checks"].values())
        for column in enums:
            assert all(f"'{value}'" in texts for value in column.type.enums), column


def test_alembic_finds_nothing_left_to_do(database_url: str) -> None:
    command.check(alembic_config(database_url))


def test_down_to_nothing_and_up_again(migrated: sa.Engine, database_url: str) -> None:
    whole = _tables(migrated)
    command.downgrade(alembic_config(database_url), "base")
    assert _tables(migrated) == {}
    upgrade(database_url)
    assert _tables(migrated) == whole
    with migrated.connect() as connection:
        assert schema_revision(connection)


def test_the_change_log_is_protected_after_the_way_down_and_up(
    migrated: sa.Engine, database_url: str
) -> None:
    command.downgrade(alembic_config(database_url), "base")
    upgrade(database_url)
    with writing(migrated) as session:
        record(session, Actor("somebody"), [Entry("created", "zone", 1, "B / Z", None, {})])
    event = models.Event.__table__
    with pytest.raises(sa.exc.DBAPIError, match="append-only"), migrated.begin() as connection:
        connection.execute(sa.update(event).values(actor="somebody else"))


def test_a_consent_keeps_whom_it_names_on_the_way_up_and_what_names_nobody_goes_on_the_way_down(
    migrated: sa.Engine, database_url: str
) -> None:
    with writing(migrated) as session:
        portfolio = Portfolio(session)
        test = portfolio.test(portfolio.organisation(ref="holder"), ref="T-1")
        other_id = portfolio.organisation(ref="other").id
        for ref, named in (("other", other_id), ("nobody", None)):
            more = {"organisation_ref": ref, "organisation_id": named, "consent": Consent.GIVEN}
            session.add(models.TestConsent(test_id=test.id, **more))
    command.downgrade(alembic_config(database_url), "0004")
    upgrade(database_url)
    with migrated.connect() as connection:
        said = sa.select(models.TestConsent.organisation_ref, models.TestConsent.organisation_id)
        assert [tuple(row) for row in connection.execute(said)] == [("other", other_id)]


def test_what_was_computed_with_a_test_out_of_sight_is_due_again(
    migrated: sa.Engine, database_url: str
) -> None:
    said = {
        "given": {"consent": Consent.GIVEN},
        "lasting": {"consent": Consent.GIVEN, "until": date(2999, 1, 1)},
        "ended": {"consent": Consent.GIVEN, "until": date(2020, 1, 1)},
        "asked": {"consent": Consent.ASKED},
    }
    with writing(migrated) as session:
        portfolio = Portfolio(session)
        test = portfolio.test(portfolio.organisation(ref="holder"), ref="T-1")
        for ref, more in said.items():
            owner = portfolio.organisation(ref=ref)
            portfolio.zone(portfolio.building(owner))
            named = {"organisation_ref": ref, "organisation_id": owner.id}
            session.add(models.TestConsent(test_id=test.id, **named, **more))
        coverage.refresh(session, ON)
    command.downgrade(alembic_config(database_url), "0004")
    command.upgrade(alembic_config(database_url), "0005")
    organisation, result = models.Organisation, models.ZoneResult
    query = sa.select(organisation.ref).join(result, result.organisation_id == organisation.id)
    with reading(migrated) as session:
        due = session.scalars(query.where(result.computed_on < ON).order_by(organisation.ref))
        assert due.all() == ["asked", "ended"]
    upgrade(database_url)
    assert renew(migrated, ON) >= len(("asked", "ended"))


def test_what_is_too_little_known_is_due_again_when_what_would_settle_it_is_first_told(
    migrated: sa.Engine, database_url: str
) -> None:
    with writing(migrated) as session:
        portfolio = Portfolio(session)
        owner = portfolio.organisation()
        portfolio.test(owner, ref="T-1")
        building = portfolio.building(owner)
        portfolio.zone(building, ref="KNOWN")
        portfolio.zone(building, ref="UNKNOWN", wall=None)
        coverage.refresh(session, ON)
    command.downgrade(alembic_config(database_url), "0006")
    command.upgrade(alembic_config(database_url), "0007")
    result = models.ZoneResult
    query = sa.select(models.Zone.ref).join(result, result.zone_id == models.Zone.id)
    with reading(migrated) as session:
        assert session.scalars(query.where(result.computed_on < ON)).all() == ["UNKNOWN"]
    upgrade(database_url)
    assert renew(migrated, ON) >= 1
    with reading(migrated) as session:
        assert session.query(results.ZoneSettling).count() == 1


def test_everything_is_due_again_when_positions_and_facings_are_first_told_anew(
    migrated: sa.Engine, database_url: str
) -> None:
    with writing(migrated) as session:
        portfolio = Portfolio(session)
        owner = portfolio.organisation(ref="owner")
        portfolio.test(owner, ref="T-1")
        portfolio.zone(portfolio.building(owner))
        coverage.refresh(session, ON)
    command.downgrade(alembic_config(database_url), "0008")
    upgrade(database_url)
    assert renew(migrated, ON) == 1
    with reading(migrated) as session:
        [row] = session.query(models.ZoneResult)
        assert "\x1fowner\x1f" in row.position
        assert row.metal_composite in ("yes", "no")
