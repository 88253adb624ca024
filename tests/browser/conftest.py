"""The application served for real, so that a browser can look at it."""

import threading
from collections.abc import Iterator
from typing import Any

import pytest
from werkzeug.serving import WSGIRequestHandler, make_server

from portfolio.db.models import Decision
from portfolio.web import create_app, store
from tests.web.portfolios import ON, Portfolio, fill_one_of_each, filling, wall


class _Silent(WSGIRequestHandler):
    def log(self, *_: Any, **__: Any) -> None:
        """The log of requests would only hide what a test says."""


@pytest.fixture
def address(sqlite_url: str) -> Iterator[str]:
    """Where the application listens, over a portfolio with long names and many gaps."""
    with filling(sqlite_url) as portfolio:
        fill_one_of_each(portfolio)
        _add_long_names(portfolio)
    app = create_app(sqlite_url, today=lambda: ON, local=True)
    server = make_server("127.0.0.1", 0, app, threaded=True, request_handler=_Silent)
    thread = threading.Thread(target=server.serve_forever, daemon=True)
    thread.start()
    try:
        yield f"http://127.0.0.1:{server.port}"
    finally:
        server.shutdown()
        thread.join()
        server.server_close()
        with app.app_context():
            store.engine().dispose()


def _add_long_names(portfolio: Portfolio) -> None:
    owner = portfolio.organisation(name="A Housing Association with a Long Name")
    for number in range(12):
        name = "Unbreakable" * 6 if number == 0 else "The Old Corn Exchange and Annexe"
        building = portfolio.building(owner, name=name, address="1 Long Street, Somewhere Far")
        portfolio.zone(building, description="spandrels below windows, courtyard side " * 3)
        portfolio.zone(building, wall=wall(facing__material="timber", cavity__depth="25-60"))
        portfolio.zone(building, wall=None)
    # what it rested on was something else in all, so that everything has changed since
    portfolio.session.add(
        Decision(
            zone_id=1,
            ruling="A ruling that is as long as engineers write them. " * 12,
            by="An Engineer with a Long Name",
            qualification="chartered fire engineer",
            on=ON,
            valid_until=ON,
            reasons="Unbreakable" * 8,
            rested_on={"coverage": "something else", "use of the building": "Unbreakable" * 8},
        )
    )
