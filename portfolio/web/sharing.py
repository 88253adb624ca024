"""What an owner opens to others, and what is open to those others."""

from __future__ import annotations

from flask import Blueprint, flash, redirect, render_template, request, url_for
from flask.typing import ResponseReturnValue

from portfolio.db.models import OrganisationKind
from portfolio.domain.anonymity import owners_in_words
from portfolio.domain.errors import InputError, NotFoundError
from portfolio.services import sharing as service
from portfolio.services import sharing_lists as lists
from portfolio.web import accounts_guard, store
from portfolio.web.accounts_forms import ACCESSES, MOST_CHOSEN, GrantForm, chosen_ids
from portfolio.web.paging import paging_of, wanted_page

blueprint = Blueprint("sharing", __name__, url_prefix="/sharing")

MOST_SHOWN = 50


@blueprint.get("")
def index() -> ResponseReturnValue:
    """Of an owner, what it opened; of others, what is open to them."""
    return _given() if _kind() == OrganisationKind.OWNER else _open_to_us()


def _given() -> str:
    page = wanted_page()
    with store.reading() as session:
        viewer = store.viewer()
        found = lists.grants_given(session, viewer, limit=page.size, offset=page.offset)
        shares = lists.demand_shares(session, viewer)
        laboratories = lists.partners(session, viewer, OrganisationKind.LABORATORY)
    return render_template(
        "accounts/sharing.html",
        found=found,
        states={row.id: lists.state_of(row, store.today()) for row in found.rows},
        accesses=dict(ACCESSES),
        paging=paging_of(page, found.total),
        shares=shares,
        laboratories=laboratories,
    )


def _open_to_us() -> str:
    with store.reading() as session:
        rows = lists.open_to_us(session, store.viewer(), store.today())
        owners = lists.owners_sharing_demand(session, store.viewer())
    is_laboratory = _kind() == OrganisationKind.LABORATORY
    return render_template(
        "accounts/open_to_us.html",
        rows=rows,
        accesses=dict(ACCESSES),
        owners=owners_in_words(owners) if owners else "none",
        is_laboratory=is_laboratory,
    )


@blueprint.route("/buildings", methods=["GET", "POST"])
def new() -> ResponseReturnValue:
    """Choose buildings, search after search, and open them to a consultancy."""
    with store.reading() as session:
        kind = OrganisationKind.CONSULTANCY
        partners = lists.partners(session, store.viewer(), kind)
    form, chosen = GrantForm.with_partners(partners, store.today()), chosen_ids()
    asked = request.form.get("find", "")
    if request.method == "POST" and not asked and form.validate() and _granted(form, chosen):
        return redirect(url_for("sharing.index"))
    found = _choice(form.text.data or "", chosen, choose_all=asked == "all")
    status = 400 if form.told_errors else 200
    return render_template("accounts/sharing_new.html", form=form, found=found), status


def _choice(text: str, chosen: list[int], *, choose_all: bool) -> lists.Choice:
    with store.reading() as session:
        viewer = store.viewer()
        if choose_all:
            chosen = [*chosen, *lists.matching_buildings(session, viewer, text)][:MOST_CHOSEN]
        return lists.choose_buildings(session, viewer, text, chosen, limit=MOST_SHOWN)


def _granted(form: GrantForm, chosen: list[int]) -> bool:
    try:
        with store.writing() as session:
            opened = service.grant(session, store.viewer(), form.wanted(chosen))
    except InputError as error:
        form.refuse(error.problems)
        return False
    what = "1 building is" if opened == 1 else f"{opened} buildings are"
    flash(f"{what} opened to {form.consultancy.data}.", "success")
    return True


@blueprint.post("/buildings/<int:grant_id>/take-back")
def take_back(grant_id: int) -> ResponseReturnValue:
    """Take one grant back at once."""
    with store.writing() as session:
        row = service.take_back(session, store.viewer(), grant_id, store.now())
        what = f"{row.building.ref} is taken back from {row.organisation.name}"
    return _back(f"{what}. If another grant of it is in force, that one still counts.")


@blueprint.post("/consultancies/<ref>/take-back")
def take_all_back(ref: str) -> ResponseReturnValue:
    """Take everything back from a consultancy at once."""
    with store.writing() as session:
        ended = service.take_all_back(session, store.viewer(), ref, store.now())
    return _back(f"Nothing is open to {ref} any more: {ended} grants are taken back.")


@blueprint.post("/demand")
def share_demand() -> ResponseReturnValue:
    """Let a laboratory see this owner's demand."""
    ref, is_named = request.form.get("laboratory", ""), request.form.get("named") == "yes"
    with store.writing() as session:
        viewer, on = store.viewer(), store.today()
        service.share_demand(session, viewer, ref, is_named=is_named, on=on)
    return _back(f"{ref} sees your demand {'with' if is_named else 'without'} your name.")


@blueprint.get("/preview/<ref>")
def preview(ref: str) -> ResponseReturnValue:
    """Exactly what a laboratory sees of this owner, or would see."""
    with store.reading() as session:
        found = lists.preview(session, store.viewer(), ref, store.today())
    return render_template("accounts/preview.html", found=found, ref=ref)


@blueprint.get("/preview/<ref>/<key>")
def preview_group(ref: str, key: str) -> ResponseReturnValue:
    """Exactly what a laboratory sees, or would see, of this owner's part of one group."""
    with store.reading() as session:
        found = lists.preview_group(session, store.viewer(), ref, key, store.today())
    return render_template("accounts/preview_group.html", found=found, ref=ref)


@blueprint.post("/demand/<int:share_id>/stop")
def stop_sharing_demand(share_id: int) -> ResponseReturnValue:
    """Stop letting a laboratory see it, at once."""
    with store.writing() as session:
        service.stop_sharing_demand(session, store.viewer(), share_id)
    return _back("The laboratory no longer sees your demand.")


def _kind() -> OrganisationKind:
    found = accounts_guard.signed_in()
    if found is None:
        raise NotFoundError("Nothing is shared where nobody signs in.")
    return found.person.organisation.kind


def _back(message: str) -> ResponseReturnValue:
    flash(message, "success")
    return redirect(url_for("sharing.index"))
