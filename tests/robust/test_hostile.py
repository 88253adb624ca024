"""Whatever is sent to any page: the program answers with a page of its own and never fails."""

import io
import re
import zipfile
from collections.abc import Iterator
from contextlib import contextmanager
from functools import cache
from typing import Any
from urllib.parse import quote, urlencode, urlsplit

import hypothesis
import pytest
from flask import Flask
from flask.testing import FlaskClient
from hypothesis import strategies as st
from werkzeug.routing import Rule
from werkzeug.test import TestResponse

from portfolio.db.changelog import broken_at
from portfolio.db.models import Organisation
from portfolio.web import create_app, store
from tests.robust import hostile
from tests.sheets.support import workbook
from tests.web.accounts import NOON, fill_people, signed_in
from tests.web.portfolios import ON, fill_one_of_each, filling
from tests.web.sending import send, send_files, values_of

EXAMPLES = 60
_TRACE = re.compile(r"Traceback \(most recent|File \"/|sqlalchemy\.|psycopg\.|sqlite3\.|werkzeug\.")
# would mean that the mark of our forms was missing, and that nothing was tried
_NOT_OURS = "The form was not accepted"
_FEW = hypothesis.settings(
    max_examples=EXAMPLES,
    suppress_health_check=[
        hypothesis.HealthCheck.function_scoped_fixture,
        hypothesis.HealthCheck.too_slow,
        hypothesis.HealthCheck.data_too_large,
    ],
)
LISTS = ("page", "size", "format", "table", "text")
# what each page reads of its query
QUERIES = {
    "overview.index": ("format", "table"),
    "buildings_list.index": (*LISTS, "owner", "use", "sort"),
    "gaps.index": (*LISTS, "owner", "coverage"),
    "demand.index": (*LISTS, "owner"),
    "evidence.index": (*LISTS, "sort"),
    "log.index": (*LISTS, "subject", "actor", "from_day", "until_day"),
    "zone.show": ("format", "test", "all"),
    "looking_back.show": ("day",),
    "looking_back.pack": ("day",),
    "signing_in.sign_in": ("next",),
    "sharing.index": ("page", "size"),
}
LOCAL, NOBODY = "whoever is at this machine", "nobody"
OWNER, LABORATORY = "administrator@north.test", "administrator@laboratory.test"
# what a page asks of the store does not depend on who is turned away before that
WHO = (
    *((who, "sqlite") for who in (LOCAL, NOBODY, LABORATORY)),
    *(pytest.param((who, "postgres"), marks=pytest.mark.postgres) for who in (LOCAL, OWNER)),
)


def _filled(database_url: str) -> str:
    """A database with something of everything, and people of every kind."""
    with filling(database_url) as portfolio:
        fill_one_of_each(portfolio)
        owners = portfolio.session.query(Organisation).all()
        fill_people(portfolio, {owner.ref: owner.id for owner in owners})
    return database_url


@contextmanager
def _serving(url: str, *, local: bool) -> Iterator[Flask]:
    """The application over a database; what fails is shown by the test and not by a page."""
    app = create_app(url, today=lambda: ON, now=lambda: NOON, local=local)
    app.testing = True
    try:
        yield app
    finally:
        with app.app_context():
            store.engine().dispose()


@pytest.fixture(params=WHO, ids=" on ".join)
def client(request: pytest.FixtureRequest) -> Iterator[FlaskClient]:
    """A browser of one who may see all, of nobody, or of somebody who signed in."""
    who, database = request.param
    url = _filled(request.getfixturevalue(f"{database}_url"))
    with _serving(url, local=who == LOCAL) as app:
        yield app.test_client() if who in (LOCAL, NOBODY) else signed_in(app, who)


@pytest.fixture(params=[LOCAL, OWNER])
def either_client(request: pytest.FixtureRequest, sqlite_url: str) -> Iterator[FlaskClient]:
    """One who may see all, or an owner: for what hardly reaches the store."""
    who = request.param
    with _serving(_filled(sqlite_url), local=who == LOCAL) as app:
        yield app.test_client() if who == LOCAL else signed_in(app, who)


@pytest.fixture
def local_client(database_url: str) -> Iterator[FlaskClient]:
    """A browser of one who may see all."""
    with _serving(_filled(database_url), local=True) as app:
        yield app.test_client()


@cache
def _rules(app: Flask) -> tuple[Rule, ...]:
    return tuple(sorted(app.url_map.iter_rules(), key=str))


def _spelled(text: str) -> str:
    """A value as an address has it; halves of letters as the bytes that some send for them."""
    return quote(text.encode("utf-8", "surrogatepass"), safe="")


def _address(rule: Rule, given: dict[str, str]) -> str:
    return re.sub(r"<(?:\w+:)?(\w+)>", lambda found: _spelled(given.get(found[1], "1")), str(rule))


def _fine(answer: TestResponse, *, asked: str) -> None:
    """Check that the program answered in its own words; called `asked` where not."""
    told = f"{asked[:300]!r} -> {answer.status_code}"
    assert answer.status_code < 500, told
    if answer.mimetype == "text/html":
        assert not _TRACE.search(answer.text), told
    assert _leads_home(answer.headers.get("Location", "/")), told


def _leads_home(address: str) -> bool:
    """Whether a redirect stays here, as browsers read it."""
    parts = urlsplit(address.replace("\\", "/"))
    return parts.scheme in ("", "http") and parts.netloc in ("", "localhost")


def _without_sign_out(rules: tuple[Rule, ...], method: str) -> list[Rule]:
    ending = ("signing_in.sign_out", "account.sign_out_everywhere")
    return [r for r in rules if method in (r.methods or ()) and r.endpoint not in ending]


def _share(client: FlaskClient) -> tuple[str, ...]:
    """Half of the values: the other half is for the other applications, to be done in time."""
    is_local = client.get("/people").status_code == 404
    return hostile.VALUES[is_local::2]


# --- Addresses -----------------------------------------------------------------------------------


def test_every_route_answers_every_hostile_address(client: FlaskClient) -> None:
    for rule in _rules(client.application):
        for value in hostile.VALUES if rule.arguments else ():
            address = _address(rule, dict.fromkeys(rule.arguments, value))
            _fine(client.get(address), asked=address)


def test_every_route_answers_odd_methods(either_client: FlaskClient) -> None:
    client = either_client
    for rule in _without_sign_out(_rules(client.application), "OPTIONS"):
        for method in ("HEAD", "PUT", "DELETE", "PATCH", "TRACE", "PROPFIND"):
            address = _address(rule, {})
            _fine(client.open(address, method=method), asked=f"{method} {address}")


@_FEW
@hypothesis.given(data=st.data())
def test_every_route_answers_hostile_queries(client: FlaskClient, data: st.DataObject) -> None:
    rule = data.draw(st.sampled_from(_without_sign_out(_rules(client.application), "GET")))
    pairs = data.draw(st.lists(st.tuples(hostile.names, hostile.values), max_size=3))
    ids = st.sampled_from("12345")
    given = {name: data.draw(ids | hostile.values) for name in sorted(rule.arguments)}
    query = urlencode([(key, value.encode("utf-8", "surrogatepass")) for key, value in pairs])
    address = f"{_address(rule, given)}?{query}"
    _fine(client.get(address), asked=address)


def test_every_page_answers_hostile_values_of_what_it_reads(client: FlaskClient) -> None:
    for rule in _without_sign_out(_rules(client.application), "GET"):
        for name in QUERIES.get(rule.endpoint, ()):
            for value in _share(client):
                address = f"{_address(rule, {})}?{name}={_spelled(value)}"
                _fine(client.get(address), asked=address)


def test_every_route_answers_a_broken_query(either_client: FlaskClient) -> None:
    client = either_client
    for rule in _without_sign_out(_rules(client.application), "GET"):
        for query in ("%", "%ff=%fe", "=", "&&&", "page=1&page=x", "?" * 99):
            address = f"{_address(rule, {})}?{query}"
            _fine(client.get(address), asked=address)


# --- Forms ---------------------------------------------------------------------------------------


def _token(client: FlaskClient) -> str:
    for page in ("/upload", "/sign-in", "/account"):
        answer = client.get(page)
        if answer.status_code == 200 and "csrf_token" in answer.text:
            return values_of(answer.text)["csrf_token"]
    raise AssertionError("there is no form to take the mark from")


def _form(client: FlaskClient, address: str) -> dict[str, str]:
    """What the form at an address would send as it stands, where there is one."""
    answer = client.get(address)
    if answer.status_code != 200 or 'method="post"' not in answer.text.casefold():
        return {}
    try:
        return values_of(answer.text)
    except IndexError:  # only the button that signs out
        return {}


_FIELDS = st.sampled_from(
    ["role", "building", "laboratory", "named", "fingerprint", "find", "email", "revision", "more"]
)


@_FEW
@hypothesis.given(data=st.data())
def test_every_form_answers_hostile_fields(client: FlaskClient, data: st.DataObject) -> None:
    rules = _without_sign_out(_rules(client.application), "POST")
    rule = data.draw(st.sampled_from(rules))
    ids = st.sampled_from("12345")
    given = {name: data.draw(ids | hostile.values) for name in sorted(rule.arguments)}
    address = _address(rule, given)
    form: dict[str, Any] = _form(client, address)
    fields = st.sampled_from(sorted(form)) if form else _FIELDS
    for _ in range(data.draw(st.integers(1, 4))):
        name = data.draw(fields | _FIELDS)
        # twice the same name: lists where one value is expected
        form[name] = data.draw(st.lists(hostile.values, max_size=2))
    form["csrf_token"] = _token(client)
    body = urlencode(
        [
            (name, text.encode("utf-8", "surrogatepass"))
            for name, texts in form.items()
            for text in ([texts] if isinstance(texts, str) else texts)
        ]
    )
    kind = "application/x-www-form-urlencoded"
    answer = client.post(address, data=body, content_type=kind)
    _fine(answer, asked=f"{address} {body}")
    assert _NOT_OURS not in answer.text


def test_every_field_of_every_form_answers_every_hostile_value(client: FlaskClient) -> None:
    """One value in all fields at once: what reads one may not count on what reads another."""
    ids = {"building_id": "1", "zone_id": "1", "test_id": "1", "token": "0" * 48}
    for rule in _without_sign_out(_rules(client.application), "POST"):
        address = _address(rule, ids)
        form, token = _form(client, address), _token(client)
        for value in _share(client)[:: 1 if form else 4]:
            text = value.encode("utf-8", "surrogatepass")
            fields = dict.fromkeys(form or ("role", "building", "laboratory", "find"), text)
            body = urlencode(fields | {"csrf_token": token})
            kind = "application/x-www-form-urlencoded"
            answer = client.post(address, data=body, content_type=kind)
            _fine(answer, asked=f"{address} {value}")
            assert _NOT_OURS not in answer.text
    with client.application.app_context(), store.reading() as session:
        assert broken_at(session) is None


@pytest.mark.parametrize(
    ("kind", "body"),
    [
        ("application/json", b'{"a": [1, {"b": null}]}'),
        ("application/json", b"[[[["),
        ("multipart/form-data", b"no boundary"),
        (
            "multipart/form-data; boundary=x",
            b"--x\r\nContent-Disposition: form-data\r\n\r\n\r\n--x",
        ),
        ("multipart/form-data; boundary=x", b"--x\r\nContent-Disp"),
        ("application/x-www-form-urlencoded", b"a=1&" * 3_000),
        ("text/xml", b"<a/>"),
        ("", b"\xff\xfe"),
    ],
)
def test_every_form_answers_a_body_of_another_kind(
    either_client: FlaskClient, kind: str, body: bytes
) -> None:
    client = either_client
    for rule in _without_sign_out(_rules(client.application), "POST"):
        address = _address(rule, {})
        headers = {"X-CSRFToken": _token(client)}
        _fine(client.post(address, data=body, content_type=kind, headers=headers), asked=address)


@pytest.mark.parametrize(
    "header", ["Cookie", "Accept-Language", "X-Forwarded-For", "Range", "If-Modified-Since", "Host"]
)
def test_hostile_headers_are_answered(either_client: FlaskClient, header: str) -> None:
    client = either_client
    for value in hostile.VALUES:
        if value.isascii() and value.isprintable():
            answer = client.get("/", headers={header: value})
            assert answer.status_code < 500, value


def test_a_layer_that_loses_its_role_is_told_at_its_row(local_client: FlaskClient) -> None:
    answer = send(local_client, "/zones/1/surveys/new", layers__2__role="")
    assert answer.status_code == 400
    assert "not what the layer does in the wall" in answer.text
    assert "There is no layer" not in answer.text


# --- Files ---------------------------------------------------------------------------------------


def _zip(*parts: tuple[str, bytes]) -> bytes:
    stream = io.BytesIO()
    with zipfile.ZipFile(stream, "w", zipfile.ZIP_DEFLATED) as archive:
        for name, content in parts:
            archive.writestr(name, content)
    return stream.getvalue()


_ENTITY = (
    b'<?xml version="1.0"?><!DOCTYPE a [<!ENTITY x SYSTEM "file:///etc/hostname">'
    b'<!ENTITY y "' + b"ha" * 1000 + b'"><!ENTITY z "&y;&y;&y;&y;&y;&y;&y;&y;">]>'
    b"<workbook><sheets>&x;&z;&z;&z;</sheets></workbook>"
)
FORMULAS = workbook(
    {
        "Buildings": [
            ["Owner", "Building", "Name", "Homes", "Note"],
            ["north", "=cmd|'/c calc'!A0", "@SUM(1)", "=1/0", "+1"],
            ["north", "\t=1", "-1", "#REF!", '=HYPERLINK("https://elsewhere.test")'],
        ]
    }
).content
_HEAD = b"Owner,Building,Name\n"
FILES: dict[str, tuple[bytes, str]] = {
    "empty": (b"", "buildings.csv"),
    "empty workbook": (b"", "a.xlsx"),
    "a page as a workbook": (b"<html><script>alert(1)</script></html>", "a.xlsx"),
    "a page": (b"<html><script>alert(1)</script></html>", "a.html"),
    "a page as rows": (b"<html><script>alert(1)</script></html>", "buildings.csv"),
    "a program": (b"\x7fELF" + bytes(99), "buildings.csv"),
    "no workbook in it": (_zip(("hello", b"x")), "a.xlsx"),
    "a small bomb": (_zip(("xl/workbook.xml", bytes(25_000_000))), "a.xlsx"),
    "a path out": (_zip(("../../evil", b"x"), ("xl/workbook.xml", b"<a/>")), "a.xlsx"),
    "entities": (_zip(("xl/workbook.xml", _ENTITY)), "a.xlsx"),
    "a workbook as rows": (FORMULAS, "buildings.csv"),
    "formulas": (FORMULAS, "a.xlsx"),
    "formulas as rows": (_HEAD + b'north,"=1+1",\'@x\nnorth,-5,+7\n', "buildings.csv"),
    "half a workbook": (FORMULAS[: len(FORMULAS) // 2], "a.xlsx"),
    "no text": (_HEAD + b"north,\x00,\xff\xfe\n", "buildings.csv"),
    "a zero": (_HEAD + b"north,a\x00b,c\n", "buildings.csv"),
    "odd letters": (_HEAD + "north,B\ufffe,\u202ex\x1b\n".encode(), "buildings.csv"),
    "half a letter": (_HEAD + b"north,\xed\xa0\x80,x\n", "buildings.csv"),
    "an open quotation": (_HEAD + b'north,"x\n', "buildings.csv"),
    "one endless cell": (_HEAD + b"north,x," + b"y" * 500_000 + b"\n", "buildings.csv"),
    "twice the header": (b"Owner,Owner,Building,Building\nnorth,a,b,c\n", "buildings.csv"),
    "numbers": (b"Owner,Building,Homes\nnorth,N,99999999999999999999\n", "buildings.csv"),
    "a way out": (_HEAD + b"north,N,x\n", "../../../tmp/buildings.csv"),
    "a way out on another system": (_HEAD + b"north,N,x\n", "..\\..\\buildings.csv"),
    "a name without end": (_HEAD + b"north,N,x\n", "b" * 4_000 + ".csv"),
    "a name of nothing": (_HEAD + b"north,N,x\n", "."),
    "a name with a zero": (_HEAD + b"north,N,x\n", "build\x00ings.csv"),
    "a name like a tag": (_HEAD + b"north,N,x\n", "<img src=x onerror=alert(1)>.csv"),
}


def _hand_in(client: FlaskClient, content: bytes, name: str) -> list[TestResponse]:
    """Hand a file in, look at the preview, and apply it where that is offered."""
    answers = [send_files(client, [(content, name)])]
    if answers[0].status_code == 302:
        address = answers[0].location
        answers.append(client.get(address))
        if "fingerprint" in answers[1].text:
            answers.append(client.post(address, data=values_of(answers[1].text)))
    return answers


def test_hostile_files_are_taken_or_refused_with_a_page(local_client: FlaskClient) -> None:
    for what, (content, name) in FILES.items():
        for answer in _hand_in(local_client, content, name):
            _fine(answer, asked=what)
            assert answer.status_code in (200, 302, 400), what
            assert b"<img src=x" not in answer.data, what
            assert b"<script>alert" not in answer.data, what


@pytest.mark.parametrize("field", ["log", "channels", "observations"])
def test_hostile_files_of_a_logger_are_judged_or_refused_with_a_page(
    local_client: FlaskClient, field: str
) -> None:
    values = values_of(local_client.get("/classify").text)
    logs = {
        "numbers without end": (b"Time s,L1 ext main\n1e308,9e99\n,99999999999\n", "log.csv"),
        "a header without end": (b"Time s,L1 ext main " + b"x" * 500_000 + b"\n0,1\n", "log.csv"),
        "a header like a tag": (b"Time s,<script>alert(1)</script>: L1 ext\n0,1\n", "log.csv"),
        # more would lie in a temporary file that the test client does not close
        "a great many columns": (b"Time s" + b",L1 ext" * 60_000 + b"\n", "log.csv"),
        "lists within lists": (b"channels = " + b"[" * 100_000, "list.toml"),
    }
    for what, (content, name) in {**FILES, **logs}.items():
        files = {"log": (io.BytesIO(b"Time s,L1 ext main\n0,18\n"), "log.csv")}
        files[field] = (io.BytesIO(content), name)
        for given_as in ("page", "xlsx"):
            # sending a stream closes it
            copies = {key: (io.BytesIO(s.getvalue()), n) for key, (s, n) in files.items()}
            sent = values | copies | {"given_as": given_as}
            answer = local_client.post("/classify", data=sent)
            _fine(answer, asked=what)
            assert answer.status_code in (200, 400), what
            assert b"<script>alert" not in answer.data, what


@_FEW
@hypothesis.given(
    rows=st.lists(st.lists(hostile.values, min_size=1, max_size=6), min_size=1, max_size=4),
    sheet=st.sampled_from(["buildings", "zones", "layers", "tests", "tested_layers", "heights"]),
)
def test_hostile_cells_are_taken_or_refused_with_a_page(
    local_client: FlaskClient, rows: list[list[str]], sheet: str
) -> None:
    import csv

    heads = {
        "buildings": ["Owner", "Building", "Name", "Homes", "Storeys", "Note"],
        "zones": ["Owner", "Building", "Zone", "Area m2", "From storey", "Face"],
        "layers": ["Owner", "Building", "Zone", "Survey", "Survey date", "Layer no"],
        "tests": ["Held by", "Test", "Title", "Tested on", "Standing", "Part"],
        "tested_layers": ["Held by", "Test", "Layer no", "Role", "Material", "Thickness mm"],
        "heights": ["Owner", "Building", "Height m", "Height method", "Height source", "Note"],
    }
    stream = io.StringIO(newline="")
    csv.writer(stream, quoting=csv.QUOTE_ALL, escapechar="\\").writerows([heads[sheet], *rows])
    content = stream.getvalue().encode("utf-8", "surrogatepass")
    for answer in _hand_in(local_client, content, f"{sheet}.csv"):
        _fine(answer, asked=repr(rows))


# --- What is told of a failure -------------------------------------------------------------------


def test_a_failure_tells_nothing_of_the_program(sqlite_url: str) -> None:
    app = create_app(sqlite_url, today=lambda: ON, local=True)

    @app.get("/fails")
    def fails() -> str:
        raise RuntimeError("the password is on the yellow note")

    answer = app.test_client().get("/fails")
    assert answer.status_code == 500
    assert "yellow note" not in answer.text
    assert not _TRACE.search(answer.text)
    with app.app_context():
        store.engine().dispose()
