"""Certificates of materials: what one says, and whether it is valid on a day.

A certificate is one paper's word on a product; it says nothing of a wall in which it is built.
"""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date

from portfolio.domain.evidence import Answer3
from portfolio.domain.reaction import classes_meant

NOT_STATED = "not stated"


@dataclass(frozen=True, slots=True)
class Certificate:
    """A certificate as recorded; "" and None mean that nobody has said.

    `reaction_class` is as EN 13501-1 writes it, `calorific_value` in MJ/kg, and both days count.
    """

    product: str
    material: str = ""
    reaction_class: str = ""
    calorific_value: float | None = None
    valid_from: date | None = None
    valid_until: date | None = None


@dataclass(frozen=True, slots=True)
class Validity:
    """Whether a certificate is valid on a day, and why."""

    answer: Answer3
    reason: str


def validity_on(certificate: Certificate, on: date) -> Validity:
    """Valid, not valid, or unknown where a day that would decide it is not recorded.

    >>> validity_on(Certificate("Panel", valid_until=date(2026, 3, 1)), date(2026, 3, 2)).reason
    'It ran out on 2026-03-01.'
    """
    first, last = certificate.valid_from, certificate.valid_until
    if last is not None and last < on:
        return Validity(Answer3.NOT_MET, f"It ran out on {last.isoformat()}.")
    if first is not None and on < first:
        return Validity(Answer3.NOT_MET, f"It begins on {first.isoformat()}.")
    missing = [name for name, day in (("first", first), ("last", last)) if day is None]
    if missing:
        days = "day is" if len(missing) == 1 else "days are"
        return Validity(Answer3.UNKNOWN, f"Its {' and '.join(missing)} {days} not recorded.")
    return Validity(Answer3.MET, f"From {first} until {last}.")


def says(certificate: Certificate) -> tuple[tuple[str, str], ...]:
    """What it says, as (property, words); what it leaves open is told, never filled in.

    >>> dict(says(Certificate("Panel", reaction_class="A2")))["Reaction to fire (EN 13501-1)"]
    'A2, leaving open smoke or droplets'
    """
    value = certificate.calorific_value
    return (
        ("Product", certificate.product),
        ("Material", certificate.material or NOT_STATED),
        ("Reaction to fire (EN 13501-1)", _class_words(certificate.reaction_class)),
        ("Calorific value", NOT_STATED if value is None else f"{value:g} MJ/kg"),
    )


def _class_words(text: str) -> str:
    if not text:
        return NOT_STATED
    is_whole = len(classes_meant(text)) == 1
    return text if is_whole else f"{text}, leaving open smoke or droplets"
