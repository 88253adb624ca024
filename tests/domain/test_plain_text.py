"""What two texts that look alike could differ in is refused, by the category of each character."""

import sys
import unicodedata

import pytest
from hypothesis import given
from hypothesis import strategies as st

from portfolio.domain.plain_text import (
    escaped,
    wrong_in_name,
    wrong_in_reference,
    wrong_in_references,
    wrong_in_text,
)

REFUSED = ("Cf", "Cc", "Co", "Cs", "Cn", "Zl", "Zp")
REORDERS = {*range(0x202A, 0x202F), *range(0x2066, 0x206A)}


def test_no_reference_holds_a_control_a_format_a_private_or_an_unassigned_character() -> None:
    let_through = [
        code
        for code in range(sys.maxunicode + 1)
        if unicodedata.category(chr(code)) in REFUSED and not wrong_in_reference(f"B{chr(code)}1")
    ]
    assert let_through == []


def test_of_all_spaces_a_reference_holds_the_ordinary_one_only() -> None:
    spaces = [chr(code) for code in range(sys.maxunicode + 1) if chr(code).isspace()]
    assert [space for space in spaces if not wrong_in_reference(f"B{space}1")] == [" "]


@pytest.mark.parametrize("code", [0x34F, 0x115F, 0x1160, 0x2800, 0x3164, 0xFE0F, 0xFFA0, 0xE0100])
def test_letters_and_marks_that_leave_no_trace_are_refused_too(code: int) -> None:
    assert f"U+{code:04X}" in wrong_in_reference(f"B{chr(code)}1")


@pytest.mark.parametrize("text", ["B-1", "Haus Süd 3/2", "Ł-7 (b)", "建物-1", "é", "#4 & co."])
def test_letters_of_any_language_digits_and_signs_are_fine(text: str) -> None:
    assert wrong_in_reference(text) == ""


def test_a_text_is_refused_only_where_it_cannot_be_kept_or_would_be_read_in_another_order() -> None:
    formats = [c for c in map(chr, range(sys.maxunicode + 1)) if unicodedata.category(c) == "Cf"]
    assert {ord(c) for c in formats if wrong_in_text(f"a{c}b")} == REORDERS
    assert wrong_in_text("a\u200db, a\u00a0b,\na\tb") == ""
    assert wrong_in_text("a\x00b") == "This holds a character that cannot be kept."


def test_references_in_a_list_are_looked_at_one_by_one() -> None:
    assert wrong_in_references("A-1; B-2") == ""
    assert "U+200B" in wrong_in_references("A-1; B\u200b-2")


@given(st.text())
def test_what_is_escaped_hides_nothing_and_what_hides_nothing_stays(text: str) -> None:
    shown = escaped(text)
    assert wrong_in_name(shown.replace("\n", "")) == ""
    if not wrong_in_name(text):
        assert shown == text
