"""Puts the web application together: settings, store, safety, error pages, blueprints."""

from __future__ import annotations

from collections.abc import Callable
from datetime import UTC, date, datetime
from typing import Any

from flask import Blueprint, Flask
from flask_wtf import CSRFProtect
from werkzeug.middleware.proxy_fix import ProxyFix
from werkzeug.routing import IntegerConverter

from portfolio.db.session import database_url as default_database_url
from portfolio.domain.caution import CAUTION
from portfolio.domain.works_money import money_text
from portfolio.drawings.marks import answer_mark
from portfolio.paths import templates_dir
from portfolio.services.orders.words import telling_in_words
from portfolio.web import (
    accounts,
    accounts_guard,
    buildings_list,
    config,
    demand,
    details,
    errors,
    find_out,
    gaps,
    overview,
    progress,
    renewal,
    security,
    static_files,
    store,
    tables,
    words,
)

_LARGEST_ID = 2**31 - 1


class _StoredNumber(IntegerConverter):
    """A number in an address, as large as the store may hold; a larger one leads nowhere."""

    def __init__(self, *given: Any, **more: Any) -> None:
        super().__init__(*given, **{"max": _LARGEST_ID} | more)


def _utc_now() -> datetime:
    return datetime.now(UTC)


def create_app(
    database_url: str | None = None,
    *,
    today: Callable[[], date] = date.today,
    now: Callable[[], datetime] = _utc_now,
    local: bool = False,
) -> Flask:
    """The application over one database; `today` and `now` are the only clocks that it reads.

    Everybody has to sign in, unless it is `local`: then whoever reaches it sees and does all.
    """
    url = database_url or default_database_url()
    app = Flask("portfolio.web", template_folder=str(templates_dir()), static_folder="static")
    app.config.from_mapping(config.settings(url))
    app.url_map.converters["int"] = _StoredNumber
    _prepare_templates(app)
    store.attach(app, url, today=today, now=now, is_local=local)
    static_files.attach(app)
    security.attach(app)
    # before the check of forms: who is signed out is told so, whatever they sent
    accounts_guard.attach(app)
    CSRFProtect(app)
    renewal.attach(app)
    errors.attach(app)
    for blueprint in _blueprints():
        app.register_blueprint(blueprint)
    if proxies := app.config[config.PROXIES_VARIABLE]:
        app.wsgi_app = ProxyFix(app.wsgi_app, x_for=proxies, x_proto=proxies, x_host=0)  # type: ignore[method-assign]
    return app


def _prepare_templates(app: Flask) -> None:
    app.jinja_env.trim_blocks = True
    app.jinja_env.lstrip_blocks = True
    app.jinja_env.globals.update(
        caution=CAUTION,
        answer_mark=answer_mark,
        coverage_mark=words.coverage_mark,
        viewer=store.viewer,
    )
    app.jinja_env.filters.update(
        telling=telling_in_words,
        amount=words.amount,
        day=words.day,
        metres=words.metres,
        money=money_text,
        row_by_row=tables.row_by_row,
        titles=words.titles,
    )


def _blueprints() -> tuple[Blueprint, ...]:
    return (
        overview.blueprint,
        buildings_list.blueprint,
        gaps.blueprint,
        find_out.blueprint,
        demand.blueprint,
        progress.blueprint,
        *details.blueprints,
        *accounts.blueprints,
    )
