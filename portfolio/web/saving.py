"""What every form does when it is sent: check, save in one transaction, tell what it changed."""

from __future__ import annotations

from collections import Counter
from collections.abc import Callable, Collection, Sequence
from typing import Any, TypeVar

from flask import flash, redirect, render_template, request
from flask.typing import ResponseReturnValue
from sqlalchemy.orm import Session

from portfolio.domain.errors import InputError
from portfolio.services.editing import CoverageChange, Saved, StaleError
from portfolio.services.previewing import Applied
from portfolio.web import store, words
from portfolio.web.forms_wall import MORE
from portfolio.web.page_form import PageForm

MOST_NAMED = 3

_Form = TypeVar("_Form", bound=PageForm)


def saved_or_shown(
    form: _Form,
    template: str,
    *,
    save: Callable[[Session], Saved],
    to: Callable[[Saved], str],
    filled: Callable[[Any], _Form] | None = None,
    **shown: Any,
) -> ResponseReturnValue:
    """The next page once the form is saved; the form itself until then, with what was wrong.

    `filled` makes the form that what is stored now would fill; a form that can be overtaken by
    another save gives it.
    """
    status = 200
    if request.method == "POST" and MORE not in request.form:
        status = 400
        if form.validate():
            try:
                with store.writing() as session:
                    saved = save(session)
            except InputError as error:
                form.refuse(error.problems)
            except StaleError as error:
                if filled is None:
                    raise
                form.overtaken_by(filled(error.stored), error.revision)
                status = 409
            else:
                flash(saved_message(saved), "success")
                return redirect(to(saved))
    return render_template(template, form=form, **shown), status


def saved_message(saved: Saved) -> str:
    """What was saved, how coverage changed (zone by zone where few, else by kind of change), and
    what to know of it."""
    told = [f"{saved.ref} was saved."]
    if saved.compared:
        told.append(_changes(saved.changes))
    return " ".join((*told, *saved.remarks))


def applied_message(applied: Applied) -> str:
    """What an upload wrote, and how coverage changed."""
    return f"{applied.created} new, {applied.changed} changed. {_changes(applied.changes)}"


def _changes(changes: Sequence[CoverageChange]) -> str:
    if not changes:
        return "No coverage changed."
    if len(changes) <= MOST_NAMED:
        return " ".join(f"{_place(change)}: {_change(change)}." for change in changes)
    return f"Coverage of {len(changes)} zones changed: {_counted(changes)}."


def _place(change: CoverageChange) -> str:
    return f"Zone {change.zone_ref} of {change.building_ref}"


def _counted(changes: Collection[CoverageChange]) -> str:
    kinds = Counter((change.before, change.after) for change in changes)
    return "; ".join(
        f"{count} from {_label(before)} to {_label(after)}"
        for (before, after), count in kinds.most_common()
    )


def _change(change: CoverageChange) -> str:
    if change.before is None:
        return f"coverage is {_label(change.after)}"
    return f"coverage was {_label(change.before)}, is now {_label(change.after)}"


def _label(value: str | None) -> str:
    if value is None:
        return "not yet computed"
    label = words.coverage_mark(value).label
    return label[0].lower() + label[1:]
