"""Pages of a list: which rows to ask the store for, and links to the others."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from urllib.parse import urlencode

from flask import request

from portfolio.domain.errors import InputError, Problem

PAGE_SIZE = 50
LARGEST_PAGE = 200
_NEAR = 2


@dataclass(frozen=True, slots=True)
class Wanted:
    """The page that was asked for, before it is known how many there are."""

    page: int
    size: int

    @property
    def offset(self) -> int:
        return (self.page - 1) * self.size


@dataclass(frozen=True, slots=True)
class Paging:
    """One page of a list of `total` rows, and the way to the others."""

    wanted: Wanted
    total: int
    query: Mapping[str, str]

    @property
    def pages(self) -> int:
        return max(1, -(-self.total // self.wanted.size))

    @property
    def first(self) -> int:
        return self.wanted.offset + 1

    @property
    def last(self) -> int:
        return min(self.wanted.offset + self.wanted.size, self.total)

    @property
    def links(self) -> list[tuple[str, str, str]]:
        """(words, address, relation) of each page to offer; no address for the current one."""
        here = self.wanted.page
        near = range(max(1, here - _NEAR), min(self.pages, here + _NEAR) + 1)
        found = [(f"Page {n}", "" if n == here else self._href(n), "") for n in near]
        if here > 1:
            found.insert(0, ("Previous", self._href(here - 1), "prev"))
        if near[0] > 1:
            found.insert(0, ("First", self._href(1), ""))
        if here < self.pages:
            found.append(("Next", self._href(here + 1), "next"))
        if near[-1] < self.pages:
            found.append((f"Last ({self.pages})", self._href(self.pages), ""))
        return found

    def _href(self, page: int) -> str:
        return "?" + urlencode({**self.query, "page": str(page)})


def wanted_page() -> Wanted:
    """The page and size of the request. Raises InputError; too large is refused, not cut."""
    problems: list[Problem] = []
    page = _whole("page", 1, None, problems)
    size = _whole("size", PAGE_SIZE, LARGEST_PAGE, problems)
    if problems:
        raise InputError(problems)
    return Wanted(page, size)


def paging_of(wanted: Wanted, total: int) -> Paging:
    """The links around a page. Raises InputError for a page after the last one."""
    query = {key: value for key, value in request.args.items() if value and key != "page"}
    paging = Paging(wanted, total, query)
    if wanted.page > paging.pages:
        raise InputError(f"There is no page {wanted.page}: the list has {paging.pages}.")
    return paging


def _whole(name: str, default: int, largest: int | None, problems: list[Problem]) -> int:
    text = request.args.get(name, "").strip()
    if not text:
        return default
    expected = f"a whole number from 1 to {largest}" if largest else "a whole number from 1"
    if not (text.isascii() and text.isdigit() and len(text) <= len("999999")):
        problems.append(Problem(f"This is no {name} of a list.", expected, value=text[:40]))
        return default
    number = int(text)
    if number < 1 or (largest is not None and number > largest):
        problems.append(Problem(f"This {name} of a list is refused.", expected, value=text))
    return number
