"""Reading what a list is asked for: every value checked, nothing ignored.

A filter that is silently dropped would show more or fewer gaps than its reader believes.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, field

from flask import request

from portfolio.domain.coverage import Coverage
from portfolio.domain.errors import InputError, Problem
from portfolio.drawings.marks import COVERAGES
from portfolio.reference.loader import EVACUATION, load_reference
from portfolio.services.building_list import NOT_RECORDED
from portfolio.services.height_sides import EITHER_SIDE

Option = tuple[str, str]
"""A value of a filter, and the words for it."""

_ALWAYS = ("page", "size", "format", "table")
_LONGEST_TEXT = 200


@dataclass
class Query:
    """The query of a request, read field by field; `check` tells everything wrong at once."""

    problems: list[Problem] = field(default_factory=list)
    read: set[str] = field(default_factory=lambda: set(_ALWAYS))

    def text(self, name: str) -> str:
        """Words to look for, as typed."""
        self.read.add(name)
        text = " ".join(request.args.get(name, "").replace("\x00", " ").split())
        if len(text) > _LONGEST_TEXT:
            expected = f"up to {_LONGEST_TEXT} characters"
            self.problems.append(Problem("This text is too long to look for.", expected))
        return text

    def choice(self, name: str, options: Iterable[Option], default: str = "") -> str:
        """One of the options, or the default where nothing is asked for."""
        self.read.add(name)
        given = request.args.get(name, "").strip()
        allowed = [value for value, _ in options]
        if given and given not in allowed:
            expected = ", ".join(allowed) or "nothing, as there is no such choice here"
            self.problems.append(
                Problem(f"This is no choice of the filter “{name}”.", expected, value=given[:60])
            )
            return default
        return given or default

    def check(self) -> None:
        """Raise InputError for everything that was wrong, unknown names included."""
        for name in sorted(set(request.args) - self.read):
            expected = ", ".join(sorted(self.read))
            self.problems.append(
                Problem("This list has no such filter.", expected, value=name[:60])
            )
        if self.problems:
            raise InputError(self.problems)


def coverage_options() -> list[Option]:
    """Every coverage, inference apart."""
    return [(value, mark.label) for value, mark in COVERAGES.items()]


def coverage_parts(chosen: str) -> tuple[str, bool | None]:
    """A chosen coverage as coverage and inference."""
    contradicted = Coverage.CONTRADICTED.value
    if chosen.startswith(contradicted):
        return contradicted, chosen != contradicted
    return chosen, None


def band_options() -> list[Option]:
    """The height bands, lowest first."""
    bands = load_reference().order.bands
    return [(band.key, band.label) for band in sorted(bands, key=lambda band: band.from_m)]


def either_side_options() -> list[Option]:
    """Either side of where each height band starts, lowest first; none is below the ground."""
    bands = sorted(load_reference().order.bands, key=lambda band: band.from_m)
    return [
        (f"{EITHER_SIDE}{band.key}", f"could lie on either side of {band.from_m:g} m")
        for band in bands
        if band.from_m > 0
    ]


def height_parts(chosen: str) -> tuple[str, float | None]:
    """A chosen height as a band, or as the metres that a building could lie on either side of."""
    if not chosen.startswith(EITHER_SIDE):
        return chosen, None
    key = chosen.removeprefix(EITHER_SIDE)
    return "", next(band.from_m for band in load_reference().order.bands if band.key == key)


def use_options() -> list[Option]:
    """The uses of a building."""
    return [(key, use.label) for key, use in load_reference().uses.items()]


def evacuation_options() -> list[Option]:
    """The ways to evacuate a building."""
    return list(EVACUATION.items())


def with_not_recorded(options: Iterable[Option]) -> list[Option]:
    """The options, and the one for buildings of which nobody has said."""
    return [*options, (NOT_RECORDED, "not recorded")]
