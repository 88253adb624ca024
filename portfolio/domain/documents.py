"""What a document is: its kind, what it supports, who may see it, and what its content shows."""

from __future__ import annotations

import re
from dataclasses import dataclass
from enum import StrEnum

LARGEST_MB = 20
LONGEST_NAME = 120
LONGEST_REFERENCE = 200
_FACT = re.compile(r"([a-z]+):(\d{1,9})(?::(\d{1,3}))?")
_BYTES_LOOKED_AT = 16


class DocumentKind(StrEnum):
    """What a document is to its reader."""

    REPORT = "report"
    DRAWING = "drawing"
    PHOTOGRAPH = "photograph"
    CERTIFICATE = "certificate"
    CONSENT = "consent"
    OTHER = "other"


class SeenBy(StrEnum):
    """Who may see a document."""

    #: the organisation that added it
    OWN = "own"
    #: also whoever may see what it supports: the building, or the test in full
    WITH_FACT = "with-fact"


class FactKind(StrEnum):
    """What a document can support."""

    BUILDING = "building"
    SURVEY = "survey"
    DECISION = "decision"
    SETTLEMENT = "settlement"
    TEST = "test"
    CONSENT = "consent"
    CERTIFICATE = "certificate"
    #: works on a façade, as they are planned and done
    WORKS = "works"
    #: that works are complete
    COMPLETION = "completion"


HAVE_LAYERS = frozenset({FactKind.SURVEY, FactKind.TEST})
"""Facts of which a document can support a single layer."""


@dataclass(frozen=True, slots=True)
class SupportedFact:
    """One fact by kind and id. `layer` counts from the inside, from 1; 0 is the whole fact."""

    kind: FactKind
    id: int
    layer: int = 0

    def __str__(self) -> str:
        layer = f":{self.layer}" if self.layer else ""
        return f"{self.kind.value}:{self.id}{layer}"


def read_fact(text: str) -> SupportedFact | None:
    """The fact that a form names, or None where the text names none.

    >>> str(read_fact("survey:12:3")), read_fact("wall:1")
    ('survey:12:3', None)
    """
    found = _FACT.fullmatch(text)
    if found is None or found[1] not in {kind.value for kind in FactKind}:
        return None
    return SupportedFact(FactKind(found[1]), int(found[2]), int(found[3] or 0))


UNKNOWN_MEDIA = "application/octet-stream"
RASTER = frozenset({"image/png", "image/jpeg", "image/gif", "image/webp"})
"""Images that hold pixels only, and so may be shown in a page; never SVG, which holds scripts."""

_BEGINNINGS = (
    (b"%PDF-", "application/pdf"),
    (b"\x89PNG\r\n\x1a\n", "image/png"),
    (b"\xff\xd8\xff", "image/jpeg"),
    (b"GIF87a", "image/gif"),
    (b"GIF89a", "image/gif"),
    (b"II*\x00", "image/tiff"),
    (b"MM\x00*", "image/tiff"),
    (b"PK\x03\x04", "application/zip"),
)


def media_of(content: bytes) -> str:
    """The media type that the first bytes show; the file's name is never believed.

    >>> media_of(b"%PDF-1.7"), media_of(b"<html>")
    ('application/pdf', 'application/octet-stream')
    """
    head = content[:_BYTES_LOOKED_AT]
    for beginning, media in _BEGINNINGS:
        if head.startswith(beginning):
            return media
    if head[:4] == b"RIFF" and head[8:12] == b"WEBP":
        return "image/webp"
    return UNKNOWN_MEDIA


def shown_name(name: str) -> str:
    """A file's name as it may be shown: never a path, which some browsers send.

    >>> shown_name("C:\\\\reports\\\\wall.pdf")
    'wall.pdf'
    """
    last = name.replace("\\", "/").rstrip("/").rpartition("/")[2]
    return "".join(letter for letter in last if letter.isprintable())[-LONGEST_NAME:]
