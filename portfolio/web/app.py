"""Puts the web application together: settings, store, safety, error pages, blueprints."""

from __future__ import annotations

from collections.abc import Callable
from datetime import date

from flask import Blueprint, Flask
from flask_wtf import CSRFProtect

from portfolio.db.session import database_url as default_database_url
from portfolio.domain.caution import CAUTION
from portfolio.drawings.marks import answer_mark
from portfolio.paths import templates_dir
from portfolio.web import (
    buildings_list,
    config,
    demand,
    details,
    errors,
    gaps,
    overview,
    security,
    static_files,
    store,
    words,
)


def create_app(database_url: str | None = None, *, today: Callable[[], date] = date.today) -> Flask:
    """The application over one database; `today` is the only clock that the pages read."""
    url = database_url or default_database_url()
    app = Flask("portfolio.web", template_folder=str(templates_dir()), static_folder="static")
    app.config.from_mapping(config.settings(url))
    app.jinja_env.trim_blocks = True
    app.jinja_env.lstrip_blocks = True
    app.jinja_env.globals.update(
        caution=CAUTION, answer_mark=answer_mark, coverage_mark=words.coverage_mark
    )
    app.jinja_env.filters.update(
        amount=words.amount, day=words.day, metres=words.metres, titles=words.titles
    )
    store.attach(app, url, today)
    static_files.attach(app)
    security.attach(app)
    CSRFProtect(app)
    errors.attach(app)
    for blueprint in _blueprints():
        app.register_blueprint(blueprint)
    return app


def _blueprints() -> tuple[Blueprint, ...]:
    return (
        overview.blueprint,
        buildings_list.blueprint,
        gaps.blueprint,
        demand.blueprint,
        *details.blueprints,
    )
