"""Any zone or test beside any other: ?left=zone-12&right=test-5, or a form that asks with what."""

from __future__ import annotations

from flask import Blueprint, redirect, render_template, request, url_for
from flask.typing import ResponseReturnValue

from portfolio.domain.errors import InputError, NotFoundError, Problem
from portfolio.services.comparing import Comparison, compare, comparison_fields
from portfolio.services.references import Kind, Thing, thing_named
from portfolio.sheets.writing import Table
from portfolio.web import downloads, labels, store

blueprint = Blueprint("comparing", __name__)

_LARGEST_DIGITS = len("999999999")
_LONGEST_NAME = 200
_HEADERS = (
    "Left",
    "Right",
    "Parameter",
    "Left has",
    "Right has",
    "Answer",
    "Decisive",
    "Rule",
    "Source of the rule",
    "Where the left value comes from",
    "Where the right value comes from",
    "Documents of the left value",
    "Documents of the right value",
)


@blueprint.get("/compare")
def show() -> ResponseReturnValue:
    """Two walls; ?with=<reference> in place of the right one leads to its address. Without a right
    one, the form that asks for it."""
    form, left, right = downloads.asked_format("json"), _asked("left"), _asked("right")
    name = " ".join(request.args.get("with", "").split())
    if left is not None and right is None and name:
        return _led_to(left, name)
    if left is None or right is None:
        return render_template("comparing/ask.html", left=left, name="", not_found=False)
    with store.reading() as session:
        found = compare(session, store.viewer(), left, right, store.today())
        if form == "json":
            return downloads.json_attachment(comparison_fields(found), "comparison")
        if form:
            return downloads.send("comparison", [_table(found)])
        return render_template(
            "comparing/comparison.html",
            found=found,
            labels=labels,
            swapped=_address(right, left),
            downloads=downloads.links(more=("json",)),
        )


def _led_to(left: Thing, name: str) -> ResponseReturnValue:
    """The comparison with what the reference means; the form again where it means nothing here."""
    if len(name) > _LONGEST_NAME:
        raise InputError([Problem("This is no reference.", f"up to {_LONGEST_NAME} characters")])
    with store.reading() as session:
        try:
            right = thing_named(session, store.viewer(), name, store.today(), beside=left)
        except NotFoundError:
            asked = render_template("comparing/ask.html", left=left, name=name, not_found=True)
            return asked, 404
    return redirect(_address(left, right))


def _address(left: Thing, right: Thing) -> str:
    return url_for("comparing.show", left=_written(left), right=_written(right))


def _written(thing: Thing) -> str:
    return f"{thing.kind.value}-{thing.id}"


def _asked(name: str) -> Thing | None:
    """One of the two as the address names it. Raises InputError."""
    text = request.args.get(name, "")
    if not text:
        return None
    kind, _, number = text.partition("-")
    is_number = number.isascii() and number.isdigit() and len(number) <= _LARGEST_DIGITS
    if kind not in (Kind.ZONE, Kind.TEST) or not is_number:
        expected = "a zone or a test, such as zone-12 or test-5"
        raise InputError([Problem("This cannot be compared.", expected, value=text[:20])])
    return Thing(Kind(kind), int(number))


def _table(found: Comparison) -> Table:
    if found.walls is None:
        told = found.left.ref, found.right.ref, found.in_words
        return Table("Comparison", ("Left", "Right", "What may be told"), [told])
    return Table(
        "Comparison",
        _HEADERS,
        [
            (
                found.left.ref,
                found.right.ref,
                line.title,
                line.left.value,
                line.right.value,
                line.answer,
                line.is_decisive,
                line.rule,
                line.rule_source,
                line.left.source,
                line.right.source,
                *("; ".join(p.name for p in told.papers) for told in (line.left, line.right)),
            )
            for line in found.lines
        ],
    )
