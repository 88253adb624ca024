"""What an upload would change, shown before it does; applied only if that is still so."""

from __future__ import annotations

import hashlib
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date
from typing import Any

from sqlalchemy.orm import Session

from portfolio.domain.errors import PortfolioError, Problem
from portfolio.reference.loader import load_reference
from portfolio.services.editing import CoverageChange, changes_since, coverages
from portfolio.services.importing import Create, ImportPlan, Step, Update, plan_import
from portfolio.services.taking_in import take_in
from portfolio.services.telling import told_to
from portfolio.services.viewer import Viewer
from portfolio.sheets.converting import convert
from portfolio.sheets.raw import GivenFile
from portfolio.sheets.reading import read_files

MOST_SHOWN = 200
"""Records, and problems, that the preview spells out; the counts are always of all."""


@dataclass(frozen=True, slots=True)
class PreviewLine:
    """One record that is new, or changes: (field, from, to)."""

    subject: str
    ref: str
    is_new: bool
    changes: tuple[tuple[str, str, str], ...]


@dataclass(frozen=True, slots=True)
class Preview:
    """What would happen. `fingerprint` is another one as soon as anything else would."""

    counts: dict[str, tuple[int, int, int]]
    lines: tuple[PreviewLine, ...]
    touched: int
    problems: tuple[Problem, ...]
    problem_count: int
    fingerprint: str

    @property
    def can_apply(self) -> bool:
        return not self.problem_count and self.touched > 0


@dataclass(frozen=True, slots=True)
class Applied:
    """What was written, and what it did to coverage."""

    created: int
    changed: int
    changes: tuple[CoverageChange, ...]


class PlanChangedError(PortfolioError):
    """What would change is no longer what was shown."""

    def __init__(self, preview: Preview) -> None:
        self.preview = preview
        super().__init__("Somebody saved something meanwhile: look at the new preview.")


def preview_import(
    session: Session, viewer: Viewer, files: Sequence[GivenFile], on: date
) -> Preview:
    """What importing the files on a day would do. Raises InputError for an unreadable file."""
    return _preview(_plan(session, viewer, files, on))


def apply_preview(
    session: Session, viewer: Viewer, files: Sequence[GivenFile], fingerprint: str, on: date
) -> Applied:
    """Do what the preview of this fingerprint showed, all of it or nothing.

    Raises PlanChangedError when something else would happen now, and InputError.
    """
    plan = _plan(session, viewer, files, on)
    preview = _preview(plan)
    if preview.fingerprint != fingerprint:
        raise PlanChangedError(preview)
    before = coverages(session)
    result = take_in(session, viewer, plan, on)
    changes = told_to(session, viewer, changes_since(session, before))
    return Applied(result.created, result.changed, changes)


def _plan(session: Session, viewer: Viewer, files: Sequence[GivenFile], on: date) -> ImportPlan:
    drafts = convert(read_files(files), load_reference())
    return plan_import(session, viewer, drafts, on)


def _preview(plan: ImportPlan) -> Preview:
    touched: tuple[Create | Update, ...] = (*plan.updates, *plan.creates)
    return Preview(
        plan.counts(),
        tuple(_line(step) for step in touched[:MOST_SHOWN]),
        len(touched),
        plan.problems[:MOST_SHOWN],
        len(plan.problems),
        _fingerprint(plan.steps),
    )


def _line(step: Create | Update) -> PreviewLine:
    changes = step.changes if isinstance(step, Update) else {}
    key = step.draft.key
    return PreviewLine(
        step.subject,
        " / ".join(key[1:] or key),
        isinstance(step, Create),
        tuple(
            (name.replace("_", " "), _text(old), _text(new)) for name, (old, new) in changes.items()
        ),
    )


def _text(value: Any) -> str:
    if isinstance(value, list | tuple):
        return "; ".join(map(_text, value)) or "none"
    if isinstance(value, bool):
        return "yes" if value else "no"
    return "unknown" if value is None or value == "" else str(value)


def _fingerprint(steps: Sequence[Step]) -> str:
    """The files stay the same; so what can differ is what they meet in the store."""
    digest = hashlib.sha256()
    for step in steps:
        digest.update(repr((type(step).__name__, step.subject, step.draft.key)).encode())
        if isinstance(step, Update):
            told = [(name, _text(old), _text(new)) for name, (old, new) in step.changes.items()]
            digest.update(repr((step.stored.revision, sorted(told))).encode())
    return digest.hexdigest()
