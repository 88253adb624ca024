"""Keeps uploaded files between preview and applying: under a random token, in a private folder.

The name that the browser gave is only ever shown, never used as a path.
"""

from __future__ import annotations

import json
import re
import secrets
import shutil
import time
from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path

from portfolio.domain.errors import NotFoundError
from portfolio.services.viewer import Viewer
from portfolio.sheets.raw import GivenFile

KEPT_FOR_HOURS = 24
_TOKEN = re.compile(r"[0-9a-f]{48}")
_ABOUT = "about.json"


@dataclass(frozen=True, slots=True)
class KeptUpload:
    """An upload that waits to be applied."""

    token: str
    files: tuple[GivenFile, ...]


class KeptUploads:
    """The uploads in one folder."""

    def __init__(self, folder: Path) -> None:
        self._folder = folder

    def keep(self, viewer: Viewer, files: Sequence[GivenFile]) -> str:
        """Put the files away and give the token to ask for them by."""
        self._folder.mkdir(mode=0o700, parents=True, exist_ok=True)
        self._clear_away()
        token = secrets.token_hex(24)
        place = self._folder / token
        place.mkdir(mode=0o700)
        for number, given in enumerate(files):
            (place / str(number)).write_bytes(given.content)
        names = [given.name for given in files]
        about = {"names": names, "organisation_id": viewer.organisation_id}
        (place / _ABOUT).write_text(json.dumps(about), "utf-8")
        return token

    def find(self, viewer: Viewer, token: str) -> KeptUpload:
        """The upload of this viewer. Raises NotFoundError, also when it was kept too long."""
        place = self._folder / token
        if not _TOKEN.fullmatch(token) or not (place / _ABOUT).is_file():
            raise NotFoundError("There is no such upload.")
        about = json.loads((place / _ABOUT).read_text("utf-8"))
        if about["organisation_id"] != viewer.organisation_id:
            raise NotFoundError("There is no such upload.")
        files = tuple(
            GivenFile(name, (place / str(number)).read_bytes())
            for number, name in enumerate(about["names"])
        )
        return KeptUpload(token, files)

    def forget(self, token: str) -> None:
        """Delete an upload."""
        if _TOKEN.fullmatch(token):
            shutil.rmtree(self._folder / token, ignore_errors=True)

    def _clear_away(self) -> None:
        """Delete what nobody came back for."""
        oldest = time.time() - KEPT_FOR_HOURS * 3600
        for place in self._folder.iterdir():
            if _TOKEN.fullmatch(place.name) and place.stat().st_mtime < oldest:
                shutil.rmtree(place, ignore_errors=True)
