"""The evidence pack from the shell."""

from collections.abc import Callable
from datetime import date, timedelta
from pathlib import Path
from typing import Any

import openpyxl
import pytest

from portfolio.cli.store import today
from portfolio.domain.caution import CAUTION
from portfolio.domain.documents import SeenBy
from portfolio.domain.rights import Access
from tests.cli.conftest import Run
from tests.services.documents_support import papers_in

Ask = Callable[..., Any]
a_filled_portfolio = pytest.mark.usefixtures("filled")


def _texts(path: Path) -> list[str]:
    book = openpyxl.load_workbook(path)
    return [
        str(cell) for sheet in book for row in sheet.iter_rows(values_only=True) for cell in row
    ]


@a_filled_portfolio
def test_a_pack_opens_and_holds_the_caution_and_every_zone(run: Run, folder: Path) -> None:
    result = run("pack", "B-01")
    assert (result.exit_code, result.stdout) == (0, "Wrote evidence-B-01.xlsx\n")
    texts = _texts(folder / "evidence-B-01.xlsx")
    assert any(CAUTION in text for text in texts)
    for word in ("North", "South", "East", "T-pass", "T-fail"):
        assert any(word in text for text in texts)


@a_filled_portfolio
def test_a_pack_tells_a_script_what_it_wrote(ask: Ask, folder: Path) -> None:
    found = ask("pack", "B-01", "--to", "mine.xlsx")
    size = (folder / "mine.xlsx").stat().st_size
    assert found == {"building": "B-01", "file": "mine.xlsx", "bytes": size}


@a_filled_portfolio
def test_a_pack_of_a_day_is_a_file_of_its_own(run: Run, folder: Path) -> None:
    day = today()
    result = run("pack", "B-01", "--as-of", f"{day}")
    assert result.exit_code == 0
    assert [path.name for path in folder.glob("evidence*")] == [f"evidence-B-01-{day}.xlsx"]


@a_filled_portfolio
def test_nothing_was_known_before_it_was_recorded(run: Run, folder: Path) -> None:
    result = run("pack", "B-01", "--as-of", f"{today() - timedelta(days=30)}")
    assert result.exit_code == 1
    assert "not recorded yet" in result.stderr
    assert list(folder.glob("evidence*")) == []


@a_filled_portfolio
@pytest.mark.parametrize("day", [date(2100, 1, 1).isoformat(), "2026-13-01", "01/02/2026", "soon"])
def test_a_day_to_come_or_that_is_none_is_usage(run: Run, folder: Path, day: str) -> None:
    assert run("pack", "B-01", "--as-of", day).exit_code == 2
    assert list(folder.glob("evidence*")) == []


@pytest.mark.parametrize("more", [(), ("--owner", "north")])
def test_a_pack_holds_no_paper_that_another_organisation_keeps_to_itself(
    run: Run, folder: Path, sqlite_url: str, more: tuple[str, ...]
) -> None:
    """Of a fact of the building itself, added by a consultancy that works on it."""
    with papers_in(sqlite_url, folder / "documents") as papers:
        estate, survey = papers.estate, papers.survey("S-north")
        to = {"access": Access.EDIT, "to": (papers.building("B-north"),)}
        consultancy = estate.viewer("consult", **to)
        papers.add(consultancy, survey, content=b"%PDF-1.7 a", name="private.pdf")
        shown = {"content": b"%PDF-1.7 b", "seen_by": SeenBy.WITH_FACT}
        papers.add(consultancy, survey, name="shown.pdf", **shown)
        papers.add(estate.viewer("north"), survey, name="own.pdf")
    assert run("pack", "B-north", "--to", "pack.xlsx", *more).exit_code == 0
    names = [text for text in _texts(folder / "pack.xlsx") if text.endswith(".pdf")]
    assert sorted(names) == ["own.pdf", "shown.pdf"]
