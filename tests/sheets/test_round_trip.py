"""What is written reads as the same again."""

from dataclasses import replace

import pytest
from hypothesis import example, given, settings

from portfolio.domain.walls import BuildUp
from portfolio.sheets import exporting, writing
from portfolio.sheets.converting import convert
from portfolio.sheets.delimited import guarded, unguarded
from portfolio.sheets.drafts import Drafts, SurveyDraft, ZoneDraft
from portfolio.sheets.exporting import drafts_to_csv, drafts_to_xlsx
from portfolio.sheets.raw import GivenFile
from portfolio.sheets.reading import read_paths
from tests.sheets import strategies
from tests.sheets.support import REFERENCE, drafts_of

VOCABULARY = REFERENCE.vocabulary


@given(strategies.drafts())
@settings(max_examples=60)
def test_a_workbook_reads_as_the_drafts_it_was_written_from(drafts: Drafts) -> None:
    content = drafts_to_xlsx(drafts, VOCABULARY, "take care")
    assert drafts_of(GivenFile("estate.xlsx", content)) == drafts


@given(strategies.drafts())
@settings(max_examples=60)
def test_csv_files_read_as_the_drafts_they_were_written_from(drafts: Drafts) -> None:
    files = [GivenFile(*file) for file in drafts_to_csv(drafts, VOCABULARY).items()]
    assert (drafts_of(*files) if files else Drafts()) == drafts


@given(strategies.SURVEYS, strategies.build_ups())
def test_a_wall_survives_being_written_as_text(survey: SurveyDraft, build_up: BuildUp) -> None:
    draft = replace(survey, build_up=build_up)
    files = drafts_to_csv(Drafts(surveys=(draft,)), VOCABULARY)
    (found,) = drafts_of(*(GivenFile(*file) for file in files.items())).surveys
    assert found.build_up == build_up


@given(strategies.TEXTS)
@example("'=1+1")
@example("''-")
@example("\tx")
def test_taking_the_apostrophe_off_gives_the_text_back(text: str) -> None:
    assert unguarded(guarded(text)) == text


@given(strategies.drafts())
@settings(max_examples=20)
def test_a_folder_of_csv_files_reads_like_the_files(
    tmp_path_factory: pytest.TempPathFactory, drafts: Drafts
) -> None:
    folder = tmp_path_factory.mktemp("export")
    for name, content in drafts_to_csv(drafts, VOCABULARY).items():
        (folder / name).write_bytes(content)
    if drafts != Drafts():
        assert convert(read_paths([folder]), REFERENCE) == drafts


def test_a_long_export_goes_on_in_a_further_sheet(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(writing, "MOST_ROWS", 2)
    monkeypatch.setattr(exporting, "MOST_ROWS", 2)
    drafts = Drafts(zones=tuple(ZoneDraft("O", "B", f"Z{n}") for n in range(5)))
    files = drafts_to_csv(drafts, VOCABULARY)
    assert sorted(files) == ["zones-2.csv", "zones-3.csv", "zones.csv"]
    content = drafts_to_xlsx(drafts, VOCABULARY, "take care")
    assert drafts_of(GivenFile("estate.xlsx", content)) == drafts
