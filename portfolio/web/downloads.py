"""Every list as a file: the same address with ?format=xlsx or ?format=csv, filters included."""

from __future__ import annotations

import json
from collections.abc import Sequence
from urllib.parse import urlencode

from flask import Response, request

from portfolio.domain.caution import CAUTION
from portfolio.domain.errors import InputError, Problem
from portfolio.services.handing_out import keep_pack, log_export
from portfolio.services.packs import MadePack
from portfolio.sheets.writing import Table, table_to_csv, table_to_xlsx
from portfolio.web import store

XLSX = "application/vnd.openxmlformats-officedocument.spreadsheetml.sheet"
CSV = "text/csv; charset=utf-8"
JSON = "application/json; charset=utf-8"
_FORMATS = ("xlsx", "csv")


def asked_format(*more: str) -> str:
    """ "xlsx", "csv" or one of `more`, or "" where a page is wanted. Raises InputError for anything
    else."""
    found, formats = request.args.get("format", ""), (*_FORMATS, *more)
    if found and found not in formats:
        expected = " or ".join(formats)
        problem = Problem("No list is given out in this form.", expected, value=found[:20])
        raise InputError([problem])
    return found


def send(name: str, tables: Sequence[Table]) -> Response:
    """The tables in the form asked for; a CSV holds the one named by ?table=, else the first."""
    stem = f"{name}-{store.today().isoformat()}"
    if asked_format() == "xlsx":
        return _attachment(table_to_xlsx(tables, CAUTION), f"{stem}.xlsx", XLSX)
    table = _asked_table(tables)
    if len(tables) > 1:
        stem = f"{name}-{_slug(table.title)}-{store.today().isoformat()}"
    return _attachment(table_to_csv(table), f"{stem}.csv", CSV)


def links(*titles: str, more: Sequence[str] = ()) -> list[tuple[str, str]]:
    """(words, address) of the files of this page: one workbook, and a CSV for each table, or a
    single CSV and a file of each form of `more`."""
    query = {k: v for k, v in request.args.items() if v and k not in ("page", "size")}
    found = [("XLSX", _address(query, "xlsx"))]
    if not titles:
        return [*found, *((form.upper(), _address(query, form)) for form in ("csv", *more))]
    for title in titles:
        found.append((f"CSV: {title}", _address({**query, "table": _slug(title)}, "csv")))
    return found


def _asked_table(tables: Sequence[Table]) -> Table:
    by_slug = {_slug(table.title): table for table in tables}
    wanted = request.args.get("table", "")
    if wanted and wanted not in by_slug:
        raise InputError([Problem("There is no such table.", ", ".join(by_slug), value=wanted)])
    return by_slug[wanted] if wanted else tables[0]


def _slug(title: str) -> str:
    return "-".join(title.casefold().split())


def _address(query: dict[str, str], form: str) -> str:
    return "?" + urlencode({**query, "format": form})


def pack(made: MadePack, name: str) -> Response:
    """The evidence pack of a building, kept as handed out."""
    with store.writing() as session:
        keep_pack(session, store.viewer(), made)
    return attachment(made.content, name)


def attachment(content: bytes, name: str) -> Response:
    """A workbook that is already written."""
    return _attachment(content, name, XLSX)


def json_attachment(found: object, name: str) -> Response:
    """Plain data as one JSON document."""
    text = json.dumps(found, ensure_ascii=False, indent=1)
    return _attachment(text.encode(), f"{name}-{store.today().isoformat()}.json", JSON)


def csv_attachment(table: Table, name: str) -> Response:
    """One table as CSV."""
    return _attachment(table_to_csv(table), name, CSV)


def _attachment(content: bytes, name: str, kind: str) -> Response:
    with store.writing() as session:
        log_export(session, store.viewer(), name)
    response = Response(content, content_type=kind)
    response.headers.set("Content-Disposition", "attachment", filename=name)
    return response
