"""The files of documents, checked from the shell."""

from __future__ import annotations

import click

from portfolio.cli.output import json_option, print_json
from portfolio.cli.store import open_store
from portfolio.db.session import reading
from portfolio.services.documents.contents import contents_for
from portfolio.services.documents.verifying import Verified, verify_documents


@click.group()
def documents() -> None:
    """Documents that support facts, kept by content."""


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
