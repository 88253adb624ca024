"""Options that several reading commands share."""

from __future__ import annotations

import click

owner_option = click.option("--owner", default="", help="Only this owner (its reference).")
as_option = click.option(
    "--as", "as_person", default="", metavar="EMAIL", help="See what this person sees."
)
