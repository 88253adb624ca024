"""Counting what is asked of the store."""

from collections.abc import Iterator
from contextlib import contextmanager

import sqlalchemy as sa
from flask import Flask

from portfolio.web import store


@contextmanager
def counted(app: Flask) -> Iterator[list[str]]:
    """Every statement that the application sends while the block lasts."""
    statements: list[str] = []
    with app.app_context():
        engine = store.engine()
    # what the first request of a day asks once is not what a page costs
    app.test_client().get("/nowhere")

    def note(_c: object, _cursor: object, statement: str, *_rest: object) -> None:
        statements.append(statement)

    sa.event.listen(engine, "before_cursor_execute", note)
    try:
        yield statements
    finally:
        sa.event.remove(engine, "before_cursor_execute", note)
