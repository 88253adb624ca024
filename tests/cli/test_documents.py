"""The files of documents, checked from the shell."""

import hashlib
import json
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest

from portfolio.db.session import engine_for
from portfolio.services.documents.contents import contents_for
from tests.cli.conftest import Run
from tests.services.documents_support import PDF, Papers, papers_in

SHA = hashlib.sha256(PDF).hexdigest()
Ask = Callable[..., Any]


@pytest.fixture
def kept(sqlite_url: str, run: Run) -> Path:
    """The folder beside the database, with the file of one document."""
    engine = engine_for(sqlite_url)
    folder = contents_for(engine).folder
    engine.dispose()
    with papers_in(sqlite_url, folder) as papers:
        _add(papers)
    return folder


def _add(papers: Papers) -> None:
    papers.add(papers.estate.viewer("north"), papers.survey("S-north"), name="wall.pdf")


def test_files_that_are_whole_end_with_nought(kept: Path, run: Run, ask: Ask) -> None:
    result = run("documents", "verify")
    assert (result.exit_code, result.stdout) == (0, "1 documents, 1 of 1 files whole.\n")
    assert ask("documents", "verify") == {"documents": 1, "files": 1, "faults": [], "strays": []}


def test_the_files_lie_beside_the_database(kept: Path, sqlite_url: str) -> None:
    assert str(kept) == sqlite_url.removeprefix("sqlite:///") + ".documents"
    assert (kept / SHA[:2] / SHA).read_bytes() == PDF


@pytest.mark.parametrize(("harm", "state"), [("unlink", "missing"), ("write", "damaged")])
def test_a_file_that_is_not_as_it_was_ends_with_one_and_is_named(
    kept: Path, run: Run, harm: str, state: str
) -> None:
    path = kept / SHA[:2] / SHA
    path.unlink()
    if harm == "write":
        path.write_bytes(b"something else")
    result = run("documents", "verify")
    assert result.exit_code == 1
    assert f"Document 1, wall.pdf: its file {SHA} is {state}." in result.stdout
    answer = run("documents", "verify", "--json")
    assert answer.exit_code == 1
    [fault] = json.loads(answer.stdout)["faults"]
    assert fault == {"sha256": SHA, "state": state, "documents": [{"id": 1, "name": "wall.pdf"}]}


def test_a_file_that_no_document_refers_to_is_told_and_is_no_fault(kept: Path, run: Run) -> None:
    (kept / SHA[:2] / "left").write_bytes(b"by a crash")
    result = run("documents", "verify")
    assert result.exit_code == 0
    assert "No document refers to the file left." in result.stdout


def test_the_folder_can_be_chosen(
    kept: Path, run: Run, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setenv("PORTFOLIO_DOCUMENTS", str(tmp_path / "elsewhere"))
    assert run("documents", "verify").exit_code == 1
    kept.rename(tmp_path / "elsewhere")
    assert run("documents", "verify").exit_code == 0


# --- adding --------------------------------------------------------------------------------------


@pytest.fixture
def plan(kept: Path, folder: Path) -> str:
    """A file in the current folder."""
    (folder / "plan.pdf").write_bytes(b"%PDF-1.7 a plan")
    return "plan.pdf"


@pytest.mark.parametrize(
    ("supports", "more"),
    [
        ("B-north", ()),
        ("B-north/Z-north/S-north", ()),
        ("B-north/Z-north/S-north", ("--layer", "2")),
        ("test:T-north", ("--layer", "1", "--owner", "north", "--shown")),
    ],
)
def test_a_file_is_added_to_what_is_named(
    plan: str, run: Run, ask: Ask, supports: str, more: tuple[str, ...]
) -> None:
    words = ("documents", "add", plan, "--supports", supports, "--kind", "drawing", *more)
    assert run(*words).stdout == f"Document 2, plan.pdf, supports {supports}.\n"
    seen_by = "with-fact" if "--shown" in more else "own"
    told = {"id": 2, "name": "plan.pdf", "was_held": True, "seen_by": seen_by}
    assert ask(*words) == told
    assert ask("documents", "verify")["documents"] == 2


@pytest.mark.parametrize(
    ("first", "again", "words"),
    [
        ((), (), ""),
        (("--shown",), ("--shown",), ""),
        (("--shown",), (), "Only its organisation may see it from now on"),
        ((), ("--shown",), "It stays for its organisation only"),
    ],
)
def test_who_may_see_a_file_that_was_held_is_told(
    plan: str, run: Run, first: tuple[str, ...], again: tuple[str, ...], words: str
) -> None:
    add = ("documents", "add", plan, "--kind", "drawing", "--supports")
    assert run(*add, "B-north", *first).exit_code == 0
    told = run(*add, "test:T-north", *again).stdout
    start = "Document 2, plan.pdf, which was held already, supports test:T-north."
    assert told.startswith(f"{start} {words}" if words else f"{start}\n")


@pytest.mark.parametrize(
    ("words", "told"),
    [
        (("--supports", "B-nowhere"), "There is nothing called"),
        (("--supports", "B-north", "--owner", "south"), "There is nothing called"),
        (("--supports", "B-north", "--owner", "nobody"), "There is no organisation"),
        (("--supports", "certificate:C-1"), "There is nothing called"),
        (("--supports", "B-north", "--layer", "1"), "no such layer"),
        (("--supports", "B-north", "--date", "2999-01-01"), "has not come yet"),
        (("--supports", "B-north", "--reference", "r" * 201), "at most 200 characters"),
    ],
)
def test_what_cannot_be_added_is_said_and_nothing_is_kept(
    plan: str, run: Run, ask: Ask, words: tuple[str, ...], told: str
) -> None:
    result = run("documents", "add", plan, *words)
    assert result.exit_code == 1
    assert told in result.stderr
    assert ask("documents", "verify")["documents"] == 1
    assert ask("documents", "verify")["strays"] == []
