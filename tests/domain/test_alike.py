"""Rows that are alike among many."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from portfolio.domain import alike as module
from portfolio.domain.alike import alike
from portfolio.domain.arrays import Codes

ROWS = st.lists(st.tuples(st.integers(-1, 2), st.integers(0, 2), st.booleans()), max_size=30)


def matrices(rows: list[tuple[int, int, bool]]) -> tuple[Codes, np.ndarray]:
    numbers = np.array([row[:2] for row in rows], dtype=np.int32).reshape(-1, 2)
    return numbers, np.array([[row[2]] for row in rows], dtype=np.bool_).reshape(-1, 1)


def one_by_one(rows: list[tuple[int, int, bool]]) -> tuple[list[int], list[int]]:
    places: dict[tuple[int, int, bool], int] = {}
    kinds = [places.setdefault(row, len(places)) for row in rows]
    return [rows.index(row) for row in places], kinds


@given(ROWS)
def test_rows_are_alike_where_every_number_is(rows: list[tuple[int, int, bool]]) -> None:
    firsts, kinds = alike(*matrices(rows))
    assert (firsts.tolist(), kinds.tolist()) == one_by_one(rows)


def test_rows_that_happen_to_have_one_number_are_told_apart(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    honest = module._numbers

    def unlucky(given: tuple[np.ndarray, ...], attempt: int) -> np.ndarray:
        found = honest(given, attempt)
        return np.zeros_like(found) if attempt == 0 else found

    monkeypatch.setattr(module, "_numbers", unlucky)
    rows = [(0, 1, True), (0, 2, True), (0, 1, True)]
    firsts, kinds = alike(*matrices(rows))
    assert (firsts.tolist(), kinds.tolist()) == one_by_one(rows)
