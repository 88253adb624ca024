"""Rules as people write them: read in one place, every problem at once, examples run."""

from dataclasses import replace
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from portfolio.domain.errors import InputError
from portfolio.domain.rules import RuleKind
from portfolio.services.rules.files import read_rules, write_rules
from portfolio.services.rules.texts import (
    ConditionTexts,
    ExampleTexts,
    RuleTexts,
    kinds_for,
    read_rule,
    write_rule,
)
from tests.services.rules_support import DEEPER, EQUAL_WOOLS, FAMILY, UNDER_CONDITIONS

EVERY = (DEEPER, UNDER_CONDITIONS, EQUAL_WOOLS)


def columns(texts: RuleTexts) -> list[tuple[str, int | None]]:
    with pytest.raises(InputError) as refused:
        read_rule(texts)
    return [(problem.column, problem.row) for problem in refused.value.problems]


@pytest.mark.parametrize("texts", EVERY)
def test_what_is_written_reads_as_the_same_rule(texts: RuleTexts) -> None:
    rule = read_rule(texts)
    assert read_rule(write_rule(rule)) == rule


@pytest.mark.parametrize(
    ("changed", "expected"),
    [
        ({"key": "Deeper cavity"}, [("key", None)]),
        ({"key": "as-tested-cavity-depth"}, [("key", None)]),
        ({"title": ""}, [("title", None)]),
        ({"author": "", "reason": ""}, [("author", None), ("reason", None)]),
        ({"title": "x" * 201}, [("title", None)]),
        ({"title": "a\u202eb"}, [("title", None)]),
        ({"parameter": "facing.1.product"}, [("parameter", None)]),
        ({"parameter": "cavity.3.depth"}, [("parameter", None)]),
        ({"kind": "roughly"}, [("kind", None)]),
        ({"kind": "not-worse", "amount": ""}, [("kind", None)]),
        ({"kind": "within", "amount": ""}, [("amount", None)]),
        ({"amount": "some"}, [("amount", None)]),
        ({"amount": "10-20"}, [("amount", None)]),
        ({"equals": "stone-wool"}, [("equals", None)]),
        ({"families": "glass house"}, [("families", None)]),
        ({"families": "unknown"}, [("families", None)]),
        ({"jurisdictions": "Nowhere"}, [("jurisdictions", None)]),
        ({"since": None}, [("since", None)]),
        ({"until": DEEPER.since and DEEPER.since.replace(year=2025)}, [("until", None)]),
        ({"conditions": (ConditionTexts("cavity.1.depth", "50"),)}, [("condition", 1)]),
        ({"conditions": (ConditionTexts("insulation.1.material", ""),)}, [("words", 1)]),
        ({"conditions": (ConditionTexts("insulation.1.material", "other"),)}, [("words", 1)]),
        ({"examples": ()}, [("examples", None)]),
        ({"examples": DEEPER.examples[:1]}, [("examples", None)]),
        ({"examples": (*DEEPER.examples, ExampleTexts("91", "50", "allowed"))}, [("expect", 3)]),
        ({"examples": (ExampleTexts("?!", "50", "perhaps"),)}, [("zone", 1), ("expect", 1)]),
        (
            {"examples": (ExampleTexts("80", "50", "allowed", (("cavity.1.depth", "5"),)),)},
            [("others", 1)],
        ),
    ],
)  # fmt: skip
def test_what_cannot_be_a_rule_is_refused_at_its_field(
    changed: dict[str, Any], expected: list[tuple[str, int | None]]
) -> None:
    assert columns(replace(DEEPER, **changed))[: len(expected)] == expected


@pytest.mark.parametrize("words", ["stone-wool", "stone-wool | other", "stone-wool | none", ""])
def test_a_list_of_equals_has_two_words_for_what_is_there(words: str) -> None:
    assert ("equals", None) in columns(replace(EQUAL_WOOLS, equals=words))


def test_everything_wrong_is_told_at_once() -> None:
    wrong = replace(
        DEEPER,
        key="?",
        title="",
        kind="roughly",
        families="glass house",
        jurisdictions="Nowhere",
        since=None,
        conditions=(ConditionTexts("cavity.1.depth", "50"),),
        examples=(ExampleTexts("??", "50", "perhaps", (FAMILY,)),),
    )
    assert {column for column, _ in columns(wrong)} == {
        *("key", "title", "kind", "families", "jurisdictions", "since", "condition"),
        *("zone", "expect"),
    }


def test_each_parameter_has_the_kinds_that_speak_of_it() -> None:
    assert kinds_for("cavity.1.depth") == ["within", "not-more", "not-less"]
    assert kinds_for("insulation.1.material") == ["equals"]
    assert kinds_for("facing.1.class") == ["equals", "not-worse"]
    assert kinds_for("barrier-vertical.1.type") == ["equals", "present"]
    assert {kind for key in ("cavity.1.depth", "facing.1.class", "barrier-vertical.1.type") for kind in kinds_for(key)} == set(RuleKind)  # fmt: skip  # noqa: E501


# --- TOML ----------------------------------------------------------------------------------------


def test_a_file_reads_as_the_rules_that_it_was_written_from() -> None:
    rules = [("north", read_rule(texts)) for texts in EVERY] + [("south", read_rule(DEEPER))]
    content = write_rules(rules)
    filed = read_rules("rules.toml", content.encode())
    assert [(each.organisation, each.rule) for each in filed] == rules
    assert write_rules((each.organisation, each.rule) for each in filed) == content


nice = st.text(st.characters(codec="utf-8", exclude_categories=["C", "Z"]), min_size=1, max_size=20)


@given(title=nice, reason=nice, document=nice)
def test_any_text_comes_back_from_a_file(title: str, reason: str, document: str) -> None:
    told = {"title": title, "reason": f'{reason}\n"{reason}"\\', "document": document}
    try:
        rule = read_rule(replace(DEEPER, **told))
    except InputError:
        return
    [filed] = read_rules("rules.toml", write_rules([("north", rule)]).encode())
    assert filed.rule == rule


FILE = write_rules([("north", read_rule(DEEPER)), ("north", read_rule(UNDER_CONDITIONS))])


def _problems_of(content: str) -> list[tuple[int | None, str, str]]:
    with pytest.raises(InputError) as refused:
        read_rules("rules.toml", content.encode())
    assert {problem.file for problem in refused.value.problems} == {"rules.toml"}
    return [(p.line, p.entry, p.column) for p in refused.value.problems]


def test_every_problem_of_a_file_is_told_with_line_and_key() -> None:
    wrong = (
        FILE.replace('unit = "mm"', 'unit = "m"', 1)
        .replace("from = 2026-01-01", 'from = "soon"', 1)
        .replace('title = "A deeper cavity"', 'titel = "A deeper cavity"', 1)
        .replace('families = ["ventilated-rainscreen"]', 'families = "ventilated-rainscreen"')
        .replace('words = ["stone-wool", "glass-wool"]', 'words = ["stone-wol"]')
    )
    line = FILE[: FILE.rindex("[[rules]]")].count("\n") + 1
    assert sorted(_problems_of(wrong), key=str) == [
        (1, "deeper-cavity", "from"),
        (1, "deeper-cavity", "titel"),
        (1, "deeper-cavity", "title"),
        (1, "deeper-cavity", "unit"),
        (line, "deeper-in-wool", "families"),
        (line, "deeper-in-wool", "words"),
    ]


@pytest.mark.parametrize(
    ("content", "expected"),
    [
        ("rules = 5", [(None, "", "")]),
        ("other = 5", [(None, "", "other")]),
        ("[[rules", [(None, "", "")]),
        (FILE + FILE, [(None, "", "key"), (None, "", "key")]),
        (FILE.replace('organisation = "north"', ""), [(None, "", "organisation")] * 2),
    ],
)
def test_what_is_no_file_of_rules_is_refused(
    content: str, expected: list[tuple[None, str, str]]
) -> None:
    assert [column for _, _, column in _problems_of(content)] == [c for _, _, c in expected]


def test_a_file_that_is_not_text_is_refused() -> None:
    with pytest.raises(InputError, match="UTF-8"):
        read_rules("rules.toml", b"\xff\xfe")


def _refused_file(text: str) -> list[tuple[int | None, str]]:
    with pytest.raises(InputError) as refused:
        read_rules("rules.toml", text.encode())
    assert {problem.file for problem in refused.value.problems} == {"rules.toml"}
    assert all(len(str(problem)) < 1000 for problem in refused.value.problems)
    return [(problem.line, problem.column) for problem in refused.value.problems]


FILED = write_rules([("north", read_rule(DEEPER))])
AMOUNT = FILED.splitlines().index("amount = 40") + 1


@pytest.mark.parametrize(
    ("amount", "line"),
    [
        ("1" * 400, 1),
        ("1" * 5000, AMOUNT),
        ("0x" + "f" * 5000, 1),
        ("1e308", 1),
        ("inf", 1),
        ("nan", 1),
        ("[" * 200 + "]" * 200, 1),
        ("[0x" + "f" * 5000 + "]", 1),
        ("[" * 5000 + "]" * 5000, AMOUNT),
        ("{a=" * 2000 + "1" + "}" * 2000, AMOUNT),
    ],
)
def test_a_number_or_nesting_beyond_measure_is_told_with_its_place(amount: str, line: int) -> None:
    found = _refused_file(FILED.replace("amount = 40", f"amount = {amount}"))
    assert found[0] == (line, "amount")


@pytest.mark.parametrize("day", ["0001-01-01", "1899-12-31", "2101-01-01", "9999-12-31"])
@pytest.mark.parametrize("key", ["from", "until"])
def test_days_lie_in_the_years_that_a_form_reads(key: str, day: str) -> None:
    began = FILED.replace("from = 2026-01-01", f"from = {DEEPER.since}\nuntil = 2100-12-31")
    assert read_rules("rules.toml", began.encode())
    old = "2026-01-01" if key == "from" else "2100-12-31"
    assert (1, key) in _refused_file(began.replace(old, day))


@pytest.mark.parametrize("words", ["[]", '[""]', '["|"]', '[" ", ""]', '["", "{word}"]'])
@pytest.mark.parametrize(
    ("key", "word"), [("jurisdictions", "England"), ("families", "ventilated-rainscreen")]
)
def test_a_restriction_that_is_written_and_empty_is_refused(
    key: str, word: str, words: str
) -> None:
    said = f"{key} = {words.format(word=word)}\nfrom = 2026"
    assert _refused_file(FILED.replace("from = 2026", said)) == [(1, key)]
    assert columns(replace(DEEPER, **{key: " | "})) == [(key, None)]


def test_a_mark_of_byte_order_is_passed_over() -> None:
    [filed] = read_rules("rules.toml", FILED.encode("utf-8-sig"))
    assert (filed.rule, filed.line) == (read_rule(DEEPER), 1)


@pytest.mark.parametrize(
    ("parameter", "words", "worse", "milder"),
    [
        ("insulation.1.material", ("eps", "stone-wool"), "polystyrene", "stone wool"),
        ("insulation.2.material", ("pir-foam", "glass-wool"), "PIR", "glass wool"),
        ("facing.1.class", ("E", "A2-s1,d0"), "E", "A2-s1,d0"),
        ("facing.1.core_category", ("3", "1"), "3", "1"),
    ],
)
def test_equals_that_would_burn_worse_are_refused_and_named(
    parameter: str, words: tuple[str, str], worse: str, milder: str
) -> None:
    texts = replace(
        EQUAL_WOOLS,
        parameter=parameter,
        equals=" | ".join(words),
        examples=(ExampleTexts(*words, "allowed"), ExampleTexts("unknown", words[0], "unknown")),
    )
    with pytest.raises(InputError, match="zone by zone, not for a rule") as refused:
        read_rule(texts)
    [problem] = refused.value.problems
    assert problem.column == "equals"
    assert problem.message.casefold().index(worse.casefold()) < problem.message.casefold().rindex(
        milder.casefold()
    )


@pytest.mark.parametrize(
    ("parameter", "kind", "most"),
    [
        *(("cavity.1.depth", kind, 10_000) for kind in ("within", "not-more", "not-less")),
        ("facing.1.calorific_value", "not-more", 50),
    ],
)
def test_an_amount_that_nobody_builds_is_refused(parameter: str, kind: str, most: int) -> None:
    for amount in (str(most + 1), "9" * 300):
        texts = replace(DEEPER, parameter=parameter, kind=kind, amount=amount)
        with pytest.raises(InputError, match=f"at most {most} .* \\(house bound\\)") as refused:
            read_rule(texts)
        assert [p.column for p in refused.value.problems] == ["amount"]
    zone, tested = ("0", str(most)) if kind == "not-more" else (str(most), "0")
    examples = (
        ExampleTexts(zone, tested, "allowed"),
        ExampleTexts("unknown", tested, "unknown"),
    )
    texts = replace(DEEPER, parameter=parameter, kind=kind, amount=str(most), examples=examples)
    assert read_rule(texts).amount == most


@pytest.mark.parametrize(
    ("kind", "amount"), [("within", "4"), ("not-less", "3.1"), ("not-less", "")]
)
def test_a_core_that_burns_more_than_tested_is_no_matter_for_a_rule(kind: str, amount: str) -> None:
    """Test 4 of 2017 as the government's note on it has it: a higher calorific value is not covered
    without more thought."""
    texts = replace(DEEPER, parameter="facing.1.calorific_value", kind=kind, amount=amount)
    with pytest.raises(InputError, match="zone by zone, not for a rule") as refused:
        read_rule(texts)
    assert "amount" in {problem.column for problem in refused.value.problems}


@pytest.mark.parametrize("kind", ["within", "not-less"])
def test_two_measurements_of_one_core_may_differ_by_what_is_measured(kind: str) -> None:
    examples = (ExampleTexts("16", "13.6", "allowed"), ExampleTexts("17", "13.6", "differs"))
    texts = replace(DEEPER, parameter="facing.1.calorific_value", kind=kind, amount="3")
    assert read_rule(replace(texts, examples=examples)).amount == 3
