"""Application rules: the list, one of them with its versions, and the form with what it would
change before it does."""

from __future__ import annotations

from flask import Blueprint, flash, redirect, render_template, request, url_for
from flask.typing import ResponseReturnValue

from portfolio.domain.errors import InputError
from portfolio.domain.rights import Right
from portfolio.services.editing import CoverageChange, StaleError
from portfolio.services.editing_buildings import owners_for
from portfolio.services.rules.listing import RuleLine, list_rules, rule_page
from portfolio.services.rules.recording import (
    EditableRule,
    cautions_of,
    editable_rule,
    effects_of_rule,
    record_rule,
)
from portfolio.sheets.writing import Cell, Table
from portfolio.web import downloads, store
from portfolio.web.filters import Query
from portfolio.web.forms_rules import RuleForm
from portfolio.web.saving import saved_message

blueprint = Blueprint("rules", __name__)

HEADERS = (
    "Rule",
    "Version",
    "Title",
    "Parameter",
    "Allows",
    "Holds where",
    "From",
    "Until",
    "State",
    "Caution",
    "Engineer",
    "Source",
    "Organisation",
)


@blueprint.get("/rules")
def index() -> ResponseReturnValue:
    """The rules by which one's own walls are compared; a page, or all as a file."""
    Query().check()
    form = downloads.asked_format()
    with store.reading() as session:
        found = list_rules(session, store.viewer(), store.today())
    if form:
        rows = [_cells(line) for line in (*found.own, *found.shipped)]
        return downloads.send("rules", [Table("Rules", HEADERS, rows)])
    return render_template(
        "rules/list.html",
        rules=found,
        may_write=Right.DECIDE in store.viewer().rights,
        downloads=downloads.links(),
    )


def _cells(line: RuleLine) -> list[Cell]:
    rule = line.rule
    return [
        rule.id,
        rule.version or "shipped",
        rule.title,
        line.parameters,
        line.says,
        line.where or "everywhere",
        rule.effective_from.isoformat(),
        line.until.isoformat() if line.until else "",
        line.state,
        " ".join(line.cautions),
        rule.author,
        rule.source,
        line.organisation,
    ]


@blueprint.get("/rules/<int:rule_id>")
def show(rule_id: int) -> ResponseReturnValue:
    """One rule, with its examples and its earlier versions."""
    with store.reading() as session:
        page = rule_page(session, store.viewer(), rule_id, store.today())
    may_write = store.viewer().may(Right.DECIDE, page.organisation_id)
    return render_template("rules/rule.html", page=page, may_write=may_write)


@blueprint.route("/rules/new", methods=["GET", "POST"])
def new() -> ResponseReturnValue:
    """Write a rule; sent once the form shows what would change, sent again it saves that."""
    viewer = store.viewer()
    with store.reading() as session:
        holders = owners_for(session, viewer, Right.DECIDE)
    form = RuleForm.begun("" if viewer.organisation_id is None else viewer.name, store.today())
    form.offer_holders(holders)
    return _answered(form, None)


@blueprint.route("/rules/<int:rule_id>/replace", methods=["GET", "POST"])
def replace(rule_id: int) -> ResponseReturnValue:
    """Write a further version of a rule, which takes the place of the latest one."""
    with store.reading() as session:
        rule = editable_rule(session, store.viewer(), rule_id)
    form = RuleForm.filled(rule.texts, rule.version)
    form.keep()
    return _answered(form, rule)


def _answered(form: RuleForm, rule: EditableRule | None) -> ResponseReturnValue:
    if request.method == "GET":
        return _shown(form, rule)
    if not form.validate():
        return _shown(form, rule, status=400)
    organisation_id = rule.organisation_id if rule else int(form.holder.data)
    texts = form.texts(rule.texts.key if rule else "")
    mark = form.mark(texts, organisation_id)
    given = store.viewer(), organisation_id, texts
    version, on = form.known_revision, store.today()
    try:
        if form.shown.data == mark:
            with store.writing() as session:
                saved = record_rule(session, *given, version=version, on=on)
            flash(saved_message(saved), "success")
            return redirect(url_for("rules.show", rule_id=saved.id))
        with store.reading() as session:
            effects = effects_of_rule(session, *given, version=version, on=on)
    except InputError as error:
        form.refuse(error.problems)
        return _shown(form, rule, status=400)
    except StaleError as error:
        stored = RuleForm.filled(error.stored, formdata=None)
        stored.keep()
        form.overtaken_by(stored, error.revision)
        return _shown(form, rule, status=409)
    return _shown(form, rule, effects=effects, mark=mark, cautions=cautions_of(texts))


def _shown(
    form: RuleForm,
    rule: EditableRule | None,
    *,
    effects: tuple[CoverageChange, ...] | None = None,
    mark: str = "",
    cautions: tuple[str, ...] = (),
    status: int = 200,
) -> tuple[str, int]:
    form.show_again(mark)
    told = {"form": form, "rule": rule, "effects": effects, "cautions": cautions}
    return render_template("rules/form.html", **told), status
