"""The sheet of works: what is decided, how far it has come, money and dates."""

from __future__ import annotations

from portfolio.domain.works import Decided, WorksStatus
from portfolio.sheets.columns import BUILDING, DATE, OWNER, Column, Sheet, ref, words

MONEY = "An amount such as 12500 or 12500.50, in the currency of the row."

WORKS = Sheet(
    "works",
    "Works",
    "One row for each works on a building; several where it is in several programmes.",
    (
        OWNER,
        BUILDING,
        ref("works", "Works", "Your reference of the works, unique within its building."),
        Column("works_title", "What is done", "In a few words.", longest=200),
        Column("works_zones", "Zones", "References separated by “;”. Empty: the whole building."),
        words("decided", "Decided", tuple(Decided), "What is to be done. Empty: not decided."),
        Column("decided_reason", "Decided because", "Why, and who decided."),
        words(
            "works_status",
            "Works status",
            tuple(WorksStatus),
            "How far works have come. “complete” is recorded on the page of the works, where its "
            "document is; here only where it is stored already.",
        ),
        Column("works_status_date", "Works status date", f"When it was reached. {DATE}"),
        Column("built_on", "New build-up complete on", DATE),
        Column("programme", "Programme", "Of remediation, as you call it.", longest=100),
        Column("responsible", "Responsible", "A person or a post.", longest=200),
        Column("funding_route", "Funding route", "Who pays, and how.", longest=300),
        Column("currency", "Currency", "Three letters of ISO 4217. Empty: GBP.", longest=3),
        Column("funding", "Funding", MONEY),
        Column("cost_estimate", "Cost estimate", MONEY),
        Column("cost_outturn", "Cost outturn", MONEY),
        Column("due_on", "Own deadline", f"Of a contract, an order, or your own. {DATE}"),
        Column("due_reason", "Deadline set by", "What sets the own deadline.", longest=300),
        Column("residents_told_on", "Residents last informed", DATE),
        Column("residents_next_on", "Residents next informed by", DATE),
        Column("works_note", "Works note", "Anything a reader should know."),
    ),
)
