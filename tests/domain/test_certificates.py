"""A certificate is valid from a day to a day, or nobody knows."""

from datetime import date, timedelta

import pytest
from hypothesis import given
from hypothesis import strategies as st

from portfolio.domain.certificates import Certificate, says, validity_on
from portfolio.domain.evidence import Answer3

FIRST, LAST = date(2025, 3, 1), date(2026, 2, 28)
MET, NOT_MET, UNKNOWN = Answer3.MET, Answer3.NOT_MET, Answer3.UNKNOWN
_DAYS = st.dates(date(2020, 1, 1), date(2030, 1, 1))


@pytest.mark.parametrize(
    ("first", "last", "on", "answer", "reason"),
    [
        (FIRST, LAST, FIRST, MET, "From 2025-03-01 until 2026-02-28."),
        # the last day counts
        (FIRST, LAST, LAST, MET, "From 2025-03-01 until 2026-02-28."),
        (FIRST, LAST, LAST + timedelta(days=1), NOT_MET, "It ran out on 2026-02-28."),
        (FIRST, LAST, FIRST - timedelta(days=1), NOT_MET, "It begins on 2025-03-01."),
        # without an end it may have run out since
        (FIRST, None, LAST, UNKNOWN, "Its last day is not recorded."),
        (None, LAST, LAST, UNKNOWN, "Its first day is not recorded."),
        (None, None, LAST, UNKNOWN, "Its first and last days are not recorded."),
        # one day that is known can be enough to say no
        (None, LAST, LAST + timedelta(days=1), NOT_MET, "It ran out on 2026-02-28."),
        (FIRST, None, FIRST - timedelta(days=1), NOT_MET, "It begins on 2025-03-01."),
    ],
)
def test_validity_follows_from_the_days_that_are_recorded(
    first: date | None, last: date | None, on: date, answer: Answer3, reason: str
) -> None:
    found = validity_on(Certificate("Panel", valid_from=first, valid_until=last), on)
    assert (found.answer, found.reason) == (answer, reason)


@given(first=_DAYS, last=_DAYS, on=_DAYS)
def test_knowing_less_never_makes_a_certificate_valid(first: date, last: date, on: date) -> None:
    whole = validity_on(Certificate("Panel", valid_from=first, valid_until=last), on).answer
    for less in ({"valid_from": first}, {"valid_until": last}, {}):
        found = validity_on(Certificate("Panel", **less), on).answer
        assert found in (UNKNOWN, whole)
        assert found is not MET


def test_what_is_not_stated_is_told_as_such() -> None:
    assert dict(says(Certificate("Panel"))) == {
        "Product": "Panel",
        "Material": "not stated",
        "Reaction to fire (EN 13501-1)": "not stated",
        "Calorific value": "not stated",
    }


@pytest.mark.parametrize(
    ("text", "words"),
    [
        ("A1", "A1"),
        ("A2-s1,d0", "A2-s1,d0"),
        ("B-s1", "B-s1, leaving open smoke or droplets"),
        ("E", "E"),
    ],
)
def test_a_class_that_leaves_smoke_or_droplets_open_says_so(text: str, words: str) -> None:
    told = dict(says(Certificate("Panel", reaction_class=text, calorific_value=2.5)))
    assert told["Reaction to fire (EN 13501-1)"] == words
    assert told["Calorific value"] == "2.5 MJ/kg"
