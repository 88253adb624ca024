"""Which sign a log writes its decimals with: three digits after a sign may be thousands as well."""

from __future__ import annotations

import re
from collections.abc import Iterable
from dataclasses import dataclass

from portfolio.domain.traces import HIGHEST_PLAUSIBLE_C

_NUMBER = re.compile(
    r"[+-]?(?P<whole>\d{1,9})(?:(?P<sign>[.,])(?P<rest>\d{1,20}))?(?P<power>[eE][+-]?\d{1,2})?"
)
_SIGNS = frozenset(".,")
_A_GROUP = 3


class UnclearNumberError(ValueError):
    """A number that is another one with decimals than with thousands; it says what is expected."""


@dataclass(frozen=True, slots=True)
class Decimals:
    """The signs that a file shows to be its decimal sign; none where it shows nothing."""

    signs: frozenset[str] = frozenset()

    def number(self, text: str) -> float | None:
        """The number that a text is, None for no number.

        Raises UnclearNumberError where three digits follow a sign and the file does not show that
        it, and not the other one, is its decimal sign.

        >>> Decimals(frozenset(",")).number("18,375")
        18.375
        """
        found = _NUMBER.fullmatch(text)
        if found is None:
            return None
        if _may_be_thousands(found) and self.signs != {found["sign"]}:
            raise UnclearNumberError(
                f'a number without "{found["sign"]}", or a file that shows elsewhere what its '
                "decimal sign is: three digits after a sign may be thousands"
            )
        return float(text.replace(",", "."))


NOT_SHOWN = Decimals()
"""Of a number that stands by itself."""


def decimals_shown(times: Iterable[str], readings: Iterable[str]) -> Decimals:
    """The decimal signs that a log's own numbers show.

    Where every reading has three digits after one sign, that is its decimal sign if otherwise
    some would be hotter than any thermocouple reads: grouped thousands leave an ambient bare.
    """
    shown: set[str] = set()
    _look(times, shown)
    unclear, hottest, has_bare = _look(readings, shown)
    if not shown and len(unclear) == 1 and not has_bare and hottest > HIGHEST_PLAUSIBLE_C:
        shown |= unclear
    return Decimals(frozenset(shown))


def _look(texts: Iterable[str], shown: set[str]) -> tuple[set[str], int, bool]:
    """Adds to `shown`; gives the signs that may part thousands, the largest number that would be
    so, and whether some number has no sign. Unreliable once a sign is shown, and not needed then.
    """
    unclear: set[str] = set()
    hottest, has_bare = 0, False
    for text in texts:
        # most files are like their first row: only another sign than that is worth a look
        if shown and not any(sign in text for sign in _SIGNS - shown):
            continue
        found = _NUMBER.fullmatch(text.strip())
        if found is None:
            continue
        if found["sign"] is None:
            has_bare = True
        elif _may_be_thousands(found):
            unclear.add(found["sign"])
            hottest = max(hottest, int(found["whole"] + found["rest"]))
        else:
            shown.add(found["sign"])
    return unclear, hottest, has_bare


def _may_be_thousands(found: re.Match[str]) -> bool:
    whole = found["whole"]
    return (
        found["sign"] is not None
        and found["power"] is None
        and len(found["rest"]) == _A_GROUP
        and len(whole) <= _A_GROUP
        and not whole.startswith("0")
    )
