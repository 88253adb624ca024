"""The sheet of surveyed layers, and the columns that describe a layer wherever it is written."""

from __future__ import annotations

from portfolio.domain.parameters import ROLE_ATTRIBUTES, Attribute, Role
from portfolio.domain.surveys import Basis
from portfolio.sheets.columns import BUILDING, DATE, OWNER, YES_NO, ZONE, Column, Sheet, ref, words

LAYER_MATERIAL = "layer-material"
"""Stands for the words of each role's first attribute; which of them apply depends on the role."""

_COLUMN_OF_ATTRIBUTE = {
    "class": "class",
    "thickness": "thickness_mm",
    "depth": "thickness_mm",
    "spacing": "spacing_mm",
    "core_category": "core_category",
    "calorific_value": "calorific_value_mj_kg",
    "joint": "joint",
    "joint_width": "joint_width_mm",
    "product": "product",
}


def _columns_of(attributes: tuple[Attribute, ...]) -> dict[str, Attribute]:
    first, *others = attributes
    return {"material": first} | {_COLUMN_OF_ATTRIBUTE[a.key]: a for a in others}


ATTRIBUTE_OF_COLUMN: dict[Role, dict[str, Attribute]] = {
    role: _columns_of(attributes) for role, attributes in ROLE_ATTRIBUTES.items()
}
"""By role: which attribute each layer column holds. A column that is missing must stay empty."""

WALL_COLUMNS = (
    Column(
        "system_family",
        "System family",
        "What kind of wall it is as a whole.",
        category="system-family",
    ),
    Column("substrate", "Substrate", "What the wall is fixed to.", category="substrate"),
    words(
        "all_layers_listed",
        "All layers listed",
        YES_NO,
        "yes when what is not listed is not there; empty or no: it is unknown.",
    ),
)

LAYER_COLUMNS = (
    Column("layer_no", "Layer no.", "From the inside out, starting at 1."),
    words(
        "role",
        "Role",
        tuple(Role),
        "What the layer does in the wall. Where none fits, see the sheet Help.",
    ),
    Column(
        "material",
        "Material",
        "The material; of cavity barriers their type, of a cavity its ventilation. "
        "none: known not to be there.",
        category=LAYER_MATERIAL,
    ),
    Column(
        "class",
        "Class",
        'Reaction-to-fire class of EN 13501-1, such as "A2-s1,d0".',
        category="fire-class",
    ),
    Column(
        "thickness_mm",
        "Thickness (mm)",
        "Thickness of the layer, or depth of a cavity. A range may be given: 50 to 75.",
        unit="mm",
    ),
    Column("spacing_mm", "Spacing (mm)", "Between cavity barriers only.", unit="mm"),
    Column(
        "core_category",
        "Core category",
        "Of a composite panel's core only.",
        category="core-category",
    ),
    Column(
        "calorific_value_mj_kg",
        "Calorific value (MJ/kg)",
        "Gross, of a composite panel's core only.",
        unit="MJ/kg",
    ),
    Column("joint", "Joints", "Joints of the facing only.", category="joint"),
    Column("joint_width_mm", "Joint width (mm)", "Joints of the facing only.", unit="mm"),
    Column("product", "Product", "The product's identity as your organisation writes it."),
    Column("layer_note", "Layer note", "Anything a reader should know of this layer."),
)

LAYERS = Sheet(
    "layers",
    "Layers",
    "One row for each layer that a survey found, from the inside out. The columns from Basis to "
    "All layers listed say something of the whole survey and repeat on each of its rows.",
    (
        OWNER,
        BUILDING,
        ZONE,
        ref("survey", "Survey", "Your reference of the survey, unique within its zone."),
        Column(
            "basis",
            "Basis",
            "What the survey rests on.",
            required=True,
            words=tuple(Basis),
        ),
        Column("survey_date", "Survey date", DATE, required=True),
        Column(
            "survey_source",
            "Survey source",
            "The document or the person that says so.",
            longest=300,
        ),
        *WALL_COLUMNS,
        *LAYER_COLUMNS,
    ),
)
