"""Stored rows as drafts: what an export writes, and what an import compares with."""

from __future__ import annotations

from typing import Any

from portfolio.db import mapping, models
from portfolio.domain.heights import HeightClaim
from portfolio.domain.vocabulary import Vocabulary
from portfolio.sheets.drafts import (
    BuildingDraft,
    Key,
    OrganisationDraft,
    SurveyDraft,
    TestDraft,
    ZoneDraft,
)

_DIGITS = 6


def search_text_for(ref: str, name: str, address: str) -> str:
    """What a search for a building looks at."""
    return f"{ref} {name} {address}".casefold()


def organisation_draft(row: models.Organisation) -> OrganisationDraft:
    """The organisation of a row of its table."""
    return OrganisationDraft(row.ref, _text(row.name), row.kind.value)


def height_claim(row: Any) -> HeightClaim:
    """The claim as a sheet would bring it back."""
    return HeightClaim(
        round(row.metres, _DIGITS),
        _text(row.method),
        _rounded(row.tolerance_m),
        row.on,
        _text(row.source),
    )


def building_draft(owner: str, row: Any, heights: tuple[HeightClaim, ...]) -> BuildingDraft:
    """The building of a row of its table."""
    return BuildingDraft(
        owner=owner,
        building=row.ref,
        name=_text(row.name),
        address=_text(row.address),
        jurisdiction=_text(row.jurisdiction),
        use=row.use,
        storeys=row.storeys,
        homes=row.homes,
        people=row.people,
        evacuation=row.evacuation,
        sprinklers=row.sprinklers,
        note=_text(row.note),
        heights=heights,
    )


def zone_draft(building: Key, row: Any) -> ZoneDraft:
    """The zone of a row of its table."""
    return ZoneDraft(
        owner=building[0],
        building=building[1],
        zone=row.ref,
        description=_text(row.description),
        face=_text(row.face),
        from_storey=row.from_storey,
        to_storey=row.to_storey,
        area_m2=_rounded(row.area_m2),
        attachment=row.is_attachment,
        work=row.work,
        work_counted_on=row.work_counted_on,
    )


def survey_draft(zone: Key, row: Any, vocabulary: Vocabulary) -> SurveyDraft:
    """The survey of a row of its table."""
    return SurveyDraft(
        owner=zone[0],
        building=zone[1],
        zone=zone[2],
        survey=row.ref,
        basis=row.basis,
        survey_date=row.on,
        survey_source=_text(row.source),
        build_up=mapping.build_up_from_json(row.build_up, vocabulary),
    )


def test_draft(
    held_by: str, row: models.TestRecord, given_to: list[str], vocabulary: Vocabulary
) -> TestDraft:
    """The test of a row of its table; `given_to` are the organisations that have consent."""
    return TestDraft(
        held_by=held_by,
        test=row.ref,
        build_up=mapping.build_up_from_json(row.build_up, vocabulary),
        title=_text(row.title),
        laboratory=_text(row.laboratory),
        sponsor=_text(row.sponsor),
        standard=_text(row.standard),
        part=_text(row.part),
        edition=_text(row.edition),
        tested_on=row.tested_on,
        external_spread=row.external_spread,
        internal_spread=row.internal_spread,
        burn_through=row.burn_through,
        no_flames_above_rig=row.no_flames_above_rig,
        no_early_end=row.no_early_end,
        observations=_text(row.observations),
        printed_outcome=row.printed_outcome,
        class_document=_text(row.class_document),
        class_edition=_text(row.class_edition),
        class_annex=_text(row.class_annex),
        class_report=_text(row.class_report),
        kind=row.kind,
        author=_text(row.author),
        report_ref=_text(row.report_ref),
        report_issue=_text(row.report_issue),
        report_on=row.report_on,
        run_seconds=row.run_seconds,
        standing=row.standing,
        standing_note=_text(row.standing_note),
        holding=row.holding,
        consent=row.consent,
        consent_given_to=tuple(sorted(given_to)),
        leans_on=tuple(row.leans_on),
        source=_text(row.source),
    )


def _text(text: str) -> str:
    """Text without what a sheet does not keep: outer blanks and the kind of line break."""
    return text.strip().replace("\r\n", "\n")


def _rounded(number: float | None) -> float | None:
    return None if number is None else round(number, _DIGITS)
