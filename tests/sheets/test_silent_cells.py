"""An empty cell makes no withdrawn test live again, and no test of an assessment."""

import pytest

from portfolio.domain.evidence import Standing
from portfolio.sheets.converting import convert
from portfolio.sheets.raw import GivenFile
from portfolio.sheets.reading import read_files
from tests.sheets.support import REFERENCE

HEAD = "held_by,test,kind,author,standing,printed_outcome\n"


def converted(row: str):  # type: ignore[no-untyped-def]
    file = GivenFile("tests.csv", (HEAD + row + "\n").encode())
    return convert(read_files([file]), REFERENCE)


def test_empty_cells_of_standing_and_kind_speak_of_nothing() -> None:
    [draft] = converted("O-1,T-1,,,,passed").tests
    assert draft.columns.isdisjoint({"standing", "kind"})
    assert "printed_outcome" in draft.columns
    assert draft.standing is Standing.LIVE, "of a test that is new"


def test_filled_cells_do_speak() -> None:
    [draft] = converted("O-1,T-1,assessment,E. Example,withdrawn,passed").tests
    assert {"standing", "kind", "author"} <= draft.columns


@pytest.mark.parametrize("kind", ["", "test"])
def test_an_author_without_an_assessment_is_a_problem(kind: str) -> None:
    found = converted(f"O-1,T-1,{kind},E. Example,live,passed")
    assert [(p.column, p.expected) for p in found.problems] == [("Kind", "assessment")]
