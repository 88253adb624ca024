"""Documents of owners, a consultancy and a laboratory, over real files."""

from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Any

import sqlalchemy as sa

from portfolio.db.models import Building, Survey, TestRecord, Zone
from portfolio.domain.documents import DocumentKind, FactKind, SeenBy, SupportedFact
from portfolio.services.documents.adding import (
    Added,
    DocumentFacts,
    GivenContent,
    add_document,
)
from portfolio.services.documents.contents import Contents
from portfolio.services.viewer import Viewer
from tests.services.world_support import Estate, consent, estate_in
from tests.web.portfolios import ON, WALL

PDF = b"%PDF-1.7 an opening-up report"


class Papers:
    """An estate of two owners, with its folder of documents."""

    def __init__(self, estate: Estate, contents: Contents) -> None:
        self.estate, self.contents = estate, contents

    def id_of(self, kind: type[Any], ref: str) -> int:
        with self.estate.reading() as session:
            found: int = session.scalars(sa.select(kind.id).where(kind.ref == ref)).one()
        return found

    def building(self, ref: str) -> int:
        return self.id_of(Building, ref)

    def zone(self, ref: str) -> int:
        return self.id_of(Zone, ref)

    def survey(self, ref: str, layer: int = 0) -> SupportedFact:
        return SupportedFact(FactKind.SURVEY, self.id_of(Survey, ref), layer)

    def test(self, ref: str, layer: int = 0) -> SupportedFact:
        return SupportedFact(FactKind.TEST, self.id_of(TestRecord, ref), layer)

    def add(
        self,
        viewer: Viewer,
        *supports: SupportedFact,
        content: bytes = PDF,
        name: str = "report.pdf",
        seen_by: SeenBy = SeenBy.OWN,
        **more: Any,
    ) -> Added:
        facts = DocumentFacts(**({"kind": DocumentKind.REPORT, "seen_by": seen_by} | more))
        with self.estate.writing() as session:
            given = GivenContent(name, content)
            return add_document(
                session, viewer, self.contents, given, facts=facts, supports=supports, on=ON
            )

    @property
    def files(self) -> list[str]:
        return list(self.contents.names())


@contextmanager
def papers_in(url: str, folder: Path) -> Iterator[Papers]:
    """North with a building and a test, south with another, a consultancy and a laboratory."""
    with estate_in(url) as estate:
        with estate.filling() as portfolio:
            owners = [portfolio.organisation(ref=ref) for ref in ("north", "south", "consult")]
            for owner in owners[:2]:
                building = portfolio.building(owner, ref=f"B-{owner.ref}")
                zone = portfolio.zone(building, ref=f"Z-{owner.ref}", wall=None)
                portfolio.survey(zone, WALL, ref=f"S-{owner.ref}")
                test = portfolio.test(owner, ref=f"T-{owner.ref}")
                if owner.ref == "south":
                    consent(portfolio, test, owners[0])
        yield Papers(estate, Contents(folder))
