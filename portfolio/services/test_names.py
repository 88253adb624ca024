"""By which references an organisation knows the tests that it sees.

A reference is its holder's own: two holders may give one reference to two tests. Then an
organisation's own test keeps it, and every other one is known with its holder.
"""

from __future__ import annotations

from collections.abc import Collection, Iterable, Mapping
from dataclasses import dataclass
from typing import NamedTuple


class VisibleTest(NamedTuple):
    """One test that an organisation sees; `holder` is the reference of who holds it."""

    id: int
    ref: str
    holder_id: int
    holder: str
    report_ref: str


@dataclass(frozen=True, slots=True)
class TestNames:
    """`names` by id, no two alike."""

    __test__ = False

    names: Mapping[int, str]
    by_ref: Mapping[str, Collection[VisibleTest]]

    @property
    def ids(self) -> dict[str, int]:
        """The ids by name."""
        return {name: test_id for test_id, name in self.names.items()}

    def meant(self, ref: str, holder_id: int) -> str:
        """The name of the test that a holder means by a reference: its own, or the only one.

        Where nobody can tell, a name that no test has.
        """
        found = self.by_ref.get(ref, ())
        held = [test for test in found if test.holder_id == holder_id]
        if held or len(found) == 1:
            return self.names[(held or list(found))[0].id]
        return f"{ref} (several holders have one)" if found else ref


def names_of(tests: Iterable[VisibleTest], organisation_id: int) -> TestNames:
    """The names by which an organisation knows these tests, in whatever order they come."""
    by_ref: dict[str, list[VisibleTest]] = {}
    for test in sorted(tests):
        by_ref.setdefault(test.ref, []).append(test)
    names = {}
    taken = set(by_ref)
    for ref, alike in by_ref.items():
        for test in alike:
            name = ref
            if len(alike) > 1 and test.holder_id != organisation_id:
                name = f"{ref} (held by {test.holder})"
                while name in taken:
                    name += "*"
                taken.add(name)
            names[test.id] = name
    return TestNames(names, by_ref)
