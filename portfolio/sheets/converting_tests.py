"""Rows of tests, with the rows of their layers, into drafts."""

from __future__ import annotations

from collections.abc import Sequence

from portfolio.domain.evidence import Answer3, Consent, EvidenceKind, Holding, Outcome, Standing
from portfolio.sheets.cells import Cells
from portfolio.sheets.converting_walls import WallReader
from portfolio.sheets.drafts import LAYERS, Key, TestDraft
from portfolio.sheets.layout_tests import NOT_APPLICABLE_WORD
from portfolio.sheets.lists import meaning


def test(
    cells: Cells, key: Key, layers: Sequence[Cells], walls: WallReader, *, has_layers: bool
) -> TestDraft:
    """The test of a row. `has_layers` says that there was a sheet of layers at all."""
    given_to = cells.references("consent_given_to")
    if key[0] in given_to:
        cells.refuse("consent_given_to", "The holder's own consent stands in the column Consent.")
    return TestDraft(
        held_by=key[0],
        test=key[1],
        build_up=walls.build_up(cells, layers),
        title=cells.text("title"),
        laboratory=cells.text("laboratory"),
        sponsor=cells.text("sponsor"),
        standard=cells.text("standard"),
        part=cells.text("part"),
        edition=cells.text("edition"),
        tested_on=cells.day("tested_on"),
        external_spread=cells.word("external_spread", Answer3, Answer3.UNKNOWN),
        internal_spread=cells.word("internal_spread", Answer3, Answer3.UNKNOWN),
        burn_through=_burn_through(cells),
        no_flames_above_rig=cells.word("no_flames_above_rig", Answer3, Answer3.UNKNOWN),
        no_early_end=cells.word("no_early_end", Answer3, Answer3.UNKNOWN),
        observations=cells.text("observations"),
        printed_outcome=cells.word("printed_outcome", Outcome, Outcome.NOT_TOLD),
        class_document=cells.text("class_document"),
        class_edition=cells.text("class_edition"),
        class_annex=cells.text("class_annex"),
        class_report=cells.text("class_report"),
        kind=cells.word("kind", EvidenceKind, EvidenceKind.TEST, must_say=True),
        author=_author(cells),
        report_ref=cells.text("report_ref"),
        report_issue=cells.text("report_issue"),
        report_on=cells.day("report_on"),
        run_seconds=cells.whole("run_seconds"),
        # that a report still stands is not to be taken for granted where the file says "unknown"
        standing=cells.word("standing", Standing, Standing.LIVE, must_say=True),
        standing_note=cells.text("standing_note"),
        holding=cells.word("holding", Holding, Holding.NOT_SEEN),
        consent=cells.word("consent", Consent, Consent.NOT_ASKED),
        consent_given_to=tuple(sorted(given_to)),
        leans_on=cells.references("leans_on"),
        source=cells.text("source"),
        columns=_spoken_of(cells) | ({LAYERS} if has_layers else set()),
        at=cells.place,
    )


def _spoken_of(cells: Cells) -> frozenset[str]:
    """The columns that say something: an empty cell makes no withdrawn test live again, and no
    test of an assessment."""
    silent = {key for key in ("standing", "kind") if not cells.raw(key).strip()}
    return cells.columns - silent


def _author(cells: Cells) -> str:
    author = cells.text("author")
    if author and not meaning((EvidenceKind.ASSESSMENT,), cells.raw("kind")):
        message = "An author is named: only an assessment has one."
        cells.refuse("kind", message, EvidenceKind.ASSESSMENT.value)
    return author


def _burn_through(cells: Cells) -> Answer3 | None:
    """None where the criterion does not apply."""
    if meaning((NOT_APPLICABLE_WORD,), cells.raw("burn_through")):
        return None
    if cells.is_unknown("burn_through"):
        return Answer3.UNKNOWN
    found = cells.listed("burn_through", (*Answer3, NOT_APPLICABLE_WORD))
    return Answer3(found) if found else Answer3.UNKNOWN
