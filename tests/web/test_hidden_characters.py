"""Forms refuse references that look like others, at the field and by the character's code."""

import pytest
import sqlalchemy as sa
from flask import Flask
from flask.testing import FlaskClient

from portfolio.db.models import Building, TestRecord
from portfolio.web import store
from tests.web.reading import Page
from tests.web.sending import send, send_files

CODES = ["\u200b", "\u202e", "\u2067", "\u00ad", "\u2003", "\ue000"]


def _addresses(app: Flask) -> dict[str, str]:
    with app.app_context(), store.reading() as session:
        tall = session.scalars(sa.select(Building).filter_by(ref="TALL")).one()
        test = session.scalars(sa.select(TestRecord).filter_by(ref="T-PASS")).one()
        return {
            "building": "/buildings/new",
            "zone": f"/buildings/{tall.id}/zones/new",
            "survey": f"/zones/{tall.zones[0].id}/surveys/new",
            "test": "/tests/new",
            "certificate": "/certificates/new",
            "consent": f"/tests/{test.id}/consents",
            "standing": f"/tests/{test.id}/standing",
        }


@pytest.mark.parametrize("hidden", CODES)
@pytest.mark.parametrize(
    ("page", "field"),
    [
        ("building", "ref"),
        ("zone", "ref"),
        ("survey", "ref"),
        ("test", "ref"),
        ("test", "leans_on"),
        ("certificate", "ref"),
        ("certificate", "product"),
        ("consent", "organisation"),
        ("standing", "superseded_by"),
    ],
)
def test_a_reference_with_a_hidden_character_is_refused_at_its_field(
    app: Flask, client: FlaskClient, page: str, field: str, hidden: str
) -> None:
    answer = send(client, _addresses(app)[page], **{field: f"X{hidden}1"})
    assert answer.status_code == 400
    assert f"U+{ord(hidden):04X}" in Page(answer.text).text("main")


@pytest.mark.parametrize(
    ("name", "status"),
    [("House\u202e 3", 400), ("House\u2066 3", 400), ("House\u200d 3", 302), ("Haus Süd", 302)],
)
def test_another_text_is_refused_only_where_it_would_be_read_in_another_order(
    app: Flask, client: FlaskClient, name: str, status: int
) -> None:
    answer = send(client, "/buildings/new", ref="NEW", name=name)
    assert answer.status_code == status


def test_a_layers_product_hides_nothing(app: Flask, client: FlaskClient) -> None:
    layer = {"layers__0__role": "insulation", "layers__0__product": "Board\u200b 7"}
    answer = send(client, "/tests/new", ref="T-NEW", **layer)
    assert answer.status_code == 400
    assert "U+200B, zero width space" in Page(answer.text).text("main")


def test_the_preview_of_an_upload_shows_what_is_hidden(app: Flask, client: FlaskClient) -> None:
    content = "owner,building\nnorth,B\u202e-1\n".encode()
    sent = send_files(client, [(content, "buildings.csv")])
    text = Page(client.get(sent.location).text).text("main")
    assert "B[U+202E]-1" in text
    assert "\u202e" not in text
