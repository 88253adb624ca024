"""The words a survey or a test record may use: categories, their terms, and groups of terms."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field

from portfolio.domain.values import UNKNOWN, OneOf, Value, one_of

MOST_TERMS = 60
UNKNOWN_WORDS = frozenset(
    {"unknown", "not known", "n/k", "nk", "tbc", "tba", "?", "not recorded", "not stated", "-"}
)


@dataclass(frozen=True, slots=True)
class Term:
    """One word of a category. `members` makes it a group: one of several terms, not known which.

    `family` is the coarser kind by which failing tests are compared ("mineral-wool" for stone
    and glass wool); `section` is how a wall section hatches it.
    """

    key: str
    label: str
    family: str = ""
    section: str = "other"
    members: frozenset[str] = frozenset()
    aliases: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class Category:
    """A closed list of terms, few enough that a set of them fits a machine word."""

    key: str
    title: str
    terms: Mapping[str, Term]
    _by_word: dict[str, str] = field(init=False, repr=False, compare=False)

    def __post_init__(self) -> None:
        words: dict[str, str] = {}
        for term in self.terms.values():
            for word in (term.key, term.label, *term.aliases):
                if words.setdefault(_folded(word), term.key) != term.key:
                    raise ValueError(f"{self.key}: the word {word!r} stands for two terms")
        if len(self.singles) > MOST_TERMS:
            raise ValueError(f"{self.key}: more than {MOST_TERMS} single terms")
        object.__setattr__(self, "_by_word", words)

    @property
    def singles(self) -> tuple[str, ...]:
        """The keys of the terms that are no groups, in the order of the vocabulary."""
        return tuple(key for key, term in self.terms.items() if not term.members)

    def read(self, text: str) -> Value:
        """What a written word means; several words parted by "|" leave open which it is.

        Raises ValueError naming the word when it is not in the list.
        """
        if not text.strip() or _folded(text) in UNKNOWN_WORDS:
            return UNKNOWN
        keys: set[str] = set()
        for word in text.split("|"):
            key = self._by_word.get(_folded(word))
            if key is None:
                raise ValueError(f"{word.strip()!r} is not a word for {self.title.lower()}")
            keys |= self.terms[key].members or {key}
        return one_of(keys)

    def write(self, value: OneOf) -> str:
        """The shortest text that `read` turns into `value` again."""
        for key, term in self.terms.items():
            if term.members == value.keys:
                return key
        return " | ".join(key for key in self.terms if key in value.keys)

    def label(self, value: OneOf) -> str:
        """`value` in words for a reader."""
        for term in self.terms.values():
            if term.members == value.keys:
                return term.label
        return " or ".join(self.terms[key].label for key in self.terms if key in value.keys)

    def family(self, key: str) -> str:
        """The family of a term; a term without one is a family of its own."""
        return self.terms[key].family or key


@dataclass(frozen=True, slots=True)
class Vocabulary:
    """Every category, by key."""

    categories: Mapping[str, Category]

    def __getitem__(self, key: str) -> Category:
        return self.categories[key]


def _folded(word: str) -> str:
    return " ".join(word.casefold().replace("-", " ").replace("_", " ").split())
