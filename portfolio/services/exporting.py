"""Gathers what belongs to the viewer as drafts, from which a workbook is written."""

from __future__ import annotations

from sqlalchemy.orm import Session

from portfolio.db import models
from portfolio.domain.caution import CAUTION
from portfolio.reference.loader import load_reference
from portfolio.services import stored
from portfolio.services.importing_works import stored_works
from portfolio.services.viewer import Viewer
from portfolio.sheets.drafts import Drafts
from portfolio.sheets.exporting import drafts_to_csv, drafts_to_xlsx


def gather_drafts(session: Session, viewer: Viewer) -> Drafts:
    """Everything that the viewer could import again: what belongs to their organisation.

    Tests of others that the viewer may lean on stay out: they are the holder's to hand on.
    """
    vocabulary = load_reference().vocabulary
    organisations = stored.organisations(session, viewer.only(models.Organisation.id))
    refs = {kept.id: kept.draft.organisation for kept in organisations.values()}
    buildings = stored.buildings(session, refs)
    of_buildings = {kept.id: key for key, kept in buildings.items()}
    zones = stored.zones(session, of_buildings)
    of_zones = {kept.id: key for key, kept in zones.items()}
    surveys = stored.surveys(session, of_zones, vocabulary)
    works = stored_works(session, of_buildings)
    tests = stored.held_tests(session, refs, vocabulary)
    return Drafts(
        organisations=tuple(kept.draft for kept in organisations.values()),
        buildings=tuple(kept.draft for kept in buildings.values()),
        zones=tuple(kept.draft for kept in zones.values()),
        surveys=tuple(surveys.values()),
        tests=tuple(kept.draft for kept in tests.values()),
        works=tuple(kept.draft for kept in works.values()),
    )


def export_xlsx(session: Session, viewer: Viewer) -> bytes:
    """The viewer's records as one workbook, which imports again without a change."""
    return drafts_to_xlsx(gather_drafts(session, viewer), load_reference().vocabulary, CAUTION)


def export_csv(session: Session, viewer: Viewer) -> dict[str, bytes]:
    """The viewer's records as CSV files by name."""
    return drafts_to_csv(gather_drafts(session, viewer), load_reference().vocabulary)
