"""The backup file: a ZIP of one JSON-lines file a table, and a manifest with their SHA-256."""

from __future__ import annotations

import hashlib
import json
import struct
import zipfile
import zlib
from collections.abc import Iterable, Iterator
from dataclasses import asdict, dataclass
from pathlib import Path
from typing import Any

from portfolio.domain.errors import InputError

FORMAT = 1
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
class Manifest:
    """What the archive holds. `revision` is the schema's; `made_at` an ISO moment in UTC."""

    format: int
    revision: str
    made_at: str
    parts: tuple[Part, ...]


class ArchiveWriter:
    """Writes an archive part by part; the manifest comes last, so a broken one has none."""

    def __init__(self, path: Path, revision: str, made_at: str) -> None:
        self._zip = zipfile.ZipFile(path, "w", zipfile.ZIP_DEFLATED)
        self._revision, self._made_at = revision, made_at
        self._parts: list[Part] = []

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

    def close(self) -> Manifest:
        """Write the manifest and close the file."""
        manifest = Manifest(FORMAT, self._revision, self._made_at, tuple(self._parts))
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
        )
    except FileNotFoundError as error:
        raise InputError(f"{path.name} cannot be opened: {error.strerror}.") from error
    except _DAMAGE as error:
        raise InputError(f"{path.name} is no backup of this program, or it is damaged.") from error
    if manifest.format != FORMAT:
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
    return manifest


def rows_of(path: Path, part: Part) -> Iterator[dict[str, Any]]:
    """The rows of one table."""
    for line in _lines(path, part):
        yield json.loads(line)


def _lines(path: Path, part: Part) -> Iterator[bytes]:
    try:
        with zipfile.ZipFile(path) as archive, archive.open(f"{part.name}.jsonl") as stream:
            yield from stream
    except _DAMAGE as error:
        raise InputError(f"{path.name} is damaged: {part.name} cannot be read.") from error
