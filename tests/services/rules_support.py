"""Rules of an organisation's engineers with defaults; every amount is invented."""

from dataclasses import replace
from datetime import date
from typing import Any

from sqlalchemy.orm import Session

from portfolio.services.editing import Saved
from portfolio.services.rules.recording import record_rule
from portfolio.services.rules.texts import ConditionTexts, ExampleTexts, RuleTexts
from portfolio.services.viewer import Viewer
from tests.web.portfolios import ON

FAMILY = ("wall.system_family", "ventilated-rainscreen")
WOOL = ("insulation.1.material", "stone-wool")

DEEPER = RuleTexts(
    key="deeper-cavity",
    title="A deeper cavity",
    parameter="cavity.1.depth",
    kind="not-less",
    amount="40",
    equals="",
    families="",
    jurisdictions="",
    conditions=(),
    since=date(2026, 1, 1),
    until=None,
    document="Note 7",
    clause="3.2",
    author="A. Engineer",
    reason="Invented for a test.",
    examples=(ExampleTexts("80", "50", "allowed"), ExampleTexts("95", "50", "differs")),
)
UNDER_CONDITIONS = replace(
    DEEPER,
    key="deeper-in-wool",
    families="ventilated-rainscreen",
    jurisdictions="England | Scotland",
    conditions=(ConditionTexts("insulation.1.material", "stone-wool | glass-wool"),),
    until=date(2027, 12, 31),
    examples=(
        ExampleTexts("80", "50", "allowed", (FAMILY, WOOL), "England"),
        ExampleTexts("80", "50", "unknown", (FAMILY,), "England"),
        ExampleTexts("80", "50", "differs", (FAMILY, WOOL), "Wales"),
    ),
)
EQUAL_WOOLS = replace(
    DEEPER,
    key="equal-wools",
    parameter="insulation.1.material",
    kind="equals",
    amount="",
    equals="glass-wool | stone-wool",
    examples=(
        ExampleTexts("glass-wool", "stone-wool", "allowed"),
        ExampleTexts("pir-foam", "stone-wool", "differs"),
        ExampleTexts("unknown", "stone-wool", "unknown"),
    ),
)


def write(
    session: Session,
    viewer: Viewer,
    organisation_id: int,
    texts: RuleTexts = DEEPER,
    *,
    version: int = 0,
    on: date = ON,
    **changed: Any,
) -> Saved:
    """Keep a rule, with some of its fields changed."""
    told = replace(texts, **changed)
    return record_rule(session, viewer, organisation_id, told, version=version, on=on)
