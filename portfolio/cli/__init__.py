"""The same services from the shell. Exit status 0: done; 1: your input; 2: usage."""

from __future__ import annotations

from portfolio.cli.commands import portfolio


def main() -> None:
    """Run a command."""
    portfolio()
