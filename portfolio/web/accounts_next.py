"""Where to go after signing in: an address of this program, or home."""

from __future__ import annotations

import re
from urllib.parse import urlsplit

_LONGEST = 2000
# a browser drops control characters and reads a backslash as a slash, and so leaves this program
_DANGEROUS = re.compile(r"[\x00-\x20\x7f-\xa0\\]|^/(?=/)")


def local_or_home(asked: str) -> str:
    """The address when it is a path within this program, else "/".

    >>> local_or_home("/gaps?text=tall"), local_or_home("//evil.test"), local_or_home("gaps")
    ('/gaps?text=tall', '/', '/')
    """
    if not asked.startswith("/") or len(asked) > _LONGEST or _DANGEROUS.search(asked):
        return "/"
    try:
        parts = urlsplit(asked)
    except ValueError:
        return "/"
    return "/" if parts.scheme or parts.netloc else asked
