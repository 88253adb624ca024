"""A rule in words: what it allows, and where."""

from __future__ import annotations

from portfolio.domain.measures import show_value
from portfolio.domain.parameters import PARAMETERS
from portfolio.domain.rules import OF_NUMBERS, ApplicationRule, RuleKind
from portfolio.domain.values import exactly, one_of
from portfolio.reference.loader import load_reference


def says(rule: ApplicationRule) -> str:
    """What the rule allows of its parameters."""
    if rule.kind is RuleKind.WITHIN:
        part = "" if rule.share is None else f", and {rule.share:.0%} of it,"
        return f"at most {_amount(rule)}{part} more or less than tested"
    if rule.kind in OF_NUMBERS:
        by = "" if rule.amount is None else f", and at most {_amount(rule)} less"
        if rule.kind is RuleKind.NOT_LESS:
            by = by.replace("less", "more")
        return f"{rule.kind.label}{by}"
    if rule.kind is RuleKind.EQUALS:
        return f"counts as equal: {_words(rule.parameters[0], rule.equals)}"
    return rule.kind.label


def holds_where(rule: ApplicationRule) -> str:
    """Where it holds; empty where it holds everywhere."""
    parts = [
        f"{PARAMETERS[c.parameter].title} is {_words(c.parameter, c.keys)}"
        for c in rule.all_conditions
    ]
    if rule.jurisdictions:
        parts.append(f"in {' or '.join(sorted(rule.jurisdictions))}")
    return "; ".join(parts)


def _amount(rule: ApplicationRule) -> str:
    attribute = PARAMETERS[rule.parameters[0]].attribute
    return show_value(attribute, exactly(rule.amount or 0.0), load_reference().vocabulary)


def _words(parameter: str, keys: frozenset[str]) -> str:
    attribute = PARAMETERS[parameter].attribute
    vocabulary = load_reference().vocabulary
    return " or ".join(sorted(show_value(attribute, one_of([key]), vocabulary) for key in keys))
