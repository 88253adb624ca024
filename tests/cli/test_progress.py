"""How the portfolio moves, from the shell."""

from typing import Any

import pytest

from tests.cli.conftest import Run
from tests.cli.test_reports import Ask


@pytest.mark.usefixtures("filled")
def test_the_day_that_is_first_used_is_counted_and_the_present_comes_last(
    run: Run, ask: Ask
) -> None:
    told: dict[str, Any] = ask("progress")
    zones = len(ask("coverage"))
    assert sum(told["now"]["zones"].values()) == zones
    assert told["days"][-1]["zones"] == told["now"]["zones"]
    assert told["days"][0]["breaks"] == []
    shown = run("progress").stdout
    assert "now" in shown
    assert "What else changed" in shown
