"""Reaction-to-fire classes of EN 13501-1, with smoke (s) and droplets (d).

Order of the classes: A1 > A2 > B > C > D > E > F, s1 < s2 < s3, d0 < d1 < d2; A1 carries no s
or d, E carries none or d2 (secondary sources restating EN 13501-1; the standard itself not seen).
"""

from __future__ import annotations

import re
from functools import cache

MAIN = ("A1", "A2", "B", "C", "D", "E", "F")
SMOKE = ("s1", "s2", "s3")
DROPLETS = ("d0", "d1", "d2")
_WITH_SUFFIXES = ("A2", "B", "C", "D")

CLASSES: tuple[str, ...] = (
    "A1",
    *(f"{main}-{s},{d}" for main in _WITH_SUFFIXES for s in SMOKE for d in DROPLETS),
    "E",
    "E-d2",
    "F",
)

_PATTERN = re.compile(r"(A1|A2|[BCDEF])(?:-?(s[123]))?(?:[-,]?(d[012]))?", re.IGNORECASE)


def classes_meant(text: str) -> frozenset[str]:
    """The classes that a written class could mean; "A2" alone leaves s and d open, "E" is whole.

    Raises ValueError for a text that is no class.

    >>> sorted(classes_meant("A2 - s1, d0"))
    ['A2-s1,d0']
    >>> len(classes_meant("B-s1"))
    3
    """
    match = _PATTERN.fullmatch(re.sub(r"\s+|^class", "", text.strip(), flags=re.IGNORECASE))
    if match is None:
        raise ValueError("no class of EN 13501-1")
    main = match[1].upper()
    smoke, droplets = (part.lower() if part else None for part in (match[2], match[3]))
    found = {
        name
        for name in CLASSES
        if name.split("-")[0] == main
        and (main != "E" or name == "E" or droplets is not None)
        and (smoke is None or smoke in name)
        and (droplets is None or droplets in name)
    }
    if not found:
        raise ValueError(f"{main} carries no such suffix")
    return frozenset(found)


@cache
def _ranks(name: str) -> tuple[int, int, int]:
    """Main class, smoke and droplets, each counted from the mildest.

    E without a suffix says nothing of smoke; it is ranked as the worst, so it is never milder.
    """
    main, _, suffixes = name.partition("-")
    if main == "A1":
        return 0, 0, 0
    smoke = next((i for i, s in enumerate(SMOKE) if s in suffixes), 2)
    droplets = next((i for i, d in enumerate(DROPLETS) if d in suffixes), 2)
    if name == "E":
        droplets = 0  # E without d2 has passed the droplet test
    return MAIN.index(main), smoke, droplets


@cache
def at_least_as_onerous(name: str, than: str) -> bool:
    """Whether class `name` is the same as or worse than `than` in every part of the class."""
    return all(a >= b for a, b in zip(_ranks(name), _ranks(than), strict=True))


@cache
def is_no_worse(name: str, than: str) -> bool:
    """Whether class `name` is the same as or better than `than` in every part of the class.

    Where `than` says nothing of smoke or droplets they are taken as the best, so that only what
    is as good in them is no worse.

    >>> is_no_worse("D-s3,d0", "E"), is_no_worse("D-s1,d0", "E"), is_no_worse("E", "E")
    (False, True, True)
    """
    suffixes = than.partition("-")[2]
    said = [True, *(any(part in suffixes for part in parts) for parts in (SMOKE, DROPLETS))]
    limits = (rank if is_said else 0 for rank, is_said in zip(_ranks(than), said, strict=True))
    return name == than or all(a <= b for a, b in zip(_ranks(name), limits, strict=True))


def at_least_in_main_class(name: str, than: str) -> bool:
    """Whether the main class is the same or worse: smoke and droplets say nothing of spread."""
    return _ranks(name)[0] >= _ranks(than)[0]


def is_limited_combustibility(name: str) -> bool:
    """Limited combustibility: A2-s3,d2 or better (secondary source)."""
    return at_least_as_onerous("A2-s3,d2", name)
