"""The change log of an organisation, searched, paged and as a file."""

from __future__ import annotations

from datetime import date

from flask import Blueprint, render_template
from flask.typing import ResponseReturnValue

from portfolio.domain.errors import Problem
from portfolio.services.accounts import log
from portfolio.services.accounts.log import LogFilter, LogLine
from portfolio.services.accounts.moments import aware
from portfolio.sheets.dates import EXPECTED, read_date
from portfolio.sheets.writing import Cell, Table
from portfolio.web import downloads, store
from portfolio.web.filters import Option, Query
from portfolio.web.paging import paging_of, wanted_page

blueprint = Blueprint("log", __name__)

SUBJECT_OPTIONS: list[Option] = [(subject, subject) for subject in log.SUBJECTS]
HEADERS = ("Entry", "When (UTC)", "Who", "What", "Done", "Which", "Changes", "Why", "Hash")


@blueprint.get("/log")
def index() -> ResponseReturnValue:
    """Who changed what, newest first."""
    wanted, form, page = _read(), downloads.asked_format(), wanted_page()
    limits = {} if form else {"limit": page.size, "offset": page.offset}
    with store.reading() as session:
        found = log.read_log(session, store.viewer(), wanted, **limits)
    if form:
        rows = [_cells(line) for line in found.lines]
        return downloads.send("change-log", [Table("Change log", HEADERS, rows)])
    return render_template(
        "accounts/log.html",
        lines=found.lines,
        paging=paging_of(page, found.total),
        subjects=SUBJECT_OPTIONS,
        downloads=downloads.links(),
    )


def _read() -> LogFilter:
    query = Query()
    subject, actor = query.choice("subject", SUBJECT_OPTIONS), query.text("actor")
    from_day, until_day = _day(query, "from_day"), _day(query, "until_day")
    query.check()
    return LogFilter(subject, actor, from_day, until_day)


def _day(query: Query, name: str) -> date | None:
    text = query.text(name)
    try:
        return read_date(text) if text else None
    except ValueError as error:
        query.problems.append(Problem(str(error), EXPECTED, value=text[:40]))
        return None


def _cells(line: LogLine) -> list[Cell]:
    changes = "; ".join(f"{field}: {old} → {new}" for field, old, new in line.changes)
    return [
        line.id,
        aware(line.at).strftime("%Y-%m-%d %H:%M:%S"),
        line.actor,
        line.subject,
        line.action,
        line.subject_ref,
        changes,
        line.reason,
        line.hash,
    ]
