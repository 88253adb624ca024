"""Serves the pages."""

from __future__ import annotations

import click

from portfolio.cli.store import open_store
from portfolio.db.session import database_url


@click.command()
@click.option("--host", default="127.0.0.1", show_default=True)
@click.option("--port", type=click.IntRange(1, 65535), default=8000, show_default=True)
def serve(host: str, port: int) -> None:
    """Serve the pages of this database until stopped."""
    open_store().dispose()
    serve_pages(database_url(), host, port)


def serve_pages(url: str, host: str, port: int) -> None:
    """Serve the pages of the database at `url` until stopped."""
    import waitress

    from portfolio.web import create_app

    click.echo(f"Pages: http://{host}:{port}/  (stop with Ctrl+C)")
    waitress.serve(create_app(url), host=host, port=port, threads=8)
