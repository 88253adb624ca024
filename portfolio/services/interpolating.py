"""Which of the tests that a zone was compared with it lies between, for an engineer to assess."""

from __future__ import annotations

from dataclasses import dataclass

from portfolio.domain.between import Between, OneApart, between
from portfolio.domain.coverage import Coverage
from portfolio.domain.evidence import EvidenceKind
from portfolio.domain.parameters import PARAMETERS
from portfolio.domain.walls import parameters_of
from portfolio.services.explaining import Explanation, TestComparison, value_text


@dataclass(frozen=True, slots=True)
class Candidate:
    """Two tests that differ in one number only, and a zone whose own lies between, in words."""

    parameter: str
    title: str
    lower: str
    low: str
    upper: str
    high: str
    value: str

    @property
    def sentence(self) -> str:
        """What an engineer may look at."""
        return (
            f"Tests {self.lower} and {self.upper} differ from each other in one number only, the "
            f"{self.title.replace(': ', ' ')} ({self.low} and {self.high}), and this zone's lies "
            f"between ({self.value}): a candidate for interpolation, to assess. It covers nothing."
        )


def candidates(found: Explanation) -> tuple[Candidate, ...]:
    """The pairs of tests that a zone to assess lies between; none where it is anything else."""
    if found.coverage.coverage is not Coverage.TO_ASSESS:
        return ()
    near = [one for comparison in found.comparisons if (one := _one_apart(comparison))]
    values = {key: fact.value for key, fact in found.wall.facts.items()}
    return tuple(_told(pair) for pair in between(values, near))


def _one_apart(comparison: TestComparison) -> OneApart | None:
    differs = [row.parameter for row in comparison.rows if row.answer == "differs"]
    usable = comparison.verdict == "assessable" and comparison.test.kind is EvidenceKind.TEST
    if not usable or len(differs) != 1:
        return None
    return OneApart(comparison.test.ref, differs[0], parameters_of(comparison.test.build_up))


def _told(pair: Between) -> Candidate:
    texts = (value_text(pair.parameter, value) for value in (pair.low, pair.high, pair.value))
    low, high, value = texts
    title = PARAMETERS[pair.parameter].title
    return Candidate(pair.parameter, title, pair.lower, low, pair.upper, high, value)
