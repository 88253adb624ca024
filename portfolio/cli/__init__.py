"""The same services from the shell. Exit status 0: done; 1: your input; 2: usage."""

from __future__ import annotations

import sys

from portfolio.cli.commands import portfolio
from portfolio.domain.errors import PortfolioError

YOUR_INPUT = 1


def main() -> None:
    """Run a command; what the program refuses becomes a sentence on standard error."""
    try:
        portfolio()
    except PortfolioError as error:
        print(error, file=sys.stderr)  # noqa: T201
        sys.exit(YOUR_INPUT)
