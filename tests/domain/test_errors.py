"""Problems said to the reader, with their place."""

import pytest

from portfolio.domain.errors import InputError, Problem


@pytest.mark.parametrize(
    ("problem", "text"),
    [
        (Problem("It is empty."), "It is empty."),
        (
            Problem("Not a number.", "a number", "a.xlsx", "Zones", 3, "Area", "x"),
            'a.xlsx, sheet "Zones", row 3, column "Area": "x": Not a number. Expected: a number',
        ),
        (Problem("Missing.", row=0), "row 0: Missing."),
    ],
)
def test_a_problem_says_where_it_stands_and_what_was_expected(problem: Problem, text: str) -> None:
    assert str(problem) == text


def test_an_error_carries_every_problem() -> None:
    error = InputError([Problem("One."), Problem("Two.")])
    assert [p.message for p in error.problems] == ["One.", "Two."]
    assert str(error) == "One.\nTwo."


def test_an_error_can_be_a_plain_sentence() -> None:
    assert InputError("Wrong.").problems == (Problem("Wrong."),)
