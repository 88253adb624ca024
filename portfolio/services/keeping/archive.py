"""The backup file: a ZIP of one JSON-lines file a table, the documents, and a manifest of all.

Documents are named by their SHA-256; the manifest has the hash of every other file.
"""

from __future__ import annotations

import hashlib
import json
import struct
import zipfile
import zlib
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import asdict, dataclass
from pathlib import Path
from typing import Any

from portfolio.domain.errors import InputError

FORMAT = 2
"""Format 1 had no documents; it is still read."""
MANIFEST = "manifest.json"
# what reading a damaged ZIP raises: a flipped byte may ask for a password, for a method of packing
# that there is not, or for a place before the beginning
_DAMAGE = (
    zipfile.BadZipFile,
    zlib.error,
    struct.error,
    KeyError,
    TypeError,
    ValueError,
    AttributeError,
    OverflowError,
    EOFError,
    OSError,
    RuntimeError,
)


@dataclass(frozen=True, slots=True)
class Part:
    """One file of the archive: a table's rows, one JSON object a line."""

    name: str
    rows: int
    sha256: str


@dataclass(frozen=True, slots=True)
class DocumentPart:
    """The content of a document; `size` in bytes."""

    sha256: str
    size: int


@dataclass(frozen=True, slots=True)
class Manifest:
    """What the archive holds. `revision` is the schema's; `made_at` an ISO moment in UTC.

    `left_out` are the SHA-256 of documents whose files were missing or damaged at the time.
    """

    format: int
    revision: str
    made_at: str
    parts: tuple[Part, ...]
    documents: tuple[DocumentPart, ...] = ()
    left_out: tuple[str, ...] = ()


class ArchiveWriter:
    """Writes an archive part by part; the manifest comes last, so a broken one has none."""

    def __init__(self, path: Path, revision: str, made_at: str) -> None:
        self._zip = zipfile.ZipFile(path, "w", zipfile.ZIP_DEFLATED)
        self._revision, self._made_at = revision, made_at
        self._parts: list[Part] = []
        self._documents: list[DocumentPart] = []

    def add(self, table: str, rows: Iterable[dict[str, Any]]) -> None:
        """Write one table's rows."""
        digest, count = hashlib.sha256(), 0
        with self._zip.open(f"{table}.jsonl", "w", force_zip64=True) as stream:
            for row in rows:
                line = json.dumps(row, ensure_ascii=False).encode() + b"\n"
                stream.write(line)
                digest.update(line)
                count += 1
        self._parts.append(Part(table, count, digest.hexdigest()))

    def add_document(self, sha256: str, content: bytes) -> None:
        """Write the content of a document."""
        self._zip.writestr(_document_name(sha256), content)
        self._documents.append(DocumentPart(sha256, len(content)))

    def close(self, left_out: Sequence[str] = ()) -> Manifest:
        """Write the manifest and close the file."""
        parts, documents = tuple(self._parts), tuple(self._documents)
        about = FORMAT, self._revision, self._made_at
        manifest = Manifest(*about, parts, documents, tuple(left_out))
        self._zip.writestr(MANIFEST, json.dumps(asdict(manifest), indent=1))
        self._zip.close()
        return manifest

    def give_up(self) -> None:
        """Close the file without a manifest."""
        self._zip.close()


def read_manifest(path: Path) -> Manifest:
    """The manifest of a backup. Raises InputError for a file that is none."""
    try:
        with zipfile.ZipFile(path) as archive:
            found = json.loads(archive.read(MANIFEST))
        manifest = Manifest(
            int(found["format"]),
            str(found["revision"]),
            str(found["made_at"]),
            tuple(Part(**part) for part in found["parts"]),
            tuple(DocumentPart(**part) for part in found.get("documents", ())),
            tuple(str(sha256) for sha256 in found.get("left_out", ())),
        )
        if manifest.format < 1:
            raise ValueError
    except FileNotFoundError as error:
        raise InputError(f"{path.name} cannot be opened: {error.strerror}.") from error
    except _DAMAGE as error:
        raise InputError(f"{path.name} is no backup of this program, or it is damaged.") from error
    if manifest.format > FORMAT:
        raise InputError(
            f"{path.name} was written by a newer program (format {manifest.format}, this one "
            f"reads {FORMAT}). Nothing has been restored."
        )
    return manifest


def verify(path: Path) -> Manifest:
    """Read the whole file and compare it with its manifest. Raises InputError when it differs."""
    manifest = read_manifest(path)
    for part in manifest.parts:
        digest, count = hashlib.sha256(), 0
        for line in _lines(path, part):
            digest.update(line)
            count += 1
        if (count, digest.hexdigest()) != (part.rows, part.sha256):
            raise InputError(f"{path.name} is damaged: {part.name} is not as it was written.")
    for document in manifest.documents:
        document_of(path, document)
    return manifest


def rows_of(path: Path, part: Part) -> Iterator[dict[str, Any]]:
    """The rows of one table."""
    for line in _lines(path, part):
        yield json.loads(line)


def document_of(path: Path, document: DocumentPart) -> bytes:
    """The content of a document. Raises InputError where it is not as it was written."""
    try:
        with zipfile.ZipFile(path) as archive:
            name = _document_name(document.sha256)
            if archive.getinfo(name).file_size != document.size:
                raise EOFError
            content = archive.read(name)
    except _DAMAGE as error:
        told = f"{path.name} is damaged: document {document.sha256} cannot be read."
        raise InputError(told) from error
    if hashlib.sha256(content).hexdigest() != document.sha256:
        raise InputError(f"{path.name} is damaged: document {document.sha256} has been altered.")
    return content


def _document_name(sha256: str) -> str:
    return f"documents/{sha256}"


def _lines(path: Path, part: Part) -> Iterator[bytes]:
    try:
        with zipfile.ZipFile(path) as archive, archive.open(f"{part.name}.jsonl") as stream:
            yield from stream
    except _DAMAGE as error:
        raise InputError(f"{path.name} is damaged: {part.name} cannot be read.") from error
