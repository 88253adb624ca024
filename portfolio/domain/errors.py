"""What can be wrong, said to the reader: one tree, mapped once to pages and once to exit codes."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass


@dataclass(frozen=True, slots=True)
class Problem:
    """One thing wrong with what somebody gave us, and where it stands.

    `row` is the row as a spreadsheet program shows it, counted from 1. In a file of text it is
    `line`, the `entry` that begins there, and the key that `column` names. Empty strings and None
    mean that the place has no such part (a form has no sheet).
    """

    message: str
    expected: str = ""
    file: str = ""
    sheet: str = ""
    row: int | None = None
    column: str = ""
    value: str = ""
    line: int | None = None
    entry: str = ""

    @property
    def place(self) -> str:
        """Where it stands, in words."""
        parts = [
            self.file,
            f"line {self.line}" if self.line is not None else "",
            f'"{self.entry}"' if self.entry else "",
            f'sheet "{self.sheet}"' if self.sheet else "",
            f"row {self.row}" if self.row is not None else "",
            f'{"column" if self.line is None else "key"} "{self.column}"' if self.column else "",
        ]
        return ", ".join(part for part in parts if part)

    def __str__(self) -> str:
        found = f'"{self.value}": ' if self.value else ""
        expected = f" Expected: {self.expected}" if self.expected else ""
        return f"{self.place + ': ' if self.place else ''}{found}{self.message}{expected}"


class PortfolioError(Exception):
    """Anything the program refuses, with a sentence for the reader."""


class InputError(PortfolioError):
    """What was given cannot be used; carries every problem found, not only the first."""

    def __init__(self, problems: Sequence[Problem] | str) -> None:
        if isinstance(problems, str):
            problems = [Problem(problems)]
        self.problems: tuple[Problem, ...] = tuple(problems)
        super().__init__("\n".join(str(problem) for problem in self.problems))


class NotFoundError(PortfolioError):
    """No such thing, or not for this viewer: both answer alike, so that nothing leaks."""


class ForbiddenError(PortfolioError):
    """The viewer sees the thing but may not do this to it."""


class BusyError(PortfolioError):
    """Somebody else's save held the store for too long; nothing of this one was saved."""


class ReferenceDataError(PortfolioError):
    """A rule or vocabulary file that the program must not run on."""
