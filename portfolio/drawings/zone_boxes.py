"""A zone drawn as a hatched box with as much of its words as fits."""

from collections.abc import Sequence
from xml.etree.ElementTree import Element

from portfolio.drawings.captions import MARGIN
from portfolio.drawings.facade_zones import DrawnZone
from portfolio.drawings.legend import add_plate
from portfolio.drawings.marks import Mark, coverage_mark
from portfolio.drawings.svg import Box, Canvas, add, add_text, line_height
from portfolio.drawings.text import clean, shorten, text_width

_SIZE = 11.0
_PAD = 4.0
_CHIP_HEIGHT, _CHIP_GAP, _CHIP_PADDING = 22.0, 6.0, 34.0


def zone_words(zone: DrawnZone) -> str:
    """A zone in words: reference, label and coverage."""
    label = f" {zone.label}" if zone.label else ""
    return f"{zone.ref}{label}: {coverage_mark(zone.coverage).label}"


def add_zone_box(canvas: Canvas, zone: DrawnZone, place: Box) -> None:
    """Draw a zone as a hatched box, linked where the zone has an address."""
    mark = coverage_mark(zone.coverage)
    link = canvas.link(canvas.body, zone.href, zone_words(zone))
    group = add(link, "g", class_=f"zone {mark.css_class}-zone")
    add(group, "title", text=zone_words(zone))
    canvas.add_hatched(group, place, mark, "zone-box")


def add_zone_label(canvas: Canvas, zone: DrawnZone, place: Box) -> bool:
    """Write what fits of a zone's words in its box; say whether its reference did.

    Boxes and labels are drawn separately, so that height lines can lie between them. A click on
    the words goes through to the box.
    """
    mark = coverage_mark(zone.coverage)
    lines = _fitting_lines(zone, mark, place.width - 2 * _PAD, place.height - 4)
    if lines:
        group = add(canvas.body, "g", class_="zone-label", pointer_events="none")
        _add_words(group, mark, lines, place)
    return bool(lines) and lines != (mark.sign,)


def _fitting_lines(zone: DrawnZone, mark: Mark, width: float, height: float) -> tuple[str, ...]:
    """The fullest wording that fits: reference and word, reference and sign, sign, nothing."""
    ref = clean(zone.ref)
    in_a_column = (ref, *mark.short.split())
    candidates = [
        (ref, mark.short),
        in_a_column,
        (ref, mark.sign),
        (f"{ref} {mark.sign}",),
        (mark.sign,),
    ]
    for lines in candidates:
        wide = max(text_width(line, _SIZE, bold=True) for line in lines)
        if wide <= width and line_height(_SIZE) * len(lines) <= height:
            return tuple(line for line in lines if line)
    return ()


def _add_words(parent: Element, mark: Mark, lines: tuple[str, ...], place: Box) -> None:
    width = max(text_width(line, _SIZE, bold=True) for line in lines) + 4
    height = line_height(_SIZE) * len(lines)
    plate = Box(place.centre - width / 2, place.middle - height / 2, width, height)
    add_plate(parent, plate, mark)
    baseline = plate.y + _SIZE
    add_text(parent, place.centre, baseline, lines[:1], size=_SIZE, anchor="middle", bold=True)
    if len(lines) > 1:
        baseline += line_height(_SIZE)
        add_text(parent, place.centre, baseline, lines[1:], size=_SIZE, anchor="middle")


def add_zone_chips(canvas: Canvas, zones: Sequence[tuple[str, DrawnZone]], y: float) -> float:
    """Draw zones without a place, each with its face's name, in rows; give the new y."""
    x, right = MARGIN, canvas.width - MARGIN
    at_x = x
    for face, zone in zones:
        words = ", ".join(
            clean(part) for part in (face, zone.ref, coverage_mark(zone.coverage).short) if part
        )
        shown = shorten(words, right - x - _CHIP_PADDING, _SIZE)
        width = text_width(shown, _SIZE) + _CHIP_PADDING
        if at_x > x and at_x + width > right:
            at_x, y = x, y + _CHIP_HEIGHT + _CHIP_GAP
        _add_chip(
            canvas, f"{face} {zone_words(zone)}", zone, shown, Box(at_x, y, width, _CHIP_HEIGHT)
        )
        at_x += width + _CHIP_GAP
    return y + _CHIP_HEIGHT + _CHIP_GAP if zones else y


def _add_chip(canvas: Canvas, words: str, zone: DrawnZone, shown: str, box: Box) -> None:
    mark = coverage_mark(zone.coverage)
    group = add(
        canvas.link(canvas.body, zone.href, words), "g", class_=f"zone {mark.css_class}-zone"
    )
    add(group, "title", text=words)
    canvas.add_hatched(group, box, mark, "zone-box")
    add_plate(group, Box(box.x + 24, box.y + 3, box.width - 28, box.height - 6), mark)
    add_text(group, box.x + 27, box.middle + 4, [shown], size=_SIZE)
