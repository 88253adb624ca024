"""A logger's file that was kept as a document: judged, with the part of its chart asked for."""

from __future__ import annotations

import math

from flask import Blueprint, render_template, request
from flask.typing import ResponseReturnValue

from portfolio.domain.errors import InputError, Problem
from portfolio.services.classified_page import choices
from portfolio.services.classifying import Asked
from portfolio.services.documents.contents import contents_for
from portfolio.services.documents.listing import document_line
from portfolio.services.drawn_part import DrawnPart
from portfolio.services.kept_logs import LogView, asked_for_its_test, judge_kept_log
from portfolio.web import store
from portfolio.web.filters import Query
from portfolio.web.form_fields import WHOLE

blueprint = Blueprint("kept_log", __name__)

_MOST_CHANNELS = 200


@blueprint.get("/documents/<int:document_id>/log")
def show(document_id: int) -> ResponseReturnValue:
    """The log as its query asks: by which criteria, at which minute, which stretch and channels."""
    with store.reading() as session:
        line = document_line(session, store.viewer(), document_id, store.today())
        asked = asked_for_its_test(session, store.viewer(), document_id, store.today())
        problems: tuple[Problem, ...] = ()
        found = None
        try:
            view = _view(asked)
            contents = contents_for(store.engine())
            found = judge_kept_log(
                session, store.viewer(), contents, document_id, view, on=store.today()
            )
        except InputError as error:
            problems = error.problems
    offered = choices()
    page = render_template(
        "documents/log.html",
        line=line,
        found=found,
        problems=problems,
        asked=asked,
        annexes=offered.annexes,
        editions=[(edition, edition) for edition in offered.test_editions],
    )
    return page, 400 if problems else 200


def _view(asked: Asked) -> LogView:
    query = Query()
    offered = choices()
    annex = query.choice("annex", offered.annexes)
    editions = [(edition, edition) for edition in offered.test_editions]
    edition = query.choice("edition", editions)
    ignition = query.text("ignition")
    channels, observations = _number(query, "channels"), _number(query, "observations")
    minute = _minute(query, "minute")
    first, last = _minute(query, "from"), _minute(query, "until")
    query.read.add("channel")
    query.check()
    shown = frozenset(request.args.getlist("channel")[:_MOST_CHANNELS])
    part = DrawnPart(
        -math.inf if first is None else first, math.inf if last is None else last, shown
    )
    wanted = Asked(annex=annex or asked.annex, test_edition=edition or asked.test_edition)
    return LogView(ignition, wanted, channels, observations, minute, part)


def _number(query: Query, name: str) -> int:
    text = query.text(name)
    if text and not WHOLE.fullmatch(text):
        query.problems.append(
            Problem("This is no document's number.", "as in the list of documents", value=text)
        )
        return 0
    return int(text) if text else 0


def _minute(query: Query, name: str) -> float | None:
    text = query.text(name)
    if not text:
        return None
    try:
        found = float(text.replace(",", "."))
    except ValueError:
        found = math.nan
    if not math.isfinite(found):
        query.problems.append(
            Problem("This is no minute.", "minutes from ignition, such as 12.5", value=text)
        )
        return None
    return found
