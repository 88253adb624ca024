"""Measures the pages: python -m tests.benchmarks.page_speed [file] [worst].

By hand only, never a test. It fills a large landlord's portfolio (3,000 buildings, 25,000 zones,
1,000 tests, a document for each survey), computes it, and prints for each page the median of the
server's time over five requests, in milliseconds. With a file, the portfolio is kept there and
used again; with "worst" every zone has a wall of its own.
"""

from __future__ import annotations

import statistics
import sys
import tempfile
import time
from pathlib import Path

import sqlalchemy as sa
from flask.testing import FlaskClient
from sqlalchemy.orm import Session

from portfolio.db.documents import Document, DocumentSupport
from portfolio.db.models import Building, Survey, TestRecord, Zone, ZoneResult
from portfolio.db.session import engine_for, reading, upgrade, writing
from portfolio.domain.documents import DocumentKind, FactKind, SeenBy
from portfolio.services.coverage import refresh
from portfolio.web import create_app
from tests.benchmarks.invented import KINDS, ON, portfolio

BUILDINGS, ZONES, TESTS = 3_000, 25_000, 1_000
TIMES = 5
MILLISECONDS = 1_000


def main(file: Path, kinds: int | None) -> None:
    url = f"sqlite:///{file}"
    if not file.exists():
        _fill(url, kinds)
    took = time.perf_counter()
    engine = engine_for(url)
    with writing(engine) as session:
        refresh(session, ON)
    print(f"refresh of everything: {time.perf_counter() - took:.1f} s")  # noqa: T201
    client = create_app(url, today=lambda: ON, local=True).test_client()
    for address in _addresses(engine):
        print(f"{_median(client, address):7.0f} ms  {address}")  # noqa: T201


def _fill(url: str, kinds: int | None) -> None:
    upgrade(url)
    with writing(engine_for(url)) as session:
        session.add_all(portfolio(BUILDINGS, ZONES, TESTS, kinds=kinds))
        session.flush()
        _add_documents(session)


def _add_documents(session: Session) -> None:
    """The rows only: no page but that of the file reads a file."""
    query = (
        sa.select(Survey.id, Zone.id, Building.id, Building.organisation_id)
        .join(Zone, Zone.id == Survey.zone_id)
        .join(Building)
    )
    documents, supports = [], []
    by = {"added_by": "A. Person", "added_on": ON}
    for number, (survey, zone, building, owner) in enumerate(session.execute(query), start=1):
        about = {
            "kind": DocumentKind.REPORT,
            "seen_by": SeenBy.WITH_FACT,
            "reference": f"R-{number}",
        }
        file = {"sha256": f"{number:064x}", "size": number, "media": "application/pdf"}
        row = {"id": number, "organisation_id": owner, "file_name": f"report-{number}.pdf"}
        documents.append(row | file | about | by)
        fact = {"document_id": number, "fact": FactKind.SURVEY, "fact_id": survey, "layer": 0}
        supports.append(fact | {"zone_id": zone, "building_id": building} | by)
    session.execute(sa.insert(Document), documents)
    session.execute(sa.insert(DocumentSupport), supports)


def _addresses(engine: sa.Engine) -> list[str]:
    """The pages; of tests, one that many zones rest on; of groups, one of a usual size."""
    with reading(engine) as session:
        alike = session.execute(
            sa.select(ZoneResult.wall_key)
            .where(ZoneResult.is_gap)
            .group_by(ZoneResult.wall_key)
            .order_by(sa.func.count().desc())
        )
        keys = [row.wall_key for row in alike]
        tests = session.scalars(sa.select(TestRecord.id).order_by(TestRecord.id)).all()
    return [
        "/",
        "/buildings",
        "/buildings?text=17",
        "/buildings/17",
        "/gaps",
        "/gaps?page=200",
        "/gaps?coverage=to-assess",
        "/gaps?coverage=all",
        "/gaps?height_band=18&page=20",
        "/gaps?text=timber",
        "/gaps?order=victoria-guideline-15&page=200",
        "/gaps?order=call-in-england-2024&text=timber",
        "/orders",
        "/find-out",
        "/find-out/zones?parameter=cavity.1.depth&way=papers",
        "/demand",
        f"/demand/{keys[min(20, len(keys) - 1)]}",
        "/evidence",
        "/evidence?sort=leaning",
        "/evidence?leaning=against",
        *(f"/tests/{tests[place]}" for place in (17, 18, 19)),
        "/zones/17",
        "/zones/17?all=1",
        f"/compare?left=zone-17&right=test-{tests[17]}",
        "/compare?left=zone-17&right=zone-18",
        f"/compare?left=test-{tests[17]}&right=test-{tests[18]}",
        "/documents",
        "/documents?text=report-17",
        "/documents?supports=survey&page=200",
        "/documents?supports=nothing",
        "/buildings/17/missing-documents",
        "/certificates",
    ]


def _median(client: FlaskClient, address: str) -> float:
    took = []
    client.get(address)
    for _ in range(TIMES):
        start = time.perf_counter()
        answer = client.get(address)
        took.append(time.perf_counter() - start)
        if answer.status_code != 200:  # noqa: PLR2004
            raise SystemExit(f"{address} answered {answer.status}")
    return statistics.median(took) * MILLISECONDS


if __name__ == "__main__":
    given = [argument for argument in sys.argv[1:] if argument != "worst"]
    with tempfile.TemporaryDirectory() as folder:
        kept = Path(given[0]) if given else Path(folder) / "pages.sqlite3"
        main(kept, None if "worst" in sys.argv else KINDS)
