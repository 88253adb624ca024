"""Values as a reader sees them on every page: marks, amounts, dates."""

from __future__ import annotations

from collections.abc import Iterable
from datetime import date

from portfolio.domain.coverage import Coverage
from portfolio.domain.parameters import PARAMETERS
from portfolio.drawings import marks
from portfolio.drawings.amounts import amount_text

NOT_RECORDED = "not recorded"


def coverage_key(coverage: Coverage | str, *, by_inference: bool = False) -> str:
    """The value by which marks and filters know a coverage, inference included."""
    value = str(coverage)
    if by_inference and value == Coverage.CONTRADICTED:
        return f"{value}-by-inference"
    return value


def coverage_mark(coverage: Coverage | str, by_inference: bool = False) -> marks.Mark:
    """The sign and the words of a coverage, for templates."""
    return marks.coverage_mark(coverage_key(coverage, by_inference=by_inference))


def titles(keys: Iterable[str]) -> list[str]:
    """Parameters by the names that readers know."""
    return [PARAMETERS[key].title if key in PARAMETERS else key for key in keys]


def amount(value: float | None, unit: str = "") -> str:
    """A count or measure, or words for there being none."""
    return NOT_RECORDED if value is None else amount_text(value, unit)


def metres(value: float | None) -> str:
    """A height or length in metres."""
    return amount(value, "m")


def share(part: float, whole: float) -> str:
    """A part in per cent; never 0 % or 100 % by rounding alone.

    >>> share(1, 3), share(1, 5000), share(4999, 5000), share(0, 5), share(0, 0)
    ('33 %', 'below 1 %', 'above 99 %', '0 %', '')
    """
    if not whole:
        return ""
    percent = 100 * part / whole
    if 0 < percent < 1:
        return "below 1 %"
    return "above 99 %" if 99 < percent < 100 else f"{percent:.0f} %"  # noqa: PLR2004


def day(value: date | None) -> str:
    """A date as it is written in documents: 3 March 2026."""
    return NOT_RECORDED if value is None else f"{value.day} {value:%B %Y}"
