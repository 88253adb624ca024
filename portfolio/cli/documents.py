"""Documents from the shell: added, and their files checked."""

from __future__ import annotations

from datetime import datetime
from pathlib import Path

import click

from portfolio.cli.options import owner_option
from portfolio.cli.output import json_option, print_json
from portfolio.cli.store import check_owner, open_store, today
from portfolio.db.session import reading, writing
from portfolio.domain.documents import LONGEST_REFERENCE, DocumentKind, SeenBy
from portfolio.domain.errors import InputError
from portfolio.services.documents.adding import (
    Added,
    DocumentFacts,
    GivenContent,
    add_document,
)
from portfolio.services.documents.contents import contents_for
from portfolio.services.documents.naming import fact_named
from portfolio.services.documents.verifying import Verified, verify_documents
from portfolio.services.viewer import LOCAL


@click.group()
def documents() -> None:
    """Documents that support facts, kept by content."""


@documents.command("add")
@click.argument("file", type=click.Path(exists=True, dir_okay=False, path_type=Path))
@click.option("--kind", type=click.Choice([k.value for k in DocumentKind]), default="other")
@click.option(
    "--supports",
    required=True,
    help="BUILDING, BUILDING/ZONE/SURVEY, test:REF or certificate:REF.",
)
@click.option("--layer", type=click.IntRange(min=1), help="Of a survey or test: only this layer.")
@click.option("--reference", default="")
@click.option("--date", "on", type=click.DateTime(["%Y-%m-%d"]), help="The day that it bears.")
@click.option("--shown", is_flag=True, help="Also to whoever may see what it supports.")
@owner_option
@json_option
def add(
    file: Path,
    *,
    kind: str,
    supports: str,
    layer: int | None,
    reference: str,
    on: datetime | None,
    shown: bool,
    owner: str,
    as_json: bool,
) -> None:
    """Keep FILE as a document of the owner of what it supports."""
    facts = DocumentFacts(
        DocumentKind(kind),
        reference,
        on.date() if on else None,
        SeenBy.WITH_FACT if shown else SeenBy.OWN,
    )
    if len(reference) > LONGEST_REFERENCE:
        raise InputError(f"A reference has at most {LONGEST_REFERENCE} characters.")
    engine = open_store()
    with writing(engine) as session:
        check_owner(session, owner)
        fact = fact_named(session, supports, layer or 0, owner)
        added = add_document(
            session,
            LOCAL,
            contents_for(engine),
            GivenContent(file.name, file.read_bytes()),
            facts=facts,
            supports=[fact],
            on=today(),
        )
    if as_json:
        told = {"id": added.id, "name": added.name, "was_held": added.was_held}
        print_json(told | {"seen_by": added.seen_by.value})
        return
    held = ", which was held already" if added.was_held else ""
    click.echo(
        f"Document {added.id}, {added.name}{held}, supports {supports}.{_seen(added, facts)}"
    )


def _seen(added: Added, facts: DocumentFacts) -> str:
    """Who may see a document that was held before, where that is not what was asked for or was."""
    if added.was_narrowed:
        return " Only its organisation may see it from now on, also where it was shown before."
    if added.seen_by is not facts.seen_by:
        return " It stays for its organisation only, as was said of it first."
    return ""


@documents.command("verify")
@json_option
@click.pass_context
def verify(context: click.Context, *, as_json: bool) -> None:
    """Read every document's file; exit status 1 when one is missing or damaged."""
    engine = open_store()
    with reading(engine) as session:
        found = verify_documents(session, contents_for(engine))
    if as_json:
        print_json(_told(found))
    else:
        for line in _lines(found):
            click.echo(line)
    if found.faults:
        context.exit(1)


def _told(found: Verified) -> dict[str, object]:
    return {
        "documents": found.documents,
        "files": found.files,
        "faults": [
            {
                "sha256": fault.sha256,
                "state": fault.state.value,
                "documents": [{"id": number, "name": name} for number, name in fault.documents],
            }
            for fault in found.faults
        ],
        "strays": list(found.strays),
    }


def _lines(found: Verified) -> list[str]:
    lines = [
        f"Document {number}, {name}: its file {fault.sha256} is {fault.state.value}."
        for fault in found.faults
        for number, name in fault.documents
    ]
    lines += [f"No document refers to the file {name}." for name in found.strays]
    whole = found.files - len(found.faults)
    lines.append(f"{found.documents} documents, {whole} of {found.files} files whole.")
    return lines
