"""The files of a kept log: the log, its list of channels, and what was seen."""

from __future__ import annotations

from datetime import date

from sqlalchemy.orm import Session

from portfolio.domain.errors import InputError, NotFoundError, Problem
from portfolio.services.classifying import LoggerFiles
from portfolio.services.documents.contents import Contents, UnreadableError
from portfolio.services.documents.seeing import find_document, read_document
from portfolio.services.log_readings import ReadingFacts
from portfolio.services.viewer import Viewer
from portfolio.sheets.raw import GivenFile


class UnreadableLogFileError(UnreadableError):
    """One of the files of a log is missing or damaged; it says which one."""


def files_of_log(
    session: Session,
    viewer: Viewer,
    contents: Contents,
    document_id: int,
    reading: ReadingFacts,
    *,
    on: date,
) -> LoggerFiles:
    """The files by which a log is judged.

    Raises NotFoundError for a log that is not there or not for the viewer, InputError for lists
    that the viewer does not see, and UnreadableLogFileError naming the file that is damaged.
    """

    def read(number: int, what: str) -> GivenFile:
        try:
            found = read_document(session, viewer, contents, number, on)
        except UnreadableError as error:
            name = find_document(session, viewer, number, on).file_name
            raise UnreadableLogFileError(
                f"The {what}, {name} (document {number}), is missing or not as it was added."
            ) from error
        return GivenFile(found.name, found.content)

    def beside(number: int | None, what: str) -> GivenFile | None:
        if number is None:
            return None
        try:
            return read(number, what)
        except NotFoundError as error:
            # read without it, the log could come to another answer
            message = f"The {what} of this log is not there for you to see."
            raise InputError([Problem(message, value=str(number))]) from error

    return LoggerFiles(
        read(document_id, "log"),
        beside(reading.channels, "list of channels"),
        beside(reading.observations, "list of observations"),
        reading.ignition,
    )
