"""Invented portfolios of any size, for measuring only: seeded, so that two runs are alike.

As in a real portfolio, walls recur: most zones share one of `kinds` build-ups, some of them far
more often than others, and one zone in ten has a wall of its own. Of a recurring wall, what varies
between zones is who looked and how (the basis, a second survey at one zone in five, which now and
then disagrees) and the zone's area. With `kinds` None every wall is distinct: the worst case.
Buildings vary in use, storeys, homes, evacuation and sprinklers; half have a claimed height, some
two. Every test is of a wall of its own and published, so that every owner may lean on all of them.
"""

from __future__ import annotations

import random
from collections.abc import Callable
from datetime import date
from itertools import accumulate

from portfolio.db import models
from portfolio.domain.evidence import Answer3, Consent, Holding, Outcome, Standing
from portfolio.domain.surveys import Basis

ON = date(2026, 3, 1)
KINDS = 300
FACINGS = ("metal-composite-panel", "high-pressure-laminate", "fibre-cement", "terracotta")
FACINGS += ("solid-aluminium", "timber", "clay-brick", "thin-render", "brick-slip")
INSULATIONS = ("stone-wool", "glass-wool", "pir-foam", "phenolic-foam", "eps", "mineral-wool")
FAMILIES = ("ventilated-rainscreen", "rendered-insulation", "brick-slip", "masonry-outer-leaf")

Wall = dict[str, object]


def wall(rng: random.Random, *, complete: bool) -> Wall:
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
    found: Wall = {"layers": layers, "lists_all_layers": complete}
    found |= {"system_family": rng.choice(FAMILIES), "substrate": "steel-frame"}
    return found


def portfolio(
    buildings: int,
    zones: int,
    tests: int,
    *,
    owners: int = 4,
    seed: int = 1,
    kinds: int | None = KINDS,
) -> list[object]:
    """Rows to add to an empty database: owners, buildings, zones with their surveys, tests."""
    rng = random.Random(seed)
    rows: list[object] = [
        models.Organisation(id=i, ref=f"O{i}", name=f"Owner {i}", kind="owner")
        for i in range(1, owners + 1)
    ]
    rows += [_building(rng, i, owners) for i in range(1, buildings + 1)]
    draw = _walls(rng, kinds)
    for i in range(1, zones + 1):
        rows.append(
            models.Zone(
                id=i,
                building_id=i % buildings + 1,
                ref=f"Z{i:07d}",
                area_m2=rng.randrange(20, 900) if rng.random() < 0.95 else None,
                from_storey=None,
                to_storey=None,
            )
        )
        rows += _surveys(rng, i, draw)
    rows += [row_of_test(rng, i) for i in range(tests)]
    return rows


def _building(rng: random.Random, number: int, owners: int) -> models.Building:
    storeys = rng.randrange(3, 20)
    claims = rng.choice((0, 0, 0, 1, 1, 2))
    return models.Building(
        id=number,
        organisation_id=number % owners + 1,
        ref=f"B{number:06d}",
        name=f"Building {number}",
        jurisdiction="England",
        use=rng.choice(("flats", "hotel", "office", "care-home")),
        storeys=storeys,
        homes=rng.randrange(5, 200),
        people=None,
        evacuation=rng.choice(("stay-put", "simultaneous")),
        sprinklers=rng.choice(("none", "throughout")),
        search_text=f"b{number:06d} building {number}",
        heights=[
            models.HeightClaim(metres=round(3.1 * storeys + rng.uniform(-2, 2), 1))
            for _ in range(claims)
        ],
    )


def _walls(rng: random.Random, kinds: int | None) -> Callable[[], Wall]:
    """Draws the next zone's wall: often one of the recurring ones, the first of them most."""

    def own() -> Wall:
        return wall(rng, complete=rng.random() < 0.2)

    if kinds is None:
        return own
    recurring = [own() for _ in range(kinds)]
    weights = list(accumulate(1 / place for place in range(1, kinds + 1)))
    return lambda: own() if rng.random() < 0.1 else rng.choices(recurring, cum_weights=weights)[0]


def _surveys(rng: random.Random, zone_id: int, draw: Callable[[], Wall]) -> list[object]:
    first = draw()
    told = [(rng.choice((Basis.OPENING_UP, Basis.DRAWING)), first)]
    if rng.random() < 0.2:
        again = draw() if rng.random() < 0.1 else first
        told.append((rng.choice((Basis.OPENING_UP, Basis.DRAWING, Basis.OUTSIDE)), again))
    return [
        models.Survey(
            zone_id=zone_id, ref=f"S{i}", basis=basis, on=ON, source="invented", build_up=build_up
        )
        for i, (basis, build_up) in enumerate(told, start=1)
    ]


def row_of_test(rng: random.Random, number: int) -> models.TestRecord:
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
        class_report=f"CR-{number:05d}",
        source="invented",
        standing=Standing.LIVE,
        holding=Holding.IN_FULL,
        consent=Consent.PUBLISHED,
        leans_on=[],
        build_up=wall(rng, complete=True),
    )
