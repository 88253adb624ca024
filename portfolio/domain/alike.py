"""Finds rows that are equal, among millions: what is alike is worked out once."""

from __future__ import annotations

from itertools import count

import numpy as np
import numpy.typing as npt

from portfolio.domain.arrays import Codes

Matrix = npt.NDArray[np.int8] | npt.NDArray[np.int32] | npt.NDArray[np.bool_]
_ROWS = 8_192
"""Rows that are read at a time, so that they stay in the processor's cache."""


def alike(*matrices: Matrix) -> tuple[Codes, Codes]:
    """Which rows are equal in every matrix; each is [rows, columns], all of as many rows.

    Returns the first row of each kind, in the order in which the kinds come up, and for every row
    the place of its kind. Rows are told apart by a number made of them and then compared one by
    one, so that two rows that are not equal are never taken for one.
    """
    for attempt in count():
        numbers = _numbers(matrices, attempt)
        _, first, kind = np.unique(numbers, return_index=True, return_inverse=True)
        order = np.argsort(first, kind="stable")
        place_of = np.empty(len(order), dtype=np.int32)
        place_of[order] = np.arange(len(order), dtype=np.int32)
        kept, places = first[order].astype(np.int32), place_of[kind]
        if _are_equal(matrices, kept, places):
            break
    return kept, places


def _numbers(matrices: tuple[Matrix, ...], attempt: int) -> npt.NDArray[np.uint64]:
    """A number for each row; rows that differ have another one as good as always."""
    rows = len(matrices[0])
    found = np.zeros(rows, dtype=np.uint64)
    rng = np.random.default_rng(attempt)
    for matrix in matrices:
        factors = rng.integers(1, 2**63, matrix.shape[1], dtype=np.uint64) | np.uint64(1)
        for start in range(0, rows, _ROWS):
            part = matrix[start : start + _ROWS].astype(np.uint64)
            found[start : start + _ROWS] += part @ factors
    return found


def _are_equal(matrices: tuple[Matrix, ...], kept: Codes, places: Codes) -> bool:
    return all(
        np.array_equal(matrix[start : start + _ROWS], matrix[kept[places[start : start + _ROWS]]])
        for matrix in matrices
        for start in range(0, len(places), _ROWS)
    )
