"""Drafts as rows of their tables."""

from __future__ import annotations

from typing import Any

from portfolio.db import mapping, models
from portfolio.domain.heights import HeightClaim
from portfolio.domain.vocabulary import Vocabulary
from portfolio.services.drafting import search_text_for
from portfolio.services.importing_steps import BUILDING, ORGANISATION, ZONE, Draft
from portfolio.services.importing_works import works_row
from portfolio.sheets.drafts import (
    BuildingDraft,
    Key,
    OrganisationDraft,
    SurveyDraft,
    TestDraft,
    WorksDraft,
    ZoneDraft,
    field_names,
)

Ids = dict[str, dict[Key, int]]
"""By subject and key: the ids of what is stored."""

_TEST_FIELDS = tuple(
    name for name in field_names(TestDraft, 2) if name not in ("consent_given_to", "leans_on")
)
_BUILDING_FIELDS = field_names(BuildingDraft, 2)


def row_of(draft: Draft, ids: Ids, vocabulary: Vocabulary) -> dict[str, Any]:
    """The columns of the record's own table; what it belongs to must be in `ids`."""
    match draft:
        case OrganisationDraft():
            kind = models.OrganisationKind(draft.kind)
            return {"ref": draft.organisation, "name": draft.name, "kind": kind}
        case BuildingDraft():
            return _building_row(draft, ids)
        case ZoneDraft():
            return _zone_row(draft, ids)
        case SurveyDraft():
            return _survey_row(draft, ids, vocabulary)
        case WorksDraft():
            return works_row(draft, ids[BUILDING][draft.key[:2]])
        case TestDraft():
            return _test_row(draft, ids, vocabulary)


def height_row(building_id: int, claim: HeightClaim) -> dict[str, Any]:
    """The columns of a height."""
    return {
        "building_id": building_id,
        "metres": claim.metres,
        "method": claim.method,
        "tolerance_m": claim.tolerance_m,
        "on": claim.on,
        "source": claim.source,
    }


def _building_row(draft: BuildingDraft, ids: Ids) -> dict[str, Any]:
    row = {name: getattr(draft, name) for name in _BUILDING_FIELDS}
    row["organisation_id"] = ids[ORGANISATION][draft.owner,]
    row["ref"] = draft.building
    row["search_text"] = search_text_for(draft.building, draft.name, draft.address)
    return row


def _zone_row(draft: ZoneDraft, ids: Ids) -> dict[str, Any]:
    return {
        "building_id": ids[BUILDING][draft.key[:2]],
        "ref": draft.zone,
        "description": draft.description,
        "face": draft.face,
        "from_storey": draft.from_storey,
        "to_storey": draft.to_storey,
        "area_m2": draft.area_m2,
        "is_attachment": draft.attachment,
        "work": draft.work,
        "work_counted_on": draft.work_counted_on,
    }


def _survey_row(draft: SurveyDraft, ids: Ids, vocabulary: Vocabulary) -> dict[str, Any]:
    return {
        "zone_id": ids[ZONE][draft.key[:3]],
        "ref": draft.survey,
        "basis": draft.basis,
        "on": draft.survey_date,
        "source": draft.survey_source,
        "build_up": mapping.build_up_to_json(draft.build_up, vocabulary),
    }


def _test_row(draft: TestDraft, ids: Ids, vocabulary: Vocabulary) -> dict[str, Any]:
    row = {name: getattr(draft, name) for name in _TEST_FIELDS}
    row["organisation_id"] = ids[ORGANISATION][draft.held_by,]
    row["ref"] = draft.test
    row["leans_on"] = list(draft.leans_on)
    row["build_up"] = mapping.build_up_to_json(draft.build_up, vocabulary)
    return row
