"""Runs the migrations on the database that the caller names."""

from __future__ import annotations

from alembic import context

from portfolio.db import (  # noqa: F401  (they fill the metadata)
    certificates,
    documents,
    life,
    log_readings,
    models,
    orders,
    people,
    progress,
    results,
    rulings,
    works,
)
from portfolio.db.base import Base
from portfolio.db.session import database_url, engine_for


def run() -> None:
    url = context.config.attributes.get("url") or database_url()
    engine = engine_for(url).execution_options(writes=True)
    with engine.connect() as connection:
        context.configure(
            connection=connection,
            target_metadata=Base.metadata,
            render_as_batch=True,
            compare_type=True,
        )
        with context.begin_transaction():
            context.run_migrations()
        connection.commit()
    engine.dispose()


run()
