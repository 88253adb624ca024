"""Works as tables for files; status of works and coverage in columns of their own."""

from __future__ import annotations

from collections.abc import Iterable
from datetime import date

from portfolio.domain.works_due import Lateness
from portfolio.domain.works_figures import Figures, Release
from portfolio.domain.works_money import plain_money
from portfolio.services.works.listing import BuildingWorks, WorksLine
from portfolio.sheets.writing import Cell, Table
from portfolio.web.words import coverage_mark

OF_BUILDING = ("Works", "Statuses", "Interim measures", "Dates")
_WORKS = (
    "Owner",
    "Building",
    "Building name",
    "Works",
    "What is done",
    "Zones",
    "Decided",
    "Works status",
    "Status since",
    "Coverage by tests (worst)",
    "Overdue",
    "Due within 30 days",
    "Responsible",
    "Programme",
    "Funding route",
    "Currency",
    "Funding",
    "Cost estimate",
    "Cost outturn",
    "Own deadline",
    "What sets it",
    "Residents last informed",
    "Residents next informed by",
    "New build-up complete on",
)
_FIGURES = (
    "Counted",
    "Completed (including awaiting sign-off)",
    "Of these, awaiting sign-off",
    "Started",
    "In programme, not started",
    "Total",
    "None needed (not in the total)",
)


def works(lines: Iterable[WorksLine]) -> Table:
    """The list of works."""
    return Table("Works", _WORKS, [_cells(line) for line in lines])


def figures(found: Release) -> Table:
    """The figures: all buildings once, then each programme."""
    return Table("Figures", _FIGURES, [_row(row) for row in (found.all, *found.programmes)])


def of_building(found: BuildingWorks) -> list[Table]:
    """The works of one building: one table for each table of the page."""
    steps: list[list[Cell]] = [
        [
            one.line.row.ref,
            step.status.label,
            _day(step.on),
            step.documents,
            step.reason,
            step.recorded_by,
            _day(step.recorded_on),
        ]
        for one in found.works
        for step in one.steps
    ]
    interim: list[list[Cell]] = [
        [
            one.line.row.ref,
            measure.measure,
            _day(measure.started_on),
            _day(measure.review_on),
            _day(measure.ended_on),
            one.line.row.currency,
            money(measure.monthly_minor),
            money(measure.so_far_minor),
        ]
        for one in found.works
        for measure in one.interim
    ]
    dates: list[list[Cell]] = [
        [
            one.line.row.ref,
            due.kind.label,
            due.what,
            _day(due.on),
            late.value.replace("-", " "),
            "yes" if due.is_sure else "it could be",
        ]
        for one in found.works
        for due, late in one.dated
    ]
    return [
        works(one.line for one in found.works),
        Table(OF_BUILDING[1], _STEPS, steps),
        Table(OF_BUILDING[2], _INTERIM, interim),
        Table(OF_BUILDING[3], _DATES, dates),
    ]


_STEPS = ("Works", "Status", "Reached on", "Documents", "Reason", "Recorded by", "Recorded on")
_INTERIM = (
    "Works",
    "Measure",
    "Started on",
    "Next review",
    "Ended on",
    "Currency",
    "Cost a month",
    "Cost until today",
)
_DATES = ("Works", "Kind", "What", "Day", "How it stands", "Known to apply")


def money(minor: int | None) -> Cell:
    """An amount for a file: text, since a sum of money is no measured number."""
    return None if minor is None else plain_money(minor)


def _cells(line: WorksLine) -> list[Cell]:
    row = line.row
    late = [due.kind.label for due, how in line.dues if how is Lateness.OVERDUE]
    soon = [due.kind.label for due, how in line.dues if how is Lateness.SOON]
    return [
        line.owner,
        row.building.ref,
        row.building.name,
        row.ref,
        row.title,
        ", ".join(line.zones) or "whole building",
        row.decided.label,
        row.status.label,
        _day(row.status_on),
        coverage_mark(line.coverage).label if line.coverage else "not computed",
        "; ".join(late),
        "; ".join(soon),
        row.responsible,
        row.programme,
        row.funding_route,
        row.currency,
        money(row.funding_minor),
        money(row.estimate_minor),
        money(row.outturn_minor),
        _day(row.due_on),
        row.due_reason,
        _day(row.residents_told_on),
        _day(row.residents_next_on),
        _day(row.built_on),
    ]


def _row(row: Figures) -> list[Cell]:
    return [
        row.title,
        row.completed,
        row.awaiting,
        row.started,
        row.not_started,
        row.total,
        row.none_needed,
    ]


def _day(day: date | None) -> str:
    return day.isoformat() if day else ""
