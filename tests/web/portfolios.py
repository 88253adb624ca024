"""Small portfolios for tests of pages: rows with defaults, and coverage computed for real."""

from collections.abc import Iterator
from contextlib import contextmanager
from datetime import date
from itertools import count
from typing import Any

from sqlalchemy.orm import Session

from portfolio.db import models
from portfolio.db.session import engine_for, writing
from portfolio.domain.evidence import Answer3, Consent, Holding, Outcome, Standing
from portfolio.domain.surveys import Basis
from portfolio.services import coverage

ON = date(2026, 3, 1)

WALL: dict[str, Any] = {
    "lists_all_layers": True,
    "system_family": "ventilated-rainscreen",
    "substrate": "masonry",
    "layers": [
        {"role": "frame", "material": "masonry-block", "thickness": "140", "product": "Block"},
        {
            "role": "insulation",
            "material": "stone-wool",
            "thickness": "150",
            "class": "A1",
            "product": "Wool",
        },
        {"role": "cavity", "ventilation": "ventilated", "depth": "50"},
        {
            "role": "barrier-horizontal",
            "type": "open-state-intumescent",
            "spacing": "3000",
            "product": "Barrier",
        },
        {
            "role": "barrier-vertical",
            "type": "full-fill-mineral",
            "spacing": "6000",
            "product": "Barrier",
        },
        {"role": "support", "material": "aluminium-rails", "product": "Rails"},
        {
            "role": "facing",
            "material": "metal-composite-panel",
            "core_category": "1",
            "calorific_value": "2",
            "class": "A2-s1,d0",
            "thickness": "4",
            "joint": "open",
            "joint_width": "10",
            "product": "Panel",
        },
        {"role": "finish", "material": "pvdf-coating", "product": "Coating"},
    ],
}


def wall(**changes: str) -> dict[str, Any]:
    """The tested wall with values of roles changed: `wall(insulation__thickness="200")`."""
    layers = [dict(layer) for layer in WALL["layers"]]
    for name, text in changes.items():
        role, _, key = name.partition("__")
        for layer in layers:
            if layer["role"] == role.replace("_", "-"):
                layer[key] = text
    return {**WALL, "layers": layers}


class Portfolio:
    """Adds rows with defaults; every number that has to be unique is counted up."""

    def __init__(self, session: Session) -> None:
        self.session = session
        self._numbers = count(1)

    def organisation(self, **more: Any) -> models.Organisation:
        number = next(self._numbers)
        values = {
            "ref": f"owner-{number}",
            "name": f"Owner {number}",
            "kind": models.OrganisationKind.OWNER,
        }
        return self._add(models.Organisation(**(values | more)))

    def building(self, owner: models.Organisation, **more: Any) -> models.Building:
        number = next(self._numbers)
        heights = more.pop("heights", (20.0,))
        values = {
            "ref": f"B{number:03}",
            "name": f"Building {number}",
            "jurisdiction": "England",
            "use": "flats",
            "evacuation": "stay-put",
            "homes": 10,
        } | more
        values["search_text"] = f"{values['ref']} {values['name']}".casefold()
        claims = [models.HeightClaim(metres=m, method="drawing") for m in heights]
        return self._add(models.Building(organisation_id=owner.id, heights=claims, **values))

    def zone(self, building: models.Building, **more: Any) -> models.Zone:
        """A zone with one opening-up survey of `wall`, or none where `wall` is None."""
        number = next(self._numbers)
        surveyed = more.pop("wall", WALL)
        values = {"ref": f"Z{number:03}", "description": "Wall", "area_m2": 100.0} | more
        zone = self._add(models.Zone(building_id=building.id, **values))
        if surveyed is not None:
            self.survey(zone, surveyed)
        return zone

    def survey(self, zone: models.Zone, surveyed: dict[str, Any], **more: Any) -> models.Survey:
        values = {"ref": f"S{next(self._numbers)}", "basis": Basis.OPENING_UP, "on": ON} | more
        return self._add(models.Survey(zone_id=zone.id, build_up=surveyed, **values))

    def test(self, owner: models.Organisation, **more: Any) -> models.TestRecord:
        """A passing test of WALL that its owner holds in full."""
        met = Answer3.MET
        values = {
            "ref": f"T{next(self._numbers):03}",
            "title": "Tested wall",
            "standard": "BS 8414",
            "part": "1",
            "edition": "2015",
            "tested_on": date(2020, 5, 4),
            "external_spread": met,
            "internal_spread": met,
            "no_flames_above_rig": met,
            "no_early_end": met,
            "printed_outcome": Outcome.PASSED,
            "class_document": "BR 135",
            "class_edition": "third edition (2013)",
            "class_annex": "A",
            "class_report": "C-1",
            "source": "invented for a test",
            "standing": Standing.LIVE,
            "holding": Holding.IN_FULL,
            "consent": Consent.OWN,
            "build_up": WALL,
        }
        return self._add(models.TestRecord(organisation_id=owner.id, **(values | more)))

    def _add(self, row: Any) -> Any:
        self.session.add(row)
        self.session.flush()
        return row


@contextmanager
def filling(database_url: str) -> Iterator[Portfolio]:
    """A portfolio to add to; coverage is computed at the end."""
    engine = engine_for(database_url)
    try:
        with writing(engine) as session:
            yield Portfolio(session)
            coverage.refresh(session, ON)
    finally:
        engine.dispose()


def fill_one_of_each(portfolio: Portfolio) -> None:
    """Two owners, three buildings, a zone of every coverage but inferred."""
    first, second = portfolio.organisation(ref="north"), portfolio.organisation(ref="south")
    portfolio.test(first, ref="T-PASS")
    failing = {"external_spread": Answer3.NOT_MET, "printed_outcome": Outcome.FAILED}
    foam = wall(
        insulation__material="pir-foam",
        insulation__class="E",
        facing__core_category="3",
        facing__calorific_value="44",
        facing__class="D-s2,d0",
    )
    portfolio.test(first, ref="T-FAIL", build_up=foam, **failing)
    tall = portfolio.building(first, ref="TALL", name="Tall House", heights=(33.0,))
    portfolio.zone(tall, ref="COVERED")
    portfolio.zone(tall, ref="AGAINST", wall=foam)
    portfolio.zone(tall, ref="ASSESS", wall=wall(cavity__depth="80"), area_m2=None)
    low = portfolio.building(first, ref="LOW", name="Low House", heights=(10.2,), use="office")
    portfolio.zone(low, ref="UNKNOWN", wall=None)
    portfolio.zone(low, ref="NOTHING", wall=wall(facing__material="glass"))
    portfolio.building(second, ref="EMPTY", jurisdiction="", use="", evacuation="", heights=())
