"""What one record of an import may not say, whatever else is stored: checked where it would write.

What stays as it is stored is not asked again.
"""

from __future__ import annotations

from collections.abc import Iterator
from datetime import date

from portfolio.domain.errors import Problem
from portfolio.domain.evidence import takes_failure_back
from portfolio.services.importing_steps import Create, Step, Update
from portfolio.sheets.drafts import NOWHERE, BuildingDraft, Place, SurveyDraft, TestDraft

NOT_YET = "This day has not come yet."
HEIGHT_DATE = "Height date"
WORK_COUNTED_ON = "Work counted on"


def problems_of(step: Step, on: date) -> Iterator[Problem]:
    """The problems of writing this record on the day `on`."""
    if isinstance(step, Create | Update):
        for column, day in _days(step):
            yield from of_a_day(step.draft.at, column, day, on)
    if isinstance(step, Update) and isinstance(step.draft, TestDraft):
        yield from _standing(step, step.draft, step.draft.at)
        yield from _acquittal(step, step.draft, step.draft.at)


def of_a_day(at: Place, column: str, day: date | None, on: date) -> Iterator[Problem]:
    """The problem of a day by which something is said to have been seen, and that is to come."""
    if day is not None and day > on:
        expected = f"a day up to {on.isoformat()}"
        yield at.problem(NOT_YET, column=column, value=day.isoformat(), expected=expected)


def _days(step: Create | Update) -> Iterator[tuple[str, date | None]]:
    """The days by which the record says that something was seen, with their columns."""
    draft = step.draft
    if isinstance(draft, SurveyDraft):
        yield "Survey date", draft.survey_date
    elif isinstance(draft, TestDraft):
        yield "Tested on", draft.tested_on
        yield "Report date", draft.report_on
    elif isinstance(draft, BuildingDraft) and draft.at != NOWHERE:
        # what comes from the sheet of further heights has been asked row by row
        for claim in step.claims if isinstance(step, Update) else draft.heights:
            yield HEIGHT_DATE, claim.on


def _standing(step: Update, draft: TestDraft, at: Place) -> Iterator[Problem]:
    """Whoever changes what evidence is worth says why, here as on the test's page."""
    if "standing" in step.changes and not (draft.standing_note and "standing_note" in step.changes):
        old, new = step.changes["standing"]
        yield at.problem(
            f"The standing changes from {old.value} to {new.value}, and nobody says why.",
            column="Standing note",
            value=draft.standing_note,
            expected="the reason of this change",
        )


def _acquittal(step: Update, draft: TestDraft, at: Place) -> Iterator[Problem]:
    """Nor does a failure that was recorded go away without a reason."""
    if takes_failure_back(step.stored.draft, draft) and (
        not draft.standing_note or "standing_note" not in step.changes
    ):
        yield at.problem(
            "The test was recorded as failed, and nobody says why it no longer is.",
            column="Standing note",
            value=draft.standing_note,
            expected="the reason of this change",
        )
