"""Importing does not ask the database more often for more rows, and keeps within its columns."""

from collections.abc import Iterator
from typing import Any

import pytest
import sqlalchemy as sa

from portfolio.db import models
from portfolio.services.exporting import export_csv, gather_drafts
from portfolio.sheets.layout import SHEETS
from portfolio.sheets.raw import GivenFile
from tests.services.importing_support import LOCAL, ORGANISATIONS, Store, opened
from tests.sheets.support import building, csv_file, layer, zone


@pytest.fixture
def store(sqlite_url: str) -> Iterator[Store]:
    with opened(sqlite_url) as found:
        yield found


def _estate(zones: int) -> tuple[GivenFile, ...]:
    refs = [f"Z-{number:05}" for number in range(zones)]
    return (
        ORGANISATIONS,
        csv_file("buildings", *(building(building=f"B-{n}") for n in range(zones // 10))),
        csv_file(
            "zones", *(zone(building=f"B-{n % (zones // 10)}", zone=r) for n, r in enumerate(refs))
        ),
        csv_file(
            "layers",
            *(
                layer(building=f"B-{n % (zones // 10)}", zone=r, role="facing", layer_no=1)
                for n, r in enumerate(refs)
            ),
        ),
    )


def _statements(store: Store, files: tuple[GivenFile, ...]) -> int:
    seen: list[str] = []

    def note(*arguments: Any) -> None:
        seen.append(arguments[2])

    sa.event.listen(store.engine, "before_cursor_execute", note)
    store.take_in(*files)
    sa.event.remove(store.engine, "before_cursor_execute", note)
    return len(seen)


def test_ten_times_the_zones_do_not_need_ten_times_the_statements(store: Store) -> None:
    few = _statements(store, _estate(40))
    many = _statements(store, _estate(400))
    assert many < 2 * few


def test_references_keep_their_ids_when_many_are_created_at_once(store: Store) -> None:
    store.take_in(*_estate(2_000))
    with store.session() as session:
        rows = session.execute(
            sa.select(models.Building.ref, models.Zone.ref)
            .select_from(models.Survey)
            .join(models.Zone)
            .join(models.Building)
        )
        assert all(int(z.removeprefix("Z-")) % 200 == int(b.removeprefix("B-")) for b, z in rows)


def test_many_zones_come_back_from_an_export_as_they_were(store: Store) -> None:
    store.take_in(*_estate(1_200))
    with store.session() as session:
        drafts = gather_drafts(session, LOCAL)
        files = [GivenFile(*file) for file in export_csv(session, LOCAL).items()]
    assert (len(drafts.zones), len(drafts.surveys)) == (1_200, 1_200)
    assert store.plan(*files).updates == ()


_TABLES = {
    "organisations": models.Organisation,
    "buildings": models.Building,
    "zones": models.Zone,
    "tests": models.TestRecord,
}


def test_no_column_takes_more_text_than_the_store_can_keep() -> None:
    for sheet in SHEETS:
        model = _TABLES.get(sheet.key)
        for column in sheet.columns if model else ():
            kept = sa.inspect(model).columns.get(column.key)
            length = getattr(kept.type, "length", None) if kept is not None else None
            if length and not (column.words or column.category):
                assert column.longest == length, f"{sheet.key}.{column.key}"


def test_references_and_sources_fit_their_columns() -> None:
    limits = {
        (sheet.key, column.key): column.longest for sheet in SHEETS for column in sheet.columns
    }
    assert limits["layers", "survey"] == models.Survey.ref.type.length
    assert limits["layers", "survey_source"] == models.Survey.source.type.length
    assert limits["heights", "height_method"] == models.HeightClaim.method.type.length
    assert limits["heights", "height_source"] == models.HeightClaim.source.type.length
    assert limits["zones", "zone"] == models.Zone.ref.type.length
    assert limits["buildings", "jurisdiction"] == models.Building.jurisdiction.type.length
