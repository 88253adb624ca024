"""Settings of the web application, and the secret that signs its sessions and forms."""

from __future__ import annotations

import os
import secrets
from pathlib import Path
from typing import Any

import sqlalchemy as sa

from portfolio.domain.errors import PortfolioError
from portfolio.services.accounts.mailing import MailServer

SECRET_VARIABLE = "PORTFOLIO_SECRET_KEY"
HTTPS_VARIABLE = "PORTFOLIO_HTTPS"
PROXIES_VARIABLE = "PORTFOLIO_PROXIES"
MAIL_VARIABLE = "PORTFOLIO_SMTP_URL"
LARGEST_UPLOAD_MB = 20
_SECRET_SUFFIX = ".secret"


def settings(database_url: str) -> dict[str, Any]:
    """Flask's settings for an application over this database."""
    return {
        "SECRET_KEY": secret_key(database_url),
        "MAX_CONTENT_LENGTH": LARGEST_UPLOAD_MB * 1024 * 1024,
        "SESSION_COOKIE_NAME": "portfolio_forms",
        "SESSION_COOKIE_HTTPONLY": True,
        "SESSION_COOKIE_SAMESITE": "Lax",
        # a survey form may stay open all day; the token ends with the session
        "WTF_CSRF_TIME_LIMIT": None,
        HTTPS_VARIABLE: os.environ.get(HTTPS_VARIABLE) == "1",
        PROXIES_VARIABLE: _proxies(os.environ.get(PROXIES_VARIABLE, "")),
        MAIL_VARIABLE: _mail_server(os.environ.get(MAIL_VARIABLE, "")),
    }


def _proxies(text: str) -> int:
    """How many proxies stand before the program; their word on the sender is taken."""
    if not text:
        return 0
    if not (text.isascii() and text.isdigit() and len(text) == 1):
        raise PortfolioError(f"{PROXIES_VARIABLE} is a number of proxies from 0 to 9.")
    return int(text)


def _mail_server(url: str) -> MailServer | None:
    return MailServer.read(url) if url else None


def secret_key(database_url: str) -> str:
    """The secret from the environment, or a random one kept beside the SQLite file.

    Without a file to stand beside, it is new with each start: open forms must then be sent again.
    """
    if given := os.environ.get(SECRET_VARIABLE):
        return given
    address = sa.make_url(database_url)
    in_memory = address.database in (None, "", ":memory:")
    if address.get_backend_name() != "sqlite" or in_memory:
        return secrets.token_hex(32)
    return _kept(Path(f"{address.database}{_SECRET_SUFFIX}"))


def _kept(path: Path) -> str:
    """The secret in the file, which is made on first use and readable by its owner only."""
    if path.exists():
        return path.read_text("ascii")
    unfinished = path.with_name(f"{path.name}.{os.getpid()}")
    handle = os.open(unfinished, os.O_WRONLY | os.O_CREAT | os.O_TRUNC, 0o600)
    with os.fdopen(handle, "w", encoding="ascii") as file:
        file.write(secrets.token_hex(32))
    try:
        # of two programs starting at once, the first one's secret counts for both
        os.link(unfinished, path)
    except FileExistsError:
        pass
    finally:
        unfinished.unlink()
    return path.read_text("ascii")
