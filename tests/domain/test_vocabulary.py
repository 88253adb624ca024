"""Categories: closed lists of words, and groups of them."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from portfolio.domain.values import UNKNOWN, known, one_of
from portfolio.domain.vocabulary import MOST_TERMS, Category, Term
from portfolio.reference.loader import load_reference


def category(*terms: Term) -> Category:
    return Category("fruit", "Fruit", {term.key: term for term in terms})


FRUIT = category(
    Term("red-apple", "red apple", family="apple", aliases=("cherry apple",)),
    Term("green-apple", "green apple", family="apple"),
    Term("pear", "pear"),
    Term("apple", "apple, kind not known", members=frozenset({"red-apple", "green-apple"})),
)


def test_the_single_terms_are_those_that_are_no_groups() -> None:
    assert FRUIT.singles == ("red-apple", "green-apple", "pear")


@pytest.mark.parametrize("text", ["red-apple", "Red  Apple", "RED_APPLE", "Cherry apple"])
def test_case_hyphens_and_spaces_do_not_matter(text: str) -> None:
    assert FRUIT.read(text) == known("red-apple")


def test_a_group_leaves_open_which_of_its_terms_it_is() -> None:
    assert FRUIT.read("apple") == one_of(("red-apple", "green-apple"))
    assert FRUIT.read("apple | pear") == one_of(("red-apple", "green-apple", "pear"))


@pytest.mark.parametrize("text", ["", " ", "unknown", "TBC"])
def test_words_for_unknown_are_unknown(text: str) -> None:
    assert FRUIT.read(text) is UNKNOWN


@pytest.mark.parametrize("text", ["plum", "pear | plum", "pear |"])
def test_a_word_not_in_the_list_is_refused(text: str) -> None:
    with pytest.raises(ValueError, match="is not a word for fruit"):
        FRUIT.read(text)


def test_a_word_for_two_terms_is_refused() -> None:
    with pytest.raises(ValueError, match="stands for two terms"):
        category(Term("a", "same"), Term("b", "Same"))


def test_more_terms_than_fit_a_machine_word_are_refused() -> None:
    with pytest.raises(ValueError, match="more than 60 single terms"):
        category(*(Term(f"t{i}", f"term {i}") for i in range(MOST_TERMS + 1)))


@pytest.mark.parametrize("key", sorted(load_reference().vocabulary.categories))
@given(data=st.data())
def test_every_set_of_terms_is_written_as_it_reads(key: str, data: st.DataObject) -> None:
    words = load_reference().vocabulary[key]
    value = data.draw(st.sets(st.sampled_from(words.singles), min_size=1).map(one_of))
    assert words.read(words.write(value)) == value


def test_a_set_is_labelled_by_its_group_or_by_its_terms() -> None:
    assert FRUIT.label(one_of(("red-apple", "green-apple"))) == "apple, kind not known"
    assert FRUIT.label(one_of(("red-apple", "pear"))) == "red apple or pear"


def test_a_term_without_a_family_is_one_of_its_own() -> None:
    assert (FRUIT.family("red-apple"), FRUIT.family("pear")) == ("apple", "pear")


def test_stone_and_glass_wool_are_one_family() -> None:
    insulation = load_reference().vocabulary["insulation-material"]
    assert insulation.family("stone-wool") == insulation.family("glass-wool") == "mineral-wool"
