"""Reading and writing single values."""

from collections.abc import Callable

import pytest
from hypothesis import given
from hypothesis import strategies as st

from portfolio.domain.measures import (
    expected_words,
    read_number,
    read_value,
    show_value,
    write_number,
    write_value,
)
from portfolio.domain.parameters import PARAMETERS, Attribute
from portfolio.domain.values import (
    NOT_APPLICABLE,
    UNKNOWN,
    Named,
    Range,
    Value,
    exactly,
    known,
    one_of,
)
from portfolio.reference.loader import load_reference
from tests.domain.factories import values_of

VOCABULARY = load_reference().vocabulary
THICKNESS = PARAMETERS["insulation.1.thickness"].attribute
MATERIAL = PARAMETERS["insulation.1.material"].attribute
CLASS = PARAMETERS["insulation.1.class"].attribute
PRODUCT = PARAMETERS["insulation.1.product"].attribute
ATTRIBUTES = sorted(
    {parameter.attribute for parameter in PARAMETERS.values()},
    key=lambda a: (a.kind, a.key, a.unit),
)


@pytest.mark.parametrize(
    ("text", "millimetres"),
    [
        ("12.5", (12.5, 12.5)),
        ("12,5 mm", (12.5, 12.5)),  # a decimal comma with one or two places is no thousands mark
        (" 100 MM ", (100.0, 100.0)),
        ("10 cm", (100.0, 100.0)),
        ("1.2m", (1200.0, 1200.0)),
        (".5", (0.5, 0.5)),
        ("50-75", (50.0, 75.0)),
        ("50 – 75 mm", (50.0, 75.0)),
        ("50mm to 75mm", (50.0, 75.0)),
        ("5 to 7.5 cm", (50.0, 75.0)),
        ("50..75", (50.0, 75.0)),
        ("50 ± 5", (45.0, 55.0)),
        ("50 +/- 5 mm", (45.0, 55.0)),
    ],
)
def test_a_measure_reads_in_the_unit_kept(text: str, millimetres: tuple[float, float]) -> None:
    assert read_number(text, "mm") == Range(*millimetres)


@pytest.mark.parametrize(
    ("text", "millimetres"),
    [
        ("5 cm - 6", (50.0, 60.0)),
        ("1.2 m ± 0.05", (1150.0, 1250.0)),  # not 1200 mm give or take a twentieth of one
        ("10 cm ± 1", (90.0, 110.0)),
    ],
)
def test_one_unit_written_speaks_for_both_numbers(
    text: str, millimetres: tuple[float, float]
) -> None:
    assert read_number(text, "mm") == Range(*millimetres)


@pytest.mark.parametrize(
    ("text", "why"),
    [
        ("3 ft", "feet are no unit kept here"),
        ("3'", "feet"),
        ('4"', "inches"),
        ("4 in", "inches"),
        ("1,200", "one thousand two hundred, or one and a fifth?"),
        ("1,200 mm", "the same with a unit"),
        ("1.200,5", "two marks"),
        ("≥ 50 mm", "a bound is no measure"),
        ("> 50", "a bound is no measure"),
        ("min 50", "a bound is no measure"),
        ("50 mm min.", "a bound is no measure"),
        ("approx 50", "nothing is guessed"),
        ("c. 50", "nothing is guessed"),
        ("-50", "no layer is thinner than nothing"),
        ("75-50", "the greater end first"),
        ("5 ± 50", "the lower end below nothing"),
        ("50 m2", "an area"),
        ("50/75", "one or the other"),
        ("50 75", "two numbers"),
        ("1e3", "no trade writes measures so"),
        ("nan", "no number"),
        ("inf", "no number"),
    ],
)
def test_what_is_no_plain_measure_is_refused(text: str, why: str) -> None:
    with pytest.raises(ValueError, match="a number in mm"):
        read_number(text, "mm")


@pytest.mark.parametrize("text", ["", "  ", "unknown", "Not known", "n/k", "TBC", "?", "-"])
def test_words_for_unknown_read_as_unknown(text: str) -> None:
    assert read_number(text, "mm") is UNKNOWN
    assert read_value(MATERIAL, text, VOCABULARY) is UNKNOWN
    assert read_value(PRODUCT, text, VOCABULARY) is UNKNOWN


@pytest.mark.parametrize(
    ("text", "unit", "value"),
    [
        ("13.6 MJ/kg", "MJ/kg", 13.6),
        ("120 m²", "m2", 120.0),
        ("120 sqm", "m2", 120.0),
        ("1750 cm", "m", 17.5),
        ("3 kg", "kg", 3.0),  # a unit without other spellings
    ],
)
def test_each_unit_reads_its_own_spellings(text: str, unit: str, value: float) -> None:
    assert read_number(text, unit) == exactly(value)


@pytest.mark.parametrize(
    ("value", "text"),
    [
        (exactly(100), "100"),
        (exactly(12.5), "12.5"),
        (exactly(0), "0"),
        (exactly(1000), "1000"),
        (Range(50, 75.25), "50..75.25"),
    ],
)
def test_a_measure_is_written_plainly(value: Range, text: str) -> None:
    assert write_number(value) == text


@pytest.mark.parametrize("attribute", ATTRIBUTES, ids=lambda a: f"{a.key}-{a.category or a.unit}")
@given(data=st.data())
def test_what_is_written_reads_as_the_same_value(attribute: Attribute, data: st.DataObject) -> None:
    value = data.draw(values_of(attribute))
    again = read_value(attribute, write_value(attribute, value, VOCABULARY), VOCABULARY)
    assert again == value or getattr(again, "folded", "") == getattr(value, "folded", None)


@pytest.mark.parametrize("attribute", ATTRIBUTES, ids=lambda a: f"{a.key}-{a.category or a.unit}")
def test_an_unknown_value_is_written_as_nothing_and_reads_as_unknown(attribute: Attribute) -> None:
    text = write_value(attribute, UNKNOWN, VOCABULARY)
    assert text == ""
    assert read_value(attribute, text, VOCABULARY) is UNKNOWN


@given(st.text(max_size=12))
def test_any_text_reads_as_a_measure_or_is_refused(text: str) -> None:
    try:
        found = read_number(text, "mm")
    except ValueError:
        return
    assert found is UNKNOWN or isinstance(found, Range)


@pytest.mark.parametrize(
    ("text", "keys"),
    [
        ("Stone wool", {"stone-wool"}),
        ("stone_wool", {"stone-wool"}),
        ("rock wool", {"stone-wool"}),
        ("MW", {"stone-wool", "glass-wool", "slag-wool"}),
        ("eps | xps", {"eps", "xps"}),
    ],
)
def test_a_word_of_the_trade_reads_as_its_terms(text: str, keys: set[str]) -> None:
    assert read_value(MATERIAL, text, VOCABULARY) == one_of(keys)


@pytest.mark.parametrize(
    ("attribute", "text", "says"),
    [
        (MATERIAL, "stonewool", "one of: stone-wool, glass-wool"),
        (MATERIAL, "eps | unknown", "one of: stone-wool"),
        (CLASS, "Class 0", "a class of EN 13501-1"),
        (CLASS, "A2 | nothing", "a class of EN 13501-1"),
        (THICKNESS, "thick", "a number in mm"),
    ],
)
def test_a_refusal_says_what_was_expected(attribute: Attribute, text: str, says: str) -> None:
    with pytest.raises(ValueError, match=says):
        read_value(attribute, text, VOCABULARY)


@pytest.mark.parametrize(
    ("attribute", "says"),
    [
        (PRODUCT, "as your organisation writes it"),
        (CLASS, "A2-s1,d0"),
        (THICKNESS, "50 ± 5"),
        (MATERIAL, "stone-wool"),
    ],
)
def test_a_help_sheet_can_say_what_a_cell_may_hold(attribute: Attribute, says: str) -> None:
    assert says in expected_words(attribute, VOCABULARY)


@pytest.mark.parametrize(
    "text",
    # what people write where they do not know a product: common practice, no source
    [
        *("n/a", "N/A", "none", "None.", "various", "Unspecified", "to be confirmed", "TBC", "TBD"),
        *("?", "??", "? panel B", "-", "--", "...", "0", "x", "not  specified", "Generic", "n.a."),
    ],
)
def test_what_people_write_for_no_product_is_no_identity(text: str) -> None:
    assert read_value(PRODUCT, text, load_reference().vocabulary) is UNKNOWN


def test_one_of_several_products_is_no_identity() -> None:
    with pytest.raises(ValueError, match="without"):
        read_value(PRODUCT, "Panel A|Panel B", load_reference().vocabulary)


@given(st.sampled_from(["none", "n/a", "various", "0"]), st.sampled_from(["4", " A", "-2"]))
def test_a_name_that_only_begins_like_it_is_a_name(word: str, more: str) -> None:
    assert isinstance(read_value(PRODUCT, word + more, load_reference().vocabulary), Named)


def test_a_product_keeps_its_spelling_but_not_its_spaces() -> None:
    assert write_value(PRODUCT, read_value(PRODUCT, "  Board   A ", VOCABULARY), VOCABULARY) == (
        "Board A"
    )


@pytest.mark.parametrize(
    ("attribute", "value", "shown"),
    [
        (THICKNESS, exactly(100), "100 mm"),
        (THICKNESS, Range(50, 75), "50 to 75 mm"),
        (THICKNESS, UNKNOWN, "unknown"),
        (THICKNESS, NOT_APPLICABLE, "not applicable"),
        (MATERIAL, known("stone-wool"), "stone wool"),
        (
            MATERIAL,
            one_of(("stone-wool", "glass-wool", "slag-wool")),
            "mineral wool, kind not known",
        ),
        (MATERIAL, one_of(("stone-wool", "none")), "stone wool or no insulation"),
        (CLASS, known("A2-s1,d0"), "A2-s1,d0"),
        (CLASS, one_of(("B-s1,d0", "B-s1,d1")), "B, partly known"),
        (CLASS, one_of(("A1", "F")), "A1 or F, s and d not known"),
    ],
)
def test_a_value_is_shown_with_its_unit_and_its_doubt(
    attribute: Attribute, value: Value, shown: str
) -> None:
    assert show_value(attribute, value, VOCABULARY) == shown


def test_an_open_class_is_shown_as_open() -> None:
    value = read_value(CLASS, "A2", VOCABULARY)
    assert show_value(CLASS, value, VOCABULARY) == "A2, s and d not known"


@pytest.mark.parametrize("write", [write_value, show_value])
def test_a_product_is_written_and_shown_as_it_is_named(write: Callable[..., str]) -> None:
    assert write(PRODUCT, read_value(PRODUCT, "board A", VOCABULARY), VOCABULARY) == "board A"


@pytest.mark.parametrize("text", ["panel F or panel G", "F and/or G", "panel F OR panel G"])
def test_one_of_two_products_is_none_that_anybody_has_identified(text: str) -> None:
    attribute = PARAMETERS["facing.1.product"].attribute
    assert read_value(attribute, text, load_reference().vocabulary) is UNKNOWN
    assert read_value(attribute, "corridor panel", load_reference().vocabulary) is not UNKNOWN


@pytest.mark.parametrize(
    "text", ["9" * 400, f"5-{'9' * 400}", f"{'9' * 400} ± 1", "9" * 307 + " m"]
)
def test_what_is_no_finite_number_is_refused(text: str) -> None:
    with pytest.raises(ValueError, match="a number in mm"):
        read_number(text, "mm")
