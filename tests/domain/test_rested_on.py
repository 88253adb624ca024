"""What a ruling rested on, and what of it has changed."""

from hypothesis import given
from hypothesis import strategies as st

from portfolio.domain.rested_on import (
    Change,
    changes,
    fingerprint,
    named,
    refs_of_tests,
    with_changes,
)

BASES = st.dictionaries(st.text(min_size=1, max_size=5), st.text(min_size=1, max_size=5))


@given(BASES, BASES)
def test_changes_lead_from_one_basis_to_the_other(
    before: dict[str, str], now: dict[str, str]
) -> None:
    assert with_changes(before, changes(before, now)) == now


@given(BASES, BASES)
def test_a_fingerprint_is_another_one_for_another_basis(
    one: dict[str, str], other: dict[str, str]
) -> None:
    assert (fingerprint(one) == fingerprint(other)) == (one == other)


def test_what_changed_and_changed_back_is_told_both_times() -> None:
    basis = {"use": "flats"}
    there, back = Change("use", "flats", "hotel"), Change("use", "hotel", "flats")
    assert changes(with_changes(basis, [there]), basis) == (back,)


def test_tests_and_facts_are_named_as_a_reader_knows_them() -> None:
    basis = {"test T-1": "passed", "record of test T-1": "version 2", "coverage": "covered"}
    assert refs_of_tests(basis) == {"T-1"}
    assert named("fact insulation.1.material") == "insulation: material"
    assert named("coverage") == "coverage"
