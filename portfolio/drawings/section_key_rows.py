"""What the list beneath a wall section says: of one wall, or of two walls side by side."""

from collections.abc import Iterable

from portfolio.drawings.section_key import KeyLine, KeyRow, with_answer
from portfolio.drawings.section_layout import barrier_tags, layer_tags
from portfolio.drawings.section_wall import Tag
from portfolio.drawings.text import shorten
from portfolio.drawings.wall_layers import DrawnBarrier, DrawnLayer, SectionDrawing

Part = DrawnLayer | DrawnBarrier

_SIDE_WIDTH, _SIDE_SIZE = 110.0, 12.0


def rows_for(drawing: SectionDrawing) -> list[KeyRow]:
    """One row for each layer and barrier, in order, numbered from 1."""
    layers = (_row_for(f"{number}", layer) for number, layer in enumerate(drawing.layers, start=1))
    barriers = (
        _row_for(f"B{number}", barrier) for number, barrier in enumerate(drawing.barriers, start=1)
    )
    return [*layers, *barriers]


def _row_for(tag: str, part: Part) -> KeyRow:
    head = KeyLine(with_answer(part.words, part.answer), _swatch_kind(part))
    return KeyRow(Tag(tag, part.answer), (head, *_note_lines([part])))


def paired_rows_for(left: SectionDrawing, right: SectionDrawing) -> list[KeyRow]:
    """One row for each tag number, saying what either wall has there."""
    layers = _merged(left.layers, right.layers, layer_tags(left.layers, right.layers))
    barriers = _merged(left.barriers, right.barriers, barrier_tags(left.barriers, right.barriers))
    sides = (_side_name(left), _side_name(right))
    return [
        *(_paired_row(f"{number}", pair, sides) for number, pair in layers),
        *(_paired_row(f"B{number}", pair, sides) for number, pair in barriers),
    ]


def _side_name(drawing: SectionDrawing) -> str:
    return shorten(drawing.short_name, _SIDE_WIDTH, _SIDE_SIZE)


def _merged(
    left: Iterable[Part], right: Iterable[Part], tags: tuple[list[int], list[int]]
) -> list[tuple[int, tuple[Part | None, Part | None]]]:
    ours = dict(zip(tags[0], left, strict=True))
    theirs = dict(zip(tags[1], right, strict=True))
    return [(number, (ours.get(number), theirs.get(number))) for number in sorted({*ours, *theirs})]


def _paired_row(tag: str, pair: tuple[Part | None, Part | None], sides: tuple[str, str]) -> KeyRow:
    there = [part for part in pair if part is not None]
    answer = next((part.answer for part in there if part.answer is not None), None)
    head = KeyLine(with_answer(_heading(there[0]), answer), is_bold=True)
    lines = [
        KeyLine(f"{side}: {'nothing there' if part is None else part.words}", _swatch_kind(part))
        for side, part in zip(sides, pair, strict=True)
    ]
    return KeyRow(Tag(tag, answer), (head, *lines, *_note_lines(there)))


def _heading(part: Part) -> str:
    if isinstance(part, DrawnBarrier):
        return "cavity barrier"
    return part.role or part.label or "layer"


def _swatch_kind(part: Part | None) -> str | None:
    if isinstance(part, DrawnLayer) and part.present:
        return part.drawn_kind
    return None


def _note_lines(parts: Iterable[Part]) -> list[KeyLine]:
    notes = dict.fromkeys(part.note for part in parts if part.note)
    return [KeyLine(note, is_note=True) for note in notes]
