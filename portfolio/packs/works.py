"""Works of a building in its evidence pack; their status is beside coverage, never part of it."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date

from portfolio.packs.sections import Cell, Section


@dataclass(frozen=True, slots=True)
class PackStep:
    """A status that works reached."""

    status: str
    on: date
    documents: str
    reason: str
    recorded_by: str


@dataclass(frozen=True, slots=True)
class PackInterim:
    """An interim measure; `monthly` is an amount in the currency of its works, or ""."""

    measure: str
    started_on: date
    review_on: date | None
    ended_on: date | None
    monthly: str


@dataclass(frozen=True, slots=True)
class PackWorks:
    """Works as the pack tells them. Amounts are texts in `currency`; no zones: the building."""

    ref: str
    title: str
    zones: tuple[str, ...]
    decided: str
    decided_reason: str
    status: str
    status_on: date
    built_on: date | None
    programme: str
    responsible: str
    funding_route: str
    currency: str
    funding: str
    estimate: str
    outturn: str
    due_on: date | None
    due_reason: str
    residents_told_on: date | None
    residents_next_on: date | None
    note: str
    steps: tuple[PackStep, ...]
    interim: tuple[PackInterim, ...]


_WORKS = (
    "Works",
    "What is done",
    "Zones",
    "Decided",
    "Decided because",
    "Works status (no coverage)",
    "Status since",
    "New build-up complete on",
    "Programme",
    "Responsible",
    "Funding route",
    "Currency",
    "Funding",
    "Cost estimate",
    "Cost outturn",
    "Own deadline",
    "Deadline set by",
    "Residents last informed",
    "Residents next informed by",
    "Note",
)
_HISTORY = (
    "Works",
    "What",
    "Since",
    "Until or review",
    "Documents, or cost a month",
    "Reason",
    "By",
)


def works_section(works: Sequence[PackWorks]) -> Section:
    """The works, a row each."""
    rows: list[tuple[Cell, ...]] = [
        (
            one.ref,
            one.title,
            ", ".join(one.zones) or "whole building",
            one.decided,
            one.decided_reason,
            one.status,
            one.status_on.isoformat(),
            _day(one.built_on),
            one.programme,
            one.responsible,
            one.funding_route,
            one.currency,
            one.funding,
            one.estimate,
            one.outturn,
            _day(one.due_on),
            one.due_reason,
            _day(one.residents_told_on),
            _day(one.residents_next_on),
            one.note,
        )
        for one in works
    ]
    return Section("Works", _WORKS, tuple(rows))


def works_history(works: Sequence[PackWorks]) -> Section:
    """Every status and interim measure."""
    rows: list[tuple[Cell, ...]] = []
    for one in works:
        rows += [
            (
                one.ref,
                f"status: {s.status}",
                s.on.isoformat(),
                "",
                s.documents,
                s.reason,
                s.recorded_by,
            )
            for s in one.steps
        ]
        rows += [
            (
                one.ref,
                f"interim measure: {i.measure}",
                i.started_on.isoformat(),
                f"ended {_day(i.ended_on)}" if i.ended_on else f"review {_day(i.review_on)}",
                f"{one.currency} {i.monthly}" if i.monthly else "",
                "",
                "",
            )
            for i in one.interim
        ]
    return Section("Works history", _HISTORY, tuple(rows))


def _day(day: date | None) -> str:
    return day.isoformat() if day else ""
