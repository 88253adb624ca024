"""Rules as TOML: one [[rules]] table each, written so that reading it gives the same rules."""

from __future__ import annotations

import json
import re
import reprlib
import tomllib
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import date, datetime
from typing import Any

from portfolio.domain.errors import InputError, Problem
from portfolio.domain.own_rules import OwnRule
from portfolio.domain.parameters import PARAMETERS
from portfolio.domain.rules import OF_NUMBERS
from portfolio.services.rules.texts import (
    ConditionTexts,
    ExampleTexts,
    RuleTexts,
    read_rule,
    write_rule,
)

_TEXTS = ("key", "title", "parameter", "kind", "document", "clause", "author", "reason")
_LISTS = ("equals", "families", "jurisdictions")
_TABLES = ("conditions", "examples")
_NAMES = {"since": "from", "condition": "parameter"}
"""Fields whose key in a file is another word."""
_KNOWN = {"organisation", "amount", "unit", "from", "until", *_TEXTS, *_LISTS, *_TABLES}
_OF_CONDITION, _OF_EXAMPLE = (
    {"parameter", "words"},
    {"zone", "tested", "expect", "others", "jurisdiction"},
)
_DIGITS = re.compile(r"[0-9][0-9_]*")
_NESTED = re.compile(r"[\[{](?:[^\n\]}]*[\[{])*")
_HEADER = re.compile(r"^[ \t]*\[\[\s*rules\s*\]\]", re.MULTILINE)


@dataclass(frozen=True, slots=True)
class FiledRule:
    """A rule of a file: the reference of the organisation that owns it, and where it stands."""

    organisation: str
    rule: OwnRule
    line: int


def write_rules(rules: Iterable[tuple[str, OwnRule]]) -> str:
    """The file that `read_rules` reads as these rules, each with its organisation's reference."""
    return "\n".join(_written(organisation, rule) for organisation, rule in rules)


def _written(organisation: str, rule: OwnRule) -> str:
    texts = write_rule(rule)
    lines = ["[[rules]]", _pair("organisation", organisation)]
    lines += [_pair(name, getattr(texts, name)) for name in ("key", "title", "parameter", "kind")]
    if rule.kind in OF_NUMBERS:
        lines += [f"amount = {texts.amount}"] if texts.amount else []
        lines.append(_pair("unit", rule.unit))
    for name in _LISTS:
        words = [word.strip() for word in getattr(texts, name).split("|") if word.strip()]
        if words:
            lines.append(f"{name} = [{', '.join(map(_text, words))}]")
    lines.append(f"from = {rule.since.isoformat()}")
    if rule.until is not None:
        lines.append(f"until = {rule.until.isoformat()}")
    lines += [_pair(name, getattr(texts, name)) for name in _TEXTS[4:] if getattr(texts, name)]
    for condition in texts.conditions:
        words = [word.strip() for word in condition.words.split("|")]
        lines += ["", "[[rules.conditions]]", _pair("parameter", condition.parameter)]
        lines.append(f"words = [{', '.join(map(_text, words))}]")
    for example in texts.examples:
        lines += ["", "[[rules.examples]]"]
        lines += [_pair(name, getattr(example, name)) for name in ("zone", "tested", "expect")]
        if example.others:
            told = ", ".join(f"{_text(key)} = {_text(text)}" for key, text in example.others)
            lines.append(f"others = {{ {told} }}")
        if example.jurisdiction:
            lines.append(_pair("jurisdiction", example.jurisdiction))
    return "\n".join([*lines, ""])


def _pair(key: str, text: str) -> str:
    return f"{key} = {_text(text)}"


def _text(text: str) -> str:
    """A basic string of TOML: what JSON escapes, TOML reads alike; DEL it does not write."""
    return json.dumps(text, ensure_ascii=False).replace("\x7f", "\\u007f")


def read_rules(name: str, content: bytes) -> list[FiledRule]:
    """The rules of a file. Raises InputError with every problem: file, line, key and value."""
    text, found = _loaded(name, content)
    problems = [
        Problem("A file of rules has no such key.", "[[rules]]", file=name, column=key)
        for key in found.keys() - {"rules"}
    ]
    entries = found.get("rules", [])
    if not isinstance(entries, list) or not all(isinstance(entry, dict) for entry in entries):
        problems.append(Problem("These are no rules.", "[[rules]] tables", file=name))
        entries = []
    lines = [text.count("\n", 0, at.start()) + 1 for at in _HEADER.finditer(text)]
    rules = []
    for at, entry in enumerate(entries):
        reader = _Entry(entry)
        line = lines[at] if at < len(lines) else 1
        if rule := reader.read():
            rules.append(FiledRule(str(entry.get("organisation", "")), rule, line))
        key = _told(entry.get("key", f"rule {at + 1}"))
        problems += [replace(p, file=name, line=line, entry=key) for p in reader.problems]
    problems += _twice(name, rules)
    if problems:
        raise InputError(problems)
    return rules


def _loaded(name: str, content: bytes) -> tuple[str, dict[str, Any]]:
    """The text of a file and its tables; a mark of byte order at its start is passed over."""
    try:
        text = content.decode("utf-8-sig")
    except UnicodeDecodeError as error:
        message = "This file is not written in UTF-8."
        raise InputError([Problem(message, "a TOML file in UTF-8", file=name)]) from error
    try:
        return text, tomllib.loads(text)
    except tomllib.TOMLDecodeError as error:
        message = f"This is not TOML: {error}."
        raise InputError([Problem(message, "a TOML file", file=name)]) from error
    except RecursionError as error:
        line, key, _ = _longest(text, _NESTED)
        message = "Lists or tables stand too deep in each other."
        problem = Problem(message, "the tables of a rule", file=name, line=line, column=key)
        raise InputError([problem]) from error
    except ValueError as error:
        # whole numbers of some thousand digits: Python reads none
        line, key, value = _longest(text, _DIGITS)
        message = "This number has too many digits."
        told = f"{value[:20]}…"
        problem = Problem(message, "a number", file=name, line=line, column=key, value=told)
        raise InputError([problem]) from error


def _longest(text: str, what: re.Pattern[str]) -> tuple[int, str, str]:
    """Of the longest thing of a kind: the line, the key there, and the thing."""
    found = max(what.finditer(text), key=lambda at: len(at[0]))
    before = text[: found.start()]
    key, is_said, _ = before[before.rfind("\n") + 1 :].partition("=")
    return before.count("\n") + 1, key.strip(" \t{[") if is_said else "", found[0]


def _told(value: Any) -> str:
    """A value for a message, however large it is."""
    try:
        return reprlib.repr(value) if isinstance(value, list | dict) else str(value)
    except ValueError:
        return "a number of too many digits"


def _twice(name: str, rules: Sequence[FiledRule]) -> list[Problem]:
    """Versions of one rule stand in the order in which they begin, each later than the last."""
    seen: dict[tuple[str, str], date] = {}
    found = []
    for filed in rules:
        place = filed.organisation, filed.rule.key
        if place in seen and filed.rule.since <= seen[place]:
            message = "This rule stands in the file already; a further version of it begins later."
            key = filed.rule.key
            found.append(
                Problem(message, file=name, line=filed.line, entry=key, column="key", value=key)
            )
        seen[place] = filed.rule.since
    return found


class _Entry:
    """One [[rules]] table, read key by key; a value of the wrong kind is a problem of its key."""

    def __init__(self, entry: Mapping[str, Any]) -> None:
        self.entry = entry
        self.problems: list[Problem] = []

    def read(self) -> OwnRule | None:
        """The rule; None where something is wrong with it."""
        self._strange(self.entry, _KNOWN)
        self._text(self.entry, "organisation", needed=True)
        texts = self._texts()
        self._unit(texts.parameter)
        try:
            rule = read_rule(texts)
        except InputError as error:
            told = {(problem.column, problem.row) for problem in self.problems}
            named = (replace(p, column=_NAMES.get(p.column, p.column)) for p in error.problems)
            self.problems += [p for p in named if (p.column, p.row) not in told]
            return None
        return None if self.problems else rule

    def _texts(self) -> RuleTexts:
        entry = self.entry
        return RuleTexts(
            **{name: self._text(entry, name) for name in _TEXTS},
            **{name: self._words(entry, name) for name in _LISTS},
            amount=self._number(entry, "amount"),
            conditions=tuple(
                ConditionTexts(self._text(said, "parameter", row), self._words(said, "words", row))
                for row, said in self._tables("conditions", _OF_CONDITION)
            ),
            since=self._day("from"),
            until=self._day("until"),
            examples=tuple(
                ExampleTexts(
                    self._cell(said, "zone", row),
                    self._cell(said, "tested", row),
                    self._text(said, "expect", row),
                    self._others(said, row),
                    self._text(said, "jurisdiction", row),
                )
                for row, said in self._tables("examples", _OF_EXAMPLE)
            ),
        )

    def _refuse(self, key: str, value: Any, expected: str, row: int | None = None) -> None:
        message = "This is not of the kind that is read here."
        self.problems.append(Problem(message, expected, row=row, column=key, value=_told(value)))

    def _strange(self, table: Mapping[str, Any], known: set[str], row: int | None = None) -> None:
        for key in sorted(table.keys() - known):
            expected = ", ".join(sorted(known))
            message = "There is no such key."
            self.problems.append(Problem(message, expected, row=row, column=key))

    def _text(
        self, table: Mapping[str, Any], key: str, row: int | None = None, *, needed: bool = False
    ) -> str:
        found = table.get(key, "")
        if not isinstance(found, str) or (needed and not found.strip()):
            self._refuse(key, found, "a text", row)
            return ""
        return found.replace("\r\n", "\n").strip()

    def _cell(self, table: Mapping[str, Any], key: str, row: int | None) -> str:
        """A value as a cell would hold it: a text, or a number."""
        found = table.get(key, "")
        return self._number(table, key, row) if not isinstance(found, str) else found

    def _number(self, table: Mapping[str, Any], key: str, row: int | None = None) -> str:
        found = table.get(key)
        if found is None:
            return ""
        if isinstance(found, bool) or not isinstance(found, int | float):
            self._refuse(key, found, "a number", row)
            return ""
        try:
            number = float(found)
        except OverflowError:
            self._refuse(key, found, "a number", row)
            return ""
        return f"{number:.6f}".rstrip("0").rstrip(".")

    def _words(self, table: Mapping[str, Any], key: str, row: int | None = None) -> str:
        found = table.get(key, [])
        if not isinstance(found, list) or not all(isinstance(word, str) for word in found):
            self._refuse(key, found, "a list of texts", row)
            return ""
        if key in table and not all(word.strip(" |\t") for word in found or [""]):
            message = "What is written and says nothing is no restriction, and none is meant."
            expected = "words; or leave the key out, to ask nothing"
            value = _told(found)
            self.problems.append(Problem(message, expected, row=row, column=key, value=value))
            return ""
        return " | ".join(found)

    def _day(self, key: str) -> date | None:
        found = self.entry.get(key)
        if found is None or (isinstance(found, date) and not isinstance(found, datetime)):
            return found
        self._refuse(key, found, "a date as 2026-03-31, without quotes")
        return None

    def _tables(self, key: str, known: set[str]) -> list[tuple[int, Mapping[str, Any]]]:
        found = self.entry.get(key, [])
        if not isinstance(found, list) or not all(isinstance(each, dict) for each in found):
            self._refuse(key, found, f"[[rules.{key}]] tables")
            return []
        for row, table in enumerate(found, start=1):
            self._strange(table, known, row)
        return list(enumerate(found, start=1))

    def _others(self, table: Mapping[str, Any], row: int) -> tuple[tuple[str, str], ...]:
        found = table.get("others", {})
        if not isinstance(found, dict):
            self._refuse("others", found, "a table of parameters and values", row)
            return ()
        return tuple((key, self._cell(found, key, row)) for key in found)

    def _unit(self, parameter: str) -> None:
        """A unit may be left out, and never be another than the parameter's."""
        found = self._text(self.entry, "unit")
        unit = PARAMETERS[parameter].attribute.unit if parameter in PARAMETERS else found
        if found and found != unit:
            expected = unit or "nothing: this parameter has none"
            message = "The amount is given in another unit."
            self.problems.append(Problem(message, expected, column="unit", value=found))
