"""Own static files: the address carries a hash of the content, so that they may be kept long."""

from __future__ import annotations

import hashlib
from pathlib import Path
from typing import Any

from flask import Flask, Response, request

_ENDPOINT = "static"
_HASH = "v"


def attach(app: Flask) -> None:
    """Make url_for("static", filename=…) add the hash, and answer with how long to keep it."""
    known: dict[str, tuple[int, str]] = {}

    def add_hash(endpoint: str, values: dict[str, Any]) -> None:
        if endpoint == _ENDPOINT and "filename" in values:
            values.setdefault(_HASH, _hash(Path(str(app.static_folder)), values["filename"], known))

    def keep_long(response: Response) -> Response:
        if request.endpoint == _ENDPOINT and response.status_code in (200, 304):
            name = (request.view_args or {}).get("filename", "")
            current = _hash(Path(str(app.static_folder)), name, known)
            named = bool(current) and request.args.get(_HASH) == current
            keep = "public, max-age=31536000, immutable" if named else "no-cache"
            response.headers["Cache-Control"] = keep
        return response

    app.url_defaults(add_hash)
    app.after_request(keep_long)


def _hash(folder: Path, name: str, known: dict[str, tuple[int, str]]) -> str:
    """The first digits of the file's SHA-256, computed again when the file changes."""
    path = folder / name
    if not path.is_file():
        return ""
    changed = path.stat().st_mtime_ns
    if known.get(name, (0, ""))[0] != changed:
        known[name] = changed, hashlib.sha256(path.read_bytes()).hexdigest()[:16]
    return known[name][1]
