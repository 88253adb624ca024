"""Invented portfolios of any size, for measuring only: seeded, so that two runs are alike."""

from __future__ import annotations

import random
from datetime import date

from portfolio.db import models
from portfolio.domain.evidence import Answer3, Consent, Holding, Outcome, Standing
from portfolio.domain.surveys import Basis

ON = date(2026, 3, 1)
FACINGS = ("metal-composite-panel", "high-pressure-laminate", "fibre-cement", "terracotta")
FACINGS += ("solid-aluminium", "timber", "clay-brick", "thin-render", "brick-slip")
INSULATIONS = ("stone-wool", "glass-wool", "pir-foam", "phenolic-foam", "eps", "mineral-wool")
FAMILIES = ("ventilated-rainscreen", "rendered-insulation", "brick-slip", "masonry-outer-leaf")


def wall(rng: random.Random, *, complete: bool) -> dict[str, object]:
    """A wall as the store keeps it; an incomplete one lacks what people often do not know."""

    def layer(role: str, **values: str) -> dict[str, str]:
        kept = {k: v for k, v in values.items() if complete or rng.random() < 0.8}
        return {"role": role, **kept}

    facing = rng.choice(FACINGS)
    layers = [
        layer("lining", material="gypsum-plasterboard", thickness="12.5", product="board P"),
        layer("frame", material=rng.choice(("light-steel", "masonry-block")), thickness="150"),
        layer(
            "sheathing",
            material=rng.choice(("cement-particle-board", "calcium-silicate-board")),
            thickness=rng.choice(("9", "12")),
        ),
        layer("membrane", material="breather-polymer"),
        layer(
            "insulation",
            material=rng.choice(INSULATIONS),
            thickness=str(rng.randrange(50, 200, 5)),
            product=f"insulation {rng.randrange(20)}",
        ),
        layer("cavity", ventilation="ventilated", depth=str(rng.randrange(25, 100, 5))),
        layer(
            "barrier-horizontal",
            type=rng.choice(("open-state-intumescent", "none")),
            spacing=str(rng.randrange(2000, 6000, 100)),
        ),
        layer("support", material="aluminium-rails"),
        layer(
            "facing",
            material=facing,
            thickness=str(rng.choice((3, 4, 8, 12, 30, 102))),
            joint=rng.choice(("open", "closed")),
            joint_width=str(rng.randrange(5, 20)),
            product=f"facing {rng.randrange(40)}",
            **({"core_category": rng.choice("123")} if facing == FACINGS[0] else {}),
        ),
    ]
    found: dict[str, object] = {"layers": layers, "lists_all_layers": complete}
    found |= {"system_family": rng.choice(FAMILIES), "substrate": "steel-frame"}
    return found


def portfolio(
    buildings: int, zones: int, tests: int, *, owners: int = 4, seed: int = 1
) -> list[object]:
    """Rows to add to an empty database: owners, buildings, zones with a survey each, tests."""
    rng = random.Random(seed)
    rows: list[object] = [
        models.Organisation(id=i, ref=f"O{i}", name=f"Owner {i}", kind="owner")
        for i in range(1, owners + 1)
    ]
    for i in range(1, buildings + 1):
        rows.append(
            models.Building(
                id=i,
                organisation_id=i % owners + 1,
                ref=f"B{i:06d}",
                name=f"Building {i}",
                jurisdiction="England",
                use=rng.choice(("flats", "hotel", "office", "care-home")),
                storeys=rng.randrange(3, 20),
                homes=rng.randrange(5, 200),
                people=None,
                evacuation=rng.choice(("stay-put", "simultaneous")),
                sprinklers=rng.choice(("none", "throughout")),
                search_text=f"b{i:06d} building {i}",
            )
        )
    for i in range(1, zones + 1):
        rows.append(
            models.Zone(
                id=i,
                building_id=i % buildings + 1,
                ref=f"Z{i:07d}",
                area_m2=rng.randrange(20, 900),
                from_storey=None,
                to_storey=None,
            )
        )
        rows.append(
            models.Survey(
                zone_id=i,
                ref="S1",
                basis=rng.choice((Basis.OPENING_UP, Basis.DRAWING)),
                on=ON,
                source="invented",
                build_up=wall(rng, complete=rng.random() < 0.2),
            )
        )
    rows += [_test(rng, i) for i in range(tests)]
    return rows


def _test(rng: random.Random, number: int) -> models.TestRecord:
    passed = rng.random() < 0.6
    return models.TestRecord(
        organisation_id=1,
        ref=f"T{number:05d}",
        title=f"Invented test {number}",
        standard="BS 8414",
        part="2",
        edition="2015+A1:2017",
        tested_on=ON,
        external_spread=Answer3.MET if passed else Answer3.NOT_MET,
        internal_spread=Answer3.MET,
        burn_through=Answer3.MET,
        no_flames_above_rig=Answer3.MET,
        no_early_end=Answer3.MET,
        printed_outcome=Outcome.PASSED if passed else Outcome.FAILED,
        class_document="BR 135",
        class_edition="third edition (2013)",
        class_annex="B",
        standing=Standing.LIVE,
        holding=Holding.IN_FULL,
        consent=Consent.PUBLISHED,
        leans_on=[],
        build_up=wall(rng, complete=True),
    )
