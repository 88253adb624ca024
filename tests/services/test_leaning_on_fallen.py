"""What leans on fallen evidence falls with it, through the store and however long the chain."""

from __future__ import annotations

import pytest

from portfolio.db.models import Organisation, TestRecord
from portfolio.db.session import engine_for, reading, writing
from portfolio.domain.evidence import Answer3, Outcome, Standing
from portfolio.domain.gates import together
from portfolio.domain.rules import rules_in_force
from portfolio.reference.loader import load_reference
from portfolio.services.coverage import library_of
from portfolio.services.reliance import records_for
from tests.benchmarks.invented import ON, portfolio
from tests.domain.factories import ENGLAND


@pytest.mark.parametrize(
    ("standing", "expected"), [(Standing.LIVE, Answer3.MET), (Standing.WITHDRAWN, Answer3.NOT_MET)]
)
def test_an_assessment_of_an_assessment_falls_with_the_test_at_its_end(
    database_url: str, standing: Standing, expected: Answer3
) -> None:
    rows = portfolio(buildings=1, zones=0, tests=3, owners=1)
    records = [row for row in rows if isinstance(row, TestRecord)]
    for record, leans_on in zip(records, ([], ["T00000"], ["T00001"]), strict=True):
        record.leans_on = leans_on
        record.external_spread = Answer3.MET
        record.printed_outcome = Outcome.PASSED
    records[0].standing = standing
    engine = engine_for(database_url)
    with writing(engine) as session:
        session.add_all([row for row in rows if isinstance(row, Organisation)])
        session.flush()
        session.add_all(records)
    with reading(engine) as session:
        rules = rules_in_force(load_reference().rules, ON)
        records = records_for(session, 1, ON, {"T00002"})
        library = library_of(list(records.values()), {ENGLAND}, rules)
    engine.dispose()
    assert together(library.gates[ENGLAND]["T00002"]) is expected
