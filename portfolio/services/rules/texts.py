"""A rule as people write it, in a form or in a file; read in one place, every problem at once."""

from __future__ import annotations

import re
from dataclasses import dataclass
from datetime import date

from portfolio.domain.columns import Answer
from portfolio.domain.errors import InputError, Problem
from portfolio.domain.measures import (
    expected_words,
    read_number,
    read_value,
    show_value,
    write_number,
    write_value,
)
from portfolio.domain.own_rules import OwnRule
from portfolio.domain.parameters import PARAMETERS, Attribute, Kind
from portfolio.domain.plain_text import wrong_in_name, wrong_in_text
from portfolio.domain.rule_bounds import MOST, NOT_FOR_A_RULE, most_worse, worse_and_milder
from portfolio.domain.rule_examples import RuleExample
from portfolio.domain.rules import OF_NUMBERS, Condition, RuleKind, can_speak_of
from portfolio.domain.values import OTHER, UNKNOWN, OneOf, Range, Value, exactly, one_of
from portfolio.domain.walls import NONE
from portfolio.reference.loader import Reference, load_reference
from portfolio.sheets.dates import YEARS
from portfolio.sheets.lists import jurisdictions, meaning

LONGEST = {
    "key": 60,
    "title": 200,
    "document": 300,
    "clause": 100,
    "author": 200,
    "reason": 5000,
}
FAMILY = "wall.system_family"
ANSWERS = tuple(answer.word for answer in Answer)
RULED = tuple(key for key, p in PARAMETERS.items() if p.kind is not Kind.IDENTITY)
"""The parameters that a rule can speak of: measures and words, no identities."""
CONDITIONED = tuple(key for key in RULED if PARAMETERS[key].kind is Kind.CATEGORY)
_KEY = re.compile(r"[a-z0-9]+(?:-[a-z0-9]+)*")
_OPTIONAL = ("clause",)


@dataclass(frozen=True, slots=True)
class ConditionTexts:
    """A parameter's key, and the words that it is to be one of, parted by "|"."""

    parameter: str
    words: str


@dataclass(frozen=True, slots=True)
class ExampleTexts:
    """One worked example; `others` are (key of a parameter that has words, value)."""

    zone: str
    tested: str
    expect: str
    others: tuple[tuple[str, str], ...] = ()
    jurisdiction: str = ""


@dataclass(frozen=True, slots=True)
class RuleTexts:
    """A rule as written; lists of words are parted by "|", and empty where nothing is asked."""

    key: str
    title: str
    parameter: str
    kind: str
    amount: str
    equals: str
    families: str
    jurisdictions: str
    conditions: tuple[ConditionTexts, ...]
    since: date | None
    until: date | None
    document: str
    clause: str
    author: str
    reason: str
    examples: tuple[ExampleTexts, ...]


def read_rule(texts: RuleTexts) -> OwnRule:
    """The rule that the texts tell of. Raises InputError.

    Each problem has the field's name as its column; one in a condition or an example has its
    place in the list, from 1, as its row.
    """
    reader = _Reader(texts, load_reference())
    rule = reader.rule()
    if not reader.problems and rule is not None:
        reader.check_examples(rule)
    if reader.problems or rule is None:
        raise InputError(reader.problems)
    return rule


class _Reader:
    def __init__(self, texts: RuleTexts, reference: Reference) -> None:
        self.texts, self.reference = texts, reference
        self.problems: list[Problem] = []

    def rule(self) -> OwnRule | None:
        """The rule; None where it cannot even be said of what it speaks, or from when on."""
        texts = self.texts
        self._words_said()
        self._days()
        families = self._set("families", PARAMETERS[FAMILY].attribute, texts.families)
        places, conditions = self._places(), self._conditions()
        kind = next((kind for kind in RuleKind if kind.value == texts.kind), None)
        if kind is None:
            self._refuse("kind", "This is no kind of rule.", ", ".join(RuleKind), texts.kind)
        if texts.parameter not in RULED:
            message = "No rule can speak of this."
            self._refuse("parameter", message, "the key of a measure or a word", texts.parameter)
            return None
        attribute = PARAMETERS[texts.parameter].attribute
        examples = self._examples(attribute)
        if kind is None or not self._speaks(kind) or texts.since is None:
            return None
        return OwnRule(
            texts.key,
            texts.title,
            texts.parameter,
            kind,
            self._amount(kind, attribute),
            attribute.unit if kind in OF_NUMBERS else "",
            self._equals(kind, attribute),
            families,
            places,
            conditions,
            texts.since,
            texts.until,
            texts.document,
            texts.clause,
            texts.author,
            texts.reason,
            examples,
        )

    def _speaks(self, kind: RuleKind) -> bool:
        found = can_speak_of(kind, self.texts.parameter)
        if not found:
            message = "A rule of this kind does not speak of this parameter."
            expected = ", ".join(kinds_for(self.texts.parameter))
            self._refuse("kind", message, expected, self.texts.kind)
        return found

    def check_examples(self, rule: OwnRule) -> None:
        """Every example comes out as is said; one is allowed, and one is not."""
        for row, (example, found) in enumerate(
            zip(rule.examples, rule.outcomes(), strict=True), start=1
        ):
            if found is not example.expect:
                message = f"By this rule alone the answer comes out as “{found.word}”."
                said = example.expect.word
                self._refuse("expect", message, "what the rule answers", said, row)
        allowed = {example.expect is Answer.ALLOWED for example in rule.examples}
        if allowed != {True, False}:
            message = "Give at least one example that the rule allows, and one that it does not."
            self._refuse("examples", message)

    def _refuse(
        self, column: str, message: str, expected: str = "", value: str = "", row: int | None = None
    ) -> None:
        self.problems.append(Problem(message, expected, row=row, column=column, value=value))

    def _words_said(self) -> None:
        for name, longest in LONGEST.items():
            text = getattr(self.texts, name)
            if not text and name not in _OPTIONAL:
                self._refuse(name, "This must be said.")
            if len(text) > longest:
                self._refuse(name, f"This has {len(text)} characters.", f"at most {longest}")
            if wrong := wrong_in_text(text) if name == "reason" else wrong_in_name(text):
                self._refuse(name, wrong)
        key = self.texts.key
        if key and not _KEY.fullmatch(key):
            expected = 'small letters, digits and single hyphens, as "wider-cavity"'
            self._refuse("key", "This cannot be the key of a rule.", expected, key)
        if key in {rule.id for rule in self.reference.rules}:
            self._refuse("key", "This is a rule that the program ships.", "another key", key)

    def _days(self) -> None:
        since, until = self.texts.since, self.texts.until
        if since is None:
            self._refuse("since", "Give the first day on which it counts.", "a date")
            return
        for name, day in (("since", since), ("until", until)):
            if day is not None and day.year not in YEARS:
                expected = f"a year from {YEARS[0]} to {YEARS[-1]}"
                message = "No rule counts so long ago, or so far ahead."
                self._refuse(name, message, expected, day.isoformat())
        if until is not None and until < since:
            self._refuse("until", "It would end before it begins.", value=until.isoformat())

    def _amount(self, kind: RuleKind, attribute: Attribute) -> float | None:
        text = self.texts.amount.strip()
        if kind not in OF_NUMBERS:
            if text:
                self._refuse("amount", "A rule of words has no amount.", "nothing", text)
            return None
        worse = most_worse(kind, self.texts.parameter, self.reference.judge.orders)
        if not text and kind is not RuleKind.WITHIN:
            if worse is not None:
                self._refuse_worse(worse, attribute, text)
            return None
        try:
            found = read_number(text, attribute.unit)
        except ValueError:
            found = None
        if isinstance(found, Range) and found.is_known:
            most = MOST.get(attribute.unit)
            if most is not None and found.low > most:
                message = "Nothing is built that differs by so much: this is no engineer's rule."
                expected = f"at most {write_number(exactly(most))} {attribute.unit} (house bound)"
                self._refuse("amount", message, expected, text)
            elif worse is not None and found.low > worse:
                self._refuse_worse(worse, attribute, text)
            return found.low
        self._refuse("amount", "This is no amount.", f"one number in {attribute.unit}", text)
        return None

    def _refuse_worse(self, most: float, attribute: Attribute, text: str) -> None:
        told = f"{write_number(exactly(most))} {attribute.unit}"
        message = f"More than {told} above what was tested is more onerous: {NOT_FOR_A_RULE}."
        self._refuse("amount", message, f"at most {told}, or a rule of not more than tested", text)

    def _equals(self, kind: RuleKind, attribute: Attribute) -> frozenset[str]:
        text = self.texts.equals.strip()
        if kind is not RuleKind.EQUALS:
            if text:
                self._refuse("equals", "Only a list of equals has words.", "nothing", text)
            return frozenset()
        found = self._set("equals", attribute, text)
        if len(found) == 1 or not text:
            self._refuse("equals", "Nothing is equal to itself alone.", "two words or more", text)
        if NONE in found:
            message = "What is not there is equal to nothing."
            self._refuse("equals", message, "words for what is there", text)
            return found
        judge = self.reference.judge
        pair = worse_and_milder(self.texts.parameter, found, judge.orders, judge.families)
        if pair is not None:
            vocabulary = self.reference.vocabulary
            worse, milder = (show_value(attribute, one_of([key]), vocabulary) for key in pair)
            message = f"“{worse}” is known to be more onerous than “{milder}”: {NOT_FOR_A_RULE}."
            self._refuse("equals", message, "words of which none is known to be worse", text)
        return found

    def _set(
        self, column: str, attribute: Attribute, text: str, row: int | None = None
    ) -> frozenset[str]:
        """The words of a text; empty where it has none."""
        if not text.strip():
            return frozenset()
        value = self._value(column, attribute, text, row)
        if not isinstance(value, OneOf):
            if value is not None:
                expected = expected_words(attribute, self.reference.vocabulary)
                self._refuse(column, "This says nothing.", expected, text, row)
            return frozenset()
        if OTHER in value.keys:
            self._refuse(column, "Two other things need not be alike.", "words", text, row)
        return value.keys

    def _value(self, column: str, attribute: Attribute, text: str, row: int | None) -> Value | None:
        vocabulary = self.reference.vocabulary
        try:
            return read_value(attribute, text, vocabulary)
        except ValueError:
            expected = expected_words(attribute, vocabulary)
            self._refuse(column, "This cannot be read.", expected, text, row)
            return None

    def _places(self) -> frozenset[str]:
        known = jurisdictions(self.reference)
        found = set()
        said = self.texts.jurisdictions.strip()
        texts = [text.strip() for text in said.split("|") if text.strip()]
        if said and not texts:
            message = "This names no jurisdiction."
            expected = f"{', '.join(known)}; or nothing, for all of them"
            self._refuse("jurisdictions", message, expected, said)
        for text in texts:
            place = meaning(known, text)
            if place is None:
                message = "Of this jurisdiction no route is known."
                self._refuse("jurisdictions", message, ", ".join(known), text)
            else:
                found.add(place)
        return frozenset(found)

    def _conditions(self) -> tuple[Condition, ...]:
        found: dict[str, Condition] = {}
        for row, said in enumerate(self.texts.conditions, start=1):
            key = said.parameter
            if key not in CONDITIONED or key in found or key == self.texts.parameter:
                expected = "another parameter that has words, each once"
                message = "This can be no condition here."
                self._refuse("condition", message, expected, key, row)
                continue
            words = self._set("words", PARAMETERS[key].attribute, said.words, row)
            if not said.words.strip():
                self._refuse("words", "Say which words it is to be one of.", row=row)
            found[key] = Condition(key, words)
        return tuple(found[key] for key in sorted(found))

    def _examples(self, attribute: Attribute) -> tuple[RuleExample, ...]:
        found = []
        for row, said in enumerate(self.texts.examples, start=1):
            zone = self._value("zone", attribute, said.zone, row)
            tested = self._value("tested", attribute, said.tested, row)
            others = self._others(said, row)
            place = self._place_of(said, row)
            expect = next((answer for answer in Answer if answer.word == said.expect), None)
            if expect is None:
                message = "This is no answer."
                self._refuse("expect", message, ", ".join(ANSWERS), said.expect, row)
            elif zone is not None and tested is not None:
                found.append(RuleExample(zone, tested, expect, others, place))
        return tuple(found)

    def _others(self, said: ExampleTexts, row: int) -> dict[str, Value]:
        found: dict[str, Value] = {}
        for key, text in said.others:
            if key not in CONDITIONED or key == self.texts.parameter:
                expected = "another parameter that has words"
                self._refuse("others", "No rule could ask for this.", expected, key, row)
                continue
            value = self._value("others", PARAMETERS[key].attribute, text, row)
            if value is not None:
                found[key] = value
        return found

    def _place_of(self, said: ExampleTexts, row: int) -> str:
        known = jurisdictions(self.reference)
        place = meaning(known, said.jurisdiction) if said.jurisdiction else ""
        if place is None:
            message = "Of this jurisdiction no route is known."
            self._refuse("jurisdiction", message, ", ".join(known), said.jurisdiction, row)
        return place or ""


def kinds_for(parameter: str) -> list[str]:
    """The kinds of rule that can speak of a parameter."""
    return [kind.value for kind in RuleKind if can_speak_of(kind, parameter)]


def write_rule(rule: OwnRule) -> RuleTexts:
    """The texts that `read_rule` reads as the same rule."""
    attribute = PARAMETERS[rule.parameter].attribute
    vocabulary = load_reference().vocabulary

    def words(attribute: Attribute, keys: frozenset[str]) -> str:
        return write_value(attribute, OneOf(keys), vocabulary) if keys else ""

    def value(attribute: Attribute, found: Value) -> str:
        return write_value(attribute, found, vocabulary) or UNKNOWN.value

    return RuleTexts(
        rule.key,
        rule.title,
        rule.parameter,
        rule.kind.value,
        "" if rule.amount is None else write_number(exactly(rule.amount)),
        words(attribute, rule.equals),
        words(PARAMETERS[FAMILY].attribute, rule.families),
        " | ".join(sorted(rule.jurisdictions)),
        tuple(
            ConditionTexts(c.parameter, words(PARAMETERS[c.parameter].attribute, c.keys))
            for c in rule.conditions
        ),
        rule.since,
        rule.until,
        rule.document,
        rule.clause,
        rule.author,
        rule.reason,
        tuple(
            ExampleTexts(
                value(attribute, example.zone),
                value(attribute, example.tested),
                example.expect.word,
                tuple(
                    (key, value(PARAMETERS[key].attribute, found))
                    for key, found in sorted(example.others.items())
                ),
                example.jurisdiction,
            )
            for example in rule.examples
        ),
    )
