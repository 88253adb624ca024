"""The bridge between stored versions of application rules and the domain's."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from typing import Any

from portfolio.db.rules import RuleVersion
from portfolio.domain.columns import Answer
from portfolio.domain.measures import read_value, write_value
from portfolio.domain.own_rules import OwnRule
from portfolio.domain.parameters import PARAMETERS
from portfolio.domain.rule_examples import RuleExample
from portfolio.domain.rules import OF_NUMBERS, ApplicationRule, Condition
from portfolio.domain.values import Value
from portfolio.domain.vocabulary import Vocabulary

_ALIKE = (
    *("key", "title", "parameter", "kind", "amount", "since", "until"),
    *("document", "clause", "author", "reason"),
)


def rule_from_row(row: RuleVersion, vocabulary: Vocabulary) -> OwnRule:
    """What the engineer said."""
    attribute = PARAMETERS[row.parameter].attribute
    return OwnRule(
        **{name: getattr(row, name) for name in _ALIKE},
        unit=attribute.unit if row.kind in OF_NUMBERS else "",
        equals=frozenset(row.equals),
        families=frozenset(row.families),
        jurisdictions=frozenset(row.jurisdictions),
        conditions=tuple(
            Condition(said["parameter"], frozenset(said["words"])) for said in row.conditions
        ),
        examples=tuple(_example(row.parameter, said, vocabulary) for said in row.examples),
    )


def version_from_row(row: RuleVersion, vocabulary: Vocabulary) -> ApplicationRule:
    """The version as walls are compared by it."""
    return rule_from_row(row, vocabulary).as_version(row.version)


def values_of_row(rule: OwnRule, vocabulary: Vocabulary) -> dict[str, Any]:
    """The columns that hold what the engineer said; `rule_from_row` reads them as the same."""
    return {name: getattr(rule, name) for name in _ALIKE} | {
        "equals": sorted(rule.equals),
        "families": sorted(rule.families),
        "jurisdictions": sorted(rule.jurisdictions),
        "conditions": [
            {"parameter": said.parameter, "words": sorted(said.keys)} for said in rule.conditions
        ],
        "examples": [
            {
                "zone": _text(rule.parameter, said.zone, vocabulary),
                "tested": _text(rule.parameter, said.tested, vocabulary),
                "expect": said.expect.word,
                "others": _texts(said.others, vocabulary),
                "jurisdiction": said.jurisdiction,
            }
            for said in rule.examples
        ],
    }


def _example(parameter: str, said: Mapping[str, Any], vocabulary: Vocabulary) -> RuleExample:
    return RuleExample(
        _value(parameter, said["zone"], vocabulary),
        _value(parameter, said["tested"], vocabulary),
        Answer[said["expect"].upper()],
        dict(_values(said["others"].items(), vocabulary)),
        said["jurisdiction"],
    )


def _values(told: Iterable[tuple[str, str]], vocabulary: Vocabulary) -> Iterable[tuple[str, Value]]:
    return ((key, _value(key, text, vocabulary)) for key, text in told)


def _texts(values: Mapping[str, Value], vocabulary: Vocabulary) -> dict[str, str]:
    return {key: _text(key, value, vocabulary) for key, value in sorted(values.items())}


def _value(parameter: str, text: str, vocabulary: Vocabulary) -> Value:
    return read_value(PARAMETERS[parameter].attribute, text, vocabulary)


def _text(parameter: str, value: Value, vocabulary: Vocabulary) -> str:
    return write_value(PARAMETERS[parameter].attribute, value, vocabulary)
