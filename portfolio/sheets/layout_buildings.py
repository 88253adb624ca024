"""The sheets of organisations, buildings, heights and zones."""

from __future__ import annotations

from portfolio.domain.heights import LEFT_OUT_OF_STOREYS, LEFT_OUT_SOURCE
from portfolio.domain.routes import Work
from portfolio.reference.loader import EVACUATION, SPRINKLERS
from portfolio.sheets.columns import BUILDING, DATE, OWNER, YES_NO, ZONE, Column, Sheet, ref, words

ORGANISATION_KINDS = ("owner", "consultancy", "laboratory")

ORGANISATIONS = Sheet(
    "organisations",
    "Organisations",
    "Who owns buildings, holds test reports or gives consent. Only those not yet known.",
    (
        ref("organisation", "Organisation", "A short reference, used in the other sheets."),
        Column("name", "Name", "The organisation's name as it should be shown.", longest=200),
        words("kind", "Kind", ORGANISATION_KINDS, "What the organisation is to the others."),
    ),
)

_HEIGHT = (
    Column(
        "height_tolerance_m",
        "Height tolerance (m)",
        "How far the height may be off. Empty when nobody has said.",
        unit="m",
    ),
    Column(
        "height_method",
        "Height method",
        "How it was found: measured, read from a drawing…",
        longest=200,
    ),
    Column("height_date", "Height date", DATE),
    Column(
        "height_source", "Height source", "The document or the person that says so.", longest=300
    ),
)
_HEIGHT_HELP = "From the lowest ground beside the building to the floor of the top storey."

BUILDINGS = Sheet(
    "buildings",
    "Buildings",
    "One row for each building.",
    (
        OWNER,
        BUILDING,
        Column("name", "Name", "What people call it. Empty: its reference is shown.", longest=200),
        Column("address", "Address", "Where it stands.", longest=300),
        Column(
            "jurisdiction",
            "Jurisdiction",
            "Whose law applies: England, Scotland…",
            category="jurisdiction",
            longest=60,
        ),
        Column("use", "Use", "What the building is used for.", category="use"),
        Column(
            "storeys",
            "Storeys",
            f"Storeys above ground, a whole number, without {LEFT_OUT_OF_STOREYS} "
            f"({LEFT_OUT_SOURCE}).",
        ),
        Column("top_floor_height_m", "Top floor height (m)", _HEIGHT_HELP, unit="m"),
        *_HEIGHT,
        Column("homes", "Homes", "How many homes, a whole number."),
        Column("people", "People", "How many people, a count only. Empty: estimated from homes."),
        words("evacuation", "Evacuation", tuple(EVACUATION), "How people are meant to leave."),
        words("sprinklers", "Sprinklers", tuple(SPRINKLERS), "How far sprinklers reach."),
        Column("note", "Note", "Anything a reader should know."),
    ),
)

HEIGHTS = Sheet(
    "heights",
    "Heights",
    "Further words on a building's height, one row each; every one is kept.",
    (
        OWNER,
        BUILDING,
        Column("top_floor_height_m", "Top floor height (m)", _HEIGHT_HELP, True, "m"),
        *_HEIGHT,
    ),
)

ZONES = Sheet(
    "zones",
    "Zones",
    "One row for each part of an external wall with one build-up.",
    (
        OWNER,
        BUILDING,
        ZONE,
        Column("description", "Description", "What it looks like and where it is.", longest=300),
        Column(
            "face", "Face", "Which face of the building: north, street side, courtyard…", longest=60
        ),
        Column("from_storey", "From storey", "Lowest storey it covers; the ground storey is 0."),
        Column("to_storey", "To storey", "Highest storey it covers; the ground storey is 0."),
        Column("area_m2", "Area (m2)", "Its area, a number.", unit="m2"),
        words(
            "attachment",
            "Attachment",
            YES_NO,
            "yes for a balcony, canopy or sign. Empty: no, or as it was.",
        ),
        words(
            "work",
            "Kind of work",
            tuple(Work),
            "existing: the wall as it stands. new: new work. Empty: as it was, else taken as an "
            "existing wall; a word for unknown is refused.",
        ),
        Column(
            "work_counted_on",
            "Work counted on",
            "Of new work: the day on which its application or notice to building control counted. "
            f"{DATE}",
        ),
    ),
)
