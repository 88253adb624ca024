"""Contents of documents as files named by their SHA-256, in one private folder.

A content is written beside its place and renamed into it, so that a file under its name is whole.
It does not know whose a content is: that is in the rows.
"""

from __future__ import annotations

import hashlib
import os
import secrets
from collections.abc import Iterator
from contextlib import suppress
from enum import StrEnum
from pathlib import Path

import sqlalchemy as sa

from portfolio.domain.errors import PortfolioError

FOLDER_VARIABLE = "PORTFOLIO_DOCUMENTS"
_DEFAULT_FOLDER = "portfolio-documents"
_UNFINISHED = ".unfinished"
_READ_AT_ONCE = 1 << 20


class UnreadableError(PortfolioError):
    """The file of a document is missing, or not as it was kept."""


class FileState(StrEnum):
    """How the file of a content is found."""

    WHOLE = "whole"
    MISSING = "missing"
    DAMAGED = "damaged"


class Contents:
    """The contents in one folder."""

    def __init__(self, folder: Path) -> None:
        self.folder = folder

    def put(self, content: bytes) -> str:
        """Keep a content and give its SHA-256. When this returns, a power cut leaves it there.

        It is written also where it is there already: that mends a damaged file, and the time it
        takes tells nobody whether another organisation holds the same.
        """
        sha256 = hashlib.sha256(content).hexdigest()
        place = self._place(sha256)
        unfinished = place.with_name(f"{sha256}.{secrets.token_hex(8)}{_UNFINISHED}")
        try:
            place.parent.mkdir(mode=0o700, parents=True, exist_ok=True)
            handle = os.open(unfinished, os.O_WRONLY | os.O_CREAT | os.O_EXCL, 0o600)
            with os.fdopen(handle, "wb") as file:
                file.write(content)
                file.flush()
                os.fsync(file.fileno())
            os.replace(unfinished, place)
            for folder in (place.parent, self.folder):
                _sync(folder)
        except OSError as error:
            with suppress(OSError):
                unfinished.unlink(missing_ok=True)
            raise PortfolioError(f"The document cannot be kept: {error.strerror}.") from error
        return sha256

    def read(self, sha256: str) -> bytes:
        """A content, read whole. Raises UnreadableError where it is missing or not as it was."""
        try:
            content = self._place(sha256).read_bytes()
        except OSError as error:
            raise UnreadableError(f"The file of document {sha256} is missing.") from error
        if hashlib.sha256(content).hexdigest() != sha256:
            raise UnreadableError(f"The file of document {sha256} is damaged.")
        return content

    def state_of(self, sha256: str, size: int) -> FileState:
        """Whether the file of a content is there, of this size and this SHA-256."""
        digest, found = hashlib.sha256(), 0
        try:
            with self._place(sha256).open("rb") as file:
                while part := file.read(_READ_AT_ONCE):
                    digest.update(part)
                    found += len(part)
        except FileNotFoundError:
            return FileState.MISSING
        except OSError:
            return FileState.DAMAGED
        is_whole = (found, digest.hexdigest()) == (size, sha256)
        return FileState.WHOLE if is_whole else FileState.DAMAGED

    def names(self) -> Iterator[str]:
        """The names of all files, in order: SHA-256, and what a crash left unfinished."""
        for path in sorted(self.folder.glob("*/*")):
            yield path.name

    def _place(self, sha256: str) -> Path:
        return self.folder / sha256[:2] / sha256


def contents_for(engine: sa.Engine) -> Contents:
    """The contents of a database: in PORTFOLIO_DOCUMENTS, or beside the SQLite file.

    A database that is no file has none beside it: then in a folder of the current one.
    """
    if given := os.environ.get(FOLDER_VARIABLE):
        return Contents(Path(given))
    if engine.dialect.name == "sqlite" and engine.url.database:
        return Contents(Path(f"{engine.url.database}.documents"))
    return Contents(Path.cwd() / _DEFAULT_FOLDER)


def _sync(folder: Path) -> None:
    """Let a power cut not take back a rename."""
    handle = os.open(folder, os.O_RDONLY)
    try:
        os.fsync(handle)
    finally:
        os.close(handle)
