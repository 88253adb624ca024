"""Sending forms as a browser does: what stands in them, with some fields changed."""

from html.parser import HTMLParser
from typing import Any

from flask.testing import FlaskClient
from werkzeug.test import TestResponse


class _Forms(HTMLParser):
    """The values of every form that is sent by POST."""

    def __init__(self, markup: str) -> None:
        super().__init__(convert_charrefs=True)
        self.forms: list[dict[str, str]] = []
        self._within = False
        self._select = ""
        self._first: str | None = None
        self._area = ""
        self.feed(markup)

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        found = {name: value or "" for name, value in attrs}
        if tag == "form":
            is_post = found.get("method", "").casefold() == "post"
            # the button that signs out stands on every page
            self._within = is_post and found.get("action") != "/sign-out"
            if self._within:
                self.forms.append({})
        elif self._within and "name" in found | {"name": self._select}:
            self._field(tag, found)

    def _field(self, tag: str, found: dict[str, str]) -> None:
        values = self.forms[-1]
        if tag == "input":
            ticked = found.get("type") not in ("radio", "checkbox") or "checked" in found
            if ticked and found.get("type") != "file" and "name" in found:
                values[found["name"]] = found.get("value", "y")
        elif tag == "select":
            self._select, self._first = found["name"], None
        elif tag == "option" and self._select:
            if self._first is None or "selected" in found:
                self._first = found.get("value", "")
                values[self._select] = self._first
        elif tag == "textarea":
            self._area = found["name"]
            values[self._area] = ""

    def handle_data(self, data: str) -> None:
        if self._area:
            self.forms[-1][self._area] += data

    def handle_endtag(self, tag: str) -> None:
        if tag == "select":
            self._select = ""
        elif tag == "textarea":
            self._area = ""
        elif tag == "form":
            self._within = False


def values_of(markup: str, place: int = 0) -> dict[str, str]:
    """What a form of the page would send as it stands."""
    return _Forms(markup).forms[place]


def send(client: FlaskClient, address: str, **changes: str) -> TestResponse:
    """Open the form's page, change some fields and send it; names with "__" mean "-"."""
    values = values_of(client.get(address).get_data(as_text=True))
    values |= {name.replace("__", "-"): text for name, text in changes.items()}
    return client.post(address, data=values)


def send_files(client: FlaskClient, files: list[tuple[bytes, str]]) -> TestResponse:
    """Hand files in at /upload."""
    import io

    token = values_of(client.get("/upload").get_data(as_text=True))["csrf_token"]
    given: list[Any] = [(io.BytesIO(content), name) for content, name in files]
    return client.post("/upload", data={"csrf_token": token, "files": given})
