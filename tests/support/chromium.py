"""Chromium for the tests, driven by playwright: the system's own, never a download."""

import functools
import importlib.util
import os
import shutil
from collections.abc import Iterator
from contextlib import contextmanager
from typing import Any

PATH_VARIABLE = "PORTFOLIO_TEST_CHROMIUM"
NAMES = ("chromium", "chromium-browser")
# No sandbox, because CI may run as root; the rest keeps it from calling home.
ARGUMENTS = [
    "--no-sandbox",
    "--disable-gpu",
    "--disable-quic",
    "--no-first-run",
    "--disable-background-networking",
    "--disable-component-update",
    "--disable-sync",
]


@functools.cache
def executable() -> str | None:
    """Where Chromium is, if it is anywhere."""
    wanted = (os.environ.get(PATH_VARIABLE), *NAMES)
    return next((found for name in wanted if name and (found := shutil.which(name))), None)


@functools.cache
def missing() -> str | None:
    """Why there can be no browser here, or None."""
    if importlib.util.find_spec("playwright") is None:
        return 'no playwright: install the extra "test"'
    if executable() is None:
        return f'no Chromium: install Debian\'s "chromium" or set {PATH_VARIABLE}'
    return None


@contextmanager
def launched() -> Iterator[Any]:
    """A running browser for as long as the block lasts."""
    from playwright.sync_api import sync_playwright

    with sync_playwright() as playwright:
        browser = playwright.chromium.launch(executable_path=executable(), args=ARGUMENTS)
        try:
            yield browser
        finally:
            browser.close()
