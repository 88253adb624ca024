"""Uploads: a preview that says what would change, and then all of it or nothing."""

from pathlib import Path

import pytest
import sqlalchemy as sa
from flask import Flask
from flask.testing import FlaskClient

from portfolio.db import models
from portfolio.services.viewer import Viewer
from portfolio.web import store
from portfolio.web.kept_uploads import KeptUploads
from tests.web.reading import Page, rows
from tests.web.sending import send, send_files, values_of

NEW = b"Owner,Building,Name,Homes\nnorth,NEW,New House,12\nnorth,TALL,Taller House,10\n"
WRONG = b"Owner,Building,Homes\nnorth,NEW,many\nnobody,X,3\n"


def _names(app: Flask) -> dict[str, str]:
    with app.app_context(), store.reading() as session:
        return {row.ref: row.name for row in session.scalars(sa.select(models.Building))}


def _kept(database_url: str) -> list[Path]:
    folder = Path(database_url.removeprefix("sqlite:///") + ".uploads")
    return list(folder.iterdir()) if folder.exists() else []


def _preview(client: FlaskClient, content: bytes) -> str:
    answer = send_files(client, [(content, "buildings.csv")])
    assert answer.status_code == 302
    return answer.location


def test_the_preview_tells_new_from_changed_and_saves_nothing(
    app: Flask, client: FlaskClient
) -> None:
    found = rows(client.get(_preview(client, NEW)).text)
    assert ["building", "1", "1", "0"] in found
    assert ["building", "NEW", "new", ""] in found
    changed = next(row for row in found if row[:2] == ["building", "TALL"])
    assert changed[3] == "name: Tall House → becomes Taller House"
    assert "NEW" not in _names(app)


def test_what_was_shown_is_saved_and_the_file_deleted(
    app: Flask, client: FlaskClient, database_url: str
) -> None:
    address = _preview(client, NEW)
    assert len(_kept(database_url)) == 1
    answer = client.post(address, data=values_of(client.get(address).text))
    assert answer.status_code == 302
    names = _names(app)
    assert (names["NEW"], names["TALL"]) == ("New House", "Taller House")
    assert _kept(database_url) == []
    assert client.get(address).status_code == 404


def test_it_is_refused_when_something_else_would_change_now(
    app: Flask, client: FlaskClient
) -> None:
    address = _preview(client, NEW)
    shown = values_of(client.get(address).text)
    with app.app_context(), store.reading() as session:
        tall = session.scalars(sa.select(models.Building).filter_by(ref="TALL")).one().id
    send(client, f"/buildings/{tall}/edit", name="Tallest House")
    answer = client.post(address, data=shown)
    assert answer.status_code == 409
    assert "name: Tallest House → becomes Taller House" in Page(answer.text).text("main")
    assert _names(app)["TALL"] == "Tallest House"
    assert client.post(address, data=values_of(answer.text)).status_code == 302


def test_problems_name_their_place_and_forbid_saving(app: Flask, client: FlaskClient) -> None:
    address = _preview(client, WRONG)
    markup = client.get(address).text
    first = rows(markup.split('id="problems"')[1])[0]
    assert first[:1] + first[2:5] == ["buildings.csv", "2", "Homes", "many"]
    assert "Save all of this" not in markup
    token = values_of(markup)["csrf_token"]
    told = {"csrf_token": token, "fingerprint": "0" * 64}
    assert client.post(address, data=told).status_code in (400, 409)
    assert "NEW" not in _names(app)


def test_what_is_stored_already_needs_no_saving(app: Flask, client: FlaskClient) -> None:
    markup = client.get(_preview(client, b"Owner,Building\nnorth,TALL\n")).text
    assert "Everything in this upload is stored already" in markup
    assert "Save all of this" not in markup


@pytest.mark.parametrize(
    "given",
    [
        [],
        [(b"hello", "notes.txt")],
        [(b"not a workbook", "portfolio.xlsx")],
        [(b"a,b\n1,2\n", "strange.csv")],
    ],
)
def test_what_cannot_be_read_is_said_at_once(
    app: Flask, client: FlaskClient, database_url: str, given: list[tuple[bytes, str]]
) -> None:
    answer = send_files(client, given)
    assert answer.status_code == 400
    assert "Nothing has been changed." in answer.text
    assert _kept(database_url) == []


def test_the_browsers_file_name_is_never_a_path(
    app: Flask, client: FlaskClient, database_url: str
) -> None:
    answer = send_files(client, [(NEW, "../../../x/<b>buildings.csv")])
    assert answer.status_code == 400  # "<b>buildings" names no sheet
    answer = send_files(client, [(NEW, "files/buildings.csv")])
    assert answer.status_code == 302
    [place] = _kept(database_url)
    assert sorted(path.name for path in place.iterdir()) == ["0", "about.json"]
    assert place.stat().st_mode & 0o077 == 0


def test_an_upload_given_up_is_deleted(app: Flask, client: FlaskClient, database_url: str) -> None:
    address = _preview(client, NEW)
    token = values_of(client.get(address).text, 1)
    assert client.post(f"{address}/forget", data=token).status_code == 302
    assert _kept(database_url) == []


@pytest.mark.parametrize("token", ["0" * 48, "..", "about.json", "0" * 47 + "g"])
def test_a_token_that_was_never_given_is_not_found(
    app: Flask, client: FlaskClient, token: str
) -> None:
    assert client.get(f"/upload/{token}").status_code == 404


def test_anothers_upload_is_not_found(
    app: Flask, client: FlaskClient, monkeypatch: pytest.MonkeyPatch
) -> None:
    address = _preview(client, NEW)
    monkeypatch.setattr(store, "viewer", lambda: Viewer("someone", 1))
    assert client.get(address).status_code == 404


def test_what_nobody_came_back_for_is_cleared_away(tmp_path: Path) -> None:
    import os

    kept = KeptUploads(tmp_path)
    old = kept.keep(Viewer("a"), [])
    os.utime(tmp_path / old, (0, 0))
    new = kept.keep(Viewer("a"), [])
    assert [path.name for path in tmp_path.iterdir()] == [new]


def test_the_template_is_a_workbook(app: Flask, client: FlaskClient) -> None:
    assert client.get("/template.xlsx").data.startswith(b"PK")
