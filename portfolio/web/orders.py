"""Orders of gaps: the list, one of them with its versions, and the form with who would move."""

from __future__ import annotations

from flask import Blueprint, flash, redirect, render_template, request, url_for
from flask.typing import ResponseReturnValue

from portfolio.domain.errors import InputError
from portfolio.domain.rights import Right
from portfolio.services.editing import StaleError
from portfolio.services.editing_buildings import owners_for
from portfolio.services.orders.known import KnownOrder
from portfolio.services.orders.pages import OrderPage, list_orders, order_page, shipped_page
from portfolio.services.orders.recording import (
    EditableOrder,
    Moves,
    editable_order,
    moves_of_order,
    record_order,
)
from portfolio.sheets.writing import Cell, Table
from portfolio.web import downloads, store
from portfolio.web.filters import Query
from portfolio.web.forms_orders import OrderForm
from portfolio.web.saving import saved_message

blueprint = Blueprint("orders", __name__)

HEADERS = ("Order", "Title", "Version", "Steps", "Written by", "Entered on", "Organisation")
STEP_HEADERS = ("Order", "Version", "Step", "What is looked at", "Worst first", "Source", "Status")


@blueprint.get("/orders")
def index() -> ResponseReturnValue:
    """The orders that gaps can be listed by; a page, or all as a file."""
    Query().check()
    form = downloads.asked_format()
    with store.reading() as session:
        found = list_orders(session, store.viewer())
        if form:
            return downloads.send("orders", [Table("Orders", HEADERS, [_cells(k) for k in found])])
        return render_template(
            "orders/list.html",
            orders=found,
            may_write=Right.DECIDE in store.viewer().rights,
            downloads=downloads.links(),
        )


def _cells(known: KnownOrder) -> list[Cell]:
    order, row = known.order, known.row
    return [
        known.name,
        order.title,
        order.version,
        "; ".join(step.title for step in order.steps),
        row.author if row else "shipped with the program",
        row.recorded_on.isoformat() if row else "",
        row.organisation.name if row else "",
    ]


@blueprint.get("/orders/shipped/<key>")
def shipped(key: str) -> ResponseReturnValue:
    """An order that the program ships."""
    return _page(shipped_page(key))


@blueprint.get("/orders/<int:order_id>")
def show(order_id: int) -> ResponseReturnValue:
    """One version of an organisation's order, with the others."""
    with store.reading() as session:
        return _page(order_page(session, store.viewer(), order_id))


def _page(page: OrderPage) -> ResponseReturnValue:
    own = page.shown
    may_write = own is not None and store.viewer().may(Right.DECIDE, own.row.organisation_id)
    if downloads.asked_format():
        return downloads.send(f"order-{page.order.key}", [_steps_table(page)])
    return render_template(
        "orders/order.html", page=page, may_write=may_write, downloads=downloads.links()
    )


def _steps_table(page: OrderPage) -> Table:
    order = page.order
    rows: list[list[Cell]] = [
        [
            page.name,
            order.version,
            place,
            step.title,
            step.direction,
            "ours" if step.is_ours and page.shown is None else step.source,
            step.status,
        ]
        for place, step in enumerate(order.steps, start=1)
    ]
    return Table("Steps", STEP_HEADERS, rows)


@blueprint.route("/orders/new", methods=["GET", "POST"])
def new() -> ResponseReturnValue:
    """Write an order; sent once the form shows who would move, sent again it saves that."""
    with store.reading() as session:
        holders = owners_for(session, store.viewer(), Right.DECIDE)
    form = OrderForm.begun()
    form.offer_holders(holders)
    return _answered(form, None)


@blueprint.route("/orders/<int:order_id>/replace", methods=["GET", "POST"])
def replace(order_id: int) -> ResponseReturnValue:
    """Write a further version of an order, which takes the place of the latest one."""
    with store.reading() as session:
        order = editable_order(session, store.viewer(), order_id)
    form = OrderForm.filled(order.texts, order.version)
    form.keep()
    return _answered(form, order)


def _answered(form: OrderForm, order: EditableOrder | None) -> ResponseReturnValue:
    if request.method == "GET":
        return _shown(form, order)
    if not form.validate():
        return _shown(form, order, status=400)
    organisation_id = order.organisation_id if order else int(form.holder.data)
    texts = form.texts(order.texts.key if order else "")
    mark = form.mark(texts, organisation_id)
    given = store.viewer(), organisation_id, texts
    version = form.known_revision
    try:
        if form.shown.data == mark:
            with store.writing() as session:
                saved = record_order(session, *given, version=version, on=store.today())
            flash(saved_message(saved), "success")
            return redirect(url_for("orders.show", order_id=saved.id))
        with store.reading() as session:
            moves = moves_of_order(session, *given, version=version)
    except InputError as error:
        form.refuse(error.problems)
        return _shown(form, order, status=400)
    except StaleError as error:
        stored = OrderForm.filled(error.stored, formdata=None)
        stored.keep()
        form.overtaken_by(stored, error.revision)
        return _shown(form, order, status=409)
    return _shown(form, order, moves=moves, mark=mark)


def _shown(
    form: OrderForm,
    order: EditableOrder | None,
    *,
    moves: Moves | None = None,
    mark: str = "",
    status: int = 200,
) -> tuple[str, int]:
    form.show_again(mark)
    return render_template("orders/form.html", form=form, order=order, moves=moves), status
