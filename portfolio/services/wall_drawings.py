"""Walls as section drawings: which layers to draw, how to hatch them, what each answer was.

Only what has a thickness is drawn; the rest (membranes, rails, finishes, what the wall is fixed
to) is told beside the drawing.
"""

from __future__ import annotations

from collections.abc import Collection, Mapping
from dataclasses import dataclass

from portfolio.domain.measures import show_value
from portfolio.domain.parameters import PARAMETERS, PLACES, ROLE_ATTRIBUTES, Role, presence_key
from portfolio.domain.values import UNKNOWN, Named, OneOf, Range, Value, known
from portfolio.domain.walls import NONE
from portfolio.drawings.section import (
    DrawnBarrier,
    DrawnLayer,
    SectionDrawing,
    paired_sections,
    wall_section,
)
from portfolio.reference.loader import load_reference
from portfolio.services.wall_words import ROLE_TITLES

Place = tuple[Role, int]
Values = Mapping[str, Value]

_BARRIERS = (Role.BARRIER_HORIZONTAL, Role.BARRIER_VERTICAL)
_NOT_TO_SCALE = (Role.MEMBRANE, Role.SUPPORT, Role.FINISH)
_ALWAYS = {(Role.INSULATION, 1), (Role.FACING, 1)}
_WIDE = 720.0
_WORST_FIRST = ("differs", "unknown", "allowed", "same")
_PLACES: tuple[Place, ...] = tuple(
    (role, slot) for role in Role for slot in range(1, PLACES[role] + 1)
)


@dataclass(frozen=True, slots=True)
class DrawnSection:
    """The SVG, a wide one for paper, and what of the walls has no thickness to draw."""

    svg: str
    wide: str
    beside: tuple[str, ...]


def draw_wall(values: Values, name: str, *, id_prefix: str) -> DrawnSection:
    """One wall by itself."""
    drawing = _drawing(values, name, "", {}, _told(values) | _ALWAYS)
    return DrawnSection(
        wall_section(drawing, id_prefix=id_prefix),
        wall_section(drawing, id_prefix=f"{id_prefix}-wide", width=_WIDE, list_beside=True),
        _beside(values, ""),
    )


def draw_pair(
    zone: Values,
    test: Values,
    names: tuple[str, str],
    answers: Mapping[str, str],
    *,
    id_prefix: str,
    sides: tuple[str, str] = ("zone", "test"),
) -> DrawnSection:
    """A zone's wall above a tested one, each layer with the answer of its comparison.

    A layer that only one wall is known to have is drawn in the other as not known. Other walls
    than a zone's and a tested one need `sides`, by which the list tells them apart in short.
    """
    places = _told(zone) | _told(test) | _ALWAYS
    above = _drawing(zone, names[0], sides[0], answers, places)
    below = _drawing(test, names[1], sides[1], answers, places)
    return DrawnSection(
        paired_sections(above, below, id_prefix=id_prefix),
        paired_sections(above, below, id_prefix=f"{id_prefix}-wide", width=_WIDE, list_beside=True),
        (*_beside(zone, sides[0].capitalize()), *_beside(test, sides[1].capitalize())),
    )


def _told(values: Values) -> set[Place]:
    """The layers that are there, or of which anything is known."""
    return {
        place
        for place in _PLACES
        if _value(values, place) != known(NONE)
        and any(values.get(key, UNKNOWN) is not UNKNOWN for key in _keys(place))
    }


def _drawing(
    values: Values, name: str, side: str, answers: Mapping[str, str], places: Collection[Place]
) -> SectionDrawing:
    in_order = _in_order(values, places)
    return SectionDrawing(
        name,
        tuple(
            _layer(values, place, answers)
            for place in in_order
            if place[0] not in (*_BARRIERS, *_NOT_TO_SCALE)
        ),
        tuple(
            _barrier(values, place, answers)
            for place in in_order
            if place[0] in _BARRIERS and _value(values, place) != known(NONE)
        ),
        side,
    )


def _in_order(values: Values, places: Collection[Place]) -> list[Place]:
    """From the inside out: as the wall's own sequence has it, where it is known."""
    usual = [place for place in _PLACES if place in places]
    sequence = values.get("wall.sequence", UNKNOWN)
    if not isinstance(sequence, Named):
        return usual
    roles = [Role(word) for word in sequence.name.split(" > ") if word]
    told = [(role, roles[: i + 1].count(role)) for i, role in enumerate(roles)]
    own = [place for place in told if place in places]
    # what is not in the sequence goes where layers of its role usually are
    for place in usual:
        if place not in own:
            before = usual[: usual.index(place)]
            at = max((own.index(other) + 1 for other in before if other in own), default=0)
            own.insert(at, place)
    return own


def _layer(values: Values, place: Place, answers: Mapping[str, str]) -> DrawnLayer:
    role, slot = place
    material = _value(values, place)
    thickness = _measure(values, place)
    kind = _kind(role, material)
    return DrawnLayer(
        ROLE_TITLES[role],
        _label(role, material),
        None if thickness is None else (thickness.low + thickness.high) / 2,
        kind,
        _worst_answer(place, answers),
        _note(values, place, thickness),
        is_known=kind != "unknown",
        present=material != known(NONE),
        key=f"{role.value}.{slot}",
    )


def _barrier(values: Values, place: Place, answers: Mapping[str, str]) -> DrawnBarrier:
    role, slot = place
    kind = _value(values, place)
    label = ROLE_TITLES[role]
    if isinstance(kind, OneOf):
        label += f": {_label(role, kind)}"
    return DrawnBarrier(
        label,
        _worst_answer(place, answers),
        isinstance(kind, OneOf),
        _note(values, place, None),
        f"{role.value}.{slot}",
    )


def _keys(place: Place) -> list[str]:
    role, slot = place
    return [f"{role.value}.{slot}.{attribute.key}" for attribute in ROLE_ATTRIBUTES[role]]


def _value(values: Values, place: Place) -> Value:
    return values.get(presence_key(*place), UNKNOWN)


def _measure(values: Values, place: Place) -> Range | None:
    role, slot = place
    for key in ("thickness", "depth"):
        found = values.get(f"{role.value}.{slot}.{key}", UNKNOWN)
        if isinstance(found, Range):
            return found
    return None


def _label(role: Role, material: Value) -> str:
    return show_value(ROLE_ATTRIBUTES[role][0], material, load_reference().vocabulary)


def _kind(role: Role, material: Value) -> str:
    """The hatch that every possible material shares, else that of an unknown one."""
    if not isinstance(material, OneOf):
        return "cavity" if role is Role.CAVITY else "unknown"
    terms = load_reference().vocabulary[ROLE_ATTRIBUTES[role][0].category].terms
    found = {terms[key].section for key in material.keys}
    return found.pop() if len(found) == 1 else "unknown"


def _note(values: Values, place: Place, thickness: Range | None) -> str:
    """What else is known of the layer: its range, class, core, spacing, joints."""
    vocabulary = load_reference().vocabulary
    words = []
    if thickness is not None and not thickness.is_known:
        words.append(f"{thickness.low:g} to {thickness.high:g} mm, drawn at the middle")
    for key in _keys(place)[1:]:
        value = values.get(key, UNKNOWN)
        attribute = PARAMETERS[key].attribute
        if attribute.key in ("class", "core_category", "spacing") and isinstance(
            value, OneOf | Range
        ):
            words.append(f"{attribute.title}: {show_value(attribute, value, vocabulary)}")
    return "; ".join(words)


def _worst_answer(place: Place, answers: Mapping[str, str]) -> str | None:
    found = [answers[key] for key in _keys(place) if key in answers]
    return min(found, key=_WORST_FIRST.index, default=None)


def _beside(values: Values, side: str) -> tuple[str, ...]:
    """What has no thickness, in words."""
    vocabulary = load_reference().vocabulary
    told = []
    substrate = values.get("wall.substrate", UNKNOWN)
    if substrate is not UNKNOWN:
        attribute = PARAMETERS["wall.substrate"].attribute
        told.append(f"fixed to: {show_value(attribute, substrate, vocabulary)}")
    for place in _PLACES:
        material = _value(values, place)
        if place[0] in _NOT_TO_SCALE and isinstance(material, OneOf) and material != known(NONE):
            told.append(f"{ROLE_TITLES[place[0]]}: {_label(place[0], material)}")
    return (f"{side + ', not' if side else 'Not'} drawn: {'; '.join(told)}.",) if told else ()
