"""Files in which a reference looks like another one, or a text is read in another order."""

from collections.abc import Sequence

import pytest

from portfolio.domain.errors import Problem
from portfolio.sheets.converting import convert
from portfolio.sheets.raw import GivenFile
from portfolio.sheets.reading import read_files
from tests.sheets.support import REFERENCE

HIDDEN = ["\u200b", "\u202e", "\u2066", "\u00ad", "\u2003", "\ue000", "\u3164"]
ORDER = "This holds a character that changes the order of reading"


def problems_of(name: str, head: str, row: Sequence[str]) -> Sequence[Problem]:
    content = f"{head}\n" + ",".join(f'"{cell}"' for cell in row) + "\n"
    return convert(read_files([GivenFile(name, content.encode())]), REFERENCE).problems


@pytest.mark.parametrize("hidden", HIDDEN)
@pytest.mark.parametrize(
    ("file", "head", "row"),
    [
        ("organisations.csv", "kind,organisation", ["owner"]),
        ("buildings.csv", "owner,building", ["O-1"]),
        ("buildings.csv", "building,owner", ["B-1"]),
        ("zones.csv", "owner,building,zone", ["O-1", "B-1"]),
        ("tests.csv", "held_by,test", ["O-1"]),
        ("tests.csv", "held_by,test,consent_given_to", ["O-1", "T-1"]),
        ("tests.csv", "held_by,test,leans_on", ["O-1", "T-1"]),
    ],
)
def test_a_reference_with_a_hidden_character_is_refused_and_shown(
    file: str, head: str, row: list[str], hidden: str
) -> None:
    code = f"U+{ord(hidden):04X}"
    [problem] = problems_of(file, head, [*row, f"X{hidden}-1"])
    assert (problem.file, problem.row, problem.value) == (file, 2, f"X[{code}]-1")
    assert code in problem.message
    assert problem.column
    assert problem.expected == "letters, digits, signs and ordinary spaces"


@pytest.mark.parametrize(
    ("hidden", "refused"),
    [("\u202e", True), ("\u2069", True), ("\u200d", False), ("\u00a0", False)],
)
def test_any_other_text_is_refused_only_where_it_would_be_read_in_another_order(
    hidden: str, refused: bool
) -> None:
    row = ["O-1", "B-1", f"House{hidden} 3"]
    found = problems_of("buildings.csv", "owner,building,name", row)
    assert [problem.message.partition(":")[0] for problem in found] == [ORDER] * refused
    assert [problem.value for problem in found] == [f"House[U+{ord(hidden):04X}] 3"] * refused


@pytest.mark.parametrize(
    ("product", "refused"),
    [("Board\u200b 7", True), ("Board\u202e 7", True), ("Board\u00a07", False)],
)
def test_a_product_is_compared_and_so_hides_nothing(product: str, refused: bool) -> None:
    head = "owner,building,zone,survey,basis,survey_date,layer_no,role,product"
    row = ["O-1", "B-1", "Z-1", "S-1", "opening-up", "2026-01-10", "1", "insulation", product]
    found = problems_of("layers.csv", head, row)
    assert [problem.column for problem in found] == ["Product"] * refused


def test_a_reference_in_a_list_is_no_longer_than_a_reference() -> None:
    row = ["O-1", "T-1", f"O-2; {'x' * 61}"]
    [problem] = problems_of("tests.csv", "held_by,test,consent_given_to", row)
    assert (problem.message, problem.expected) == (
        "A reference here is 61 characters.",
        "at most 60 for each",
    )
