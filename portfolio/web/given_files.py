"""Files that a browser sends: read once, their names only ever shown."""

from __future__ import annotations

from flask import request
from werkzeug.datastructures import FileStorage

from portfolio.domain.documents import shown_name
from portfolio.sheets.raw import GivenFile


def given_file(sent: FileStorage) -> GivenFile:
    """One file that was sent, read to its end and closed: a long one lies in a temporary file."""
    with sent.stream as stream:
        return GivenFile(shown_name(sent.filename or ""), stream.read())


def file_named(field: str) -> GivenFile | None:
    """The file of one field of the form, or None where none was chosen."""
    sent = request.files.get(field)
    return given_file(sent) if sent and sent.filename else None
