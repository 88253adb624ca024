"""The published orders of gaps, against what their sources say."""

import pytest

from portfolio.domain.buildings import Building
from portfolio.domain.heights import HeightClaim
from portfolio.domain.priorities import GapOrder, Reason, codes_of, reasons_for, unknown_facts
from portfolio.reference.loader import load_reference

ORDERS = load_reference().orders
VICTORIA, CALL_IN = ORDERS["victoria-guideline-15"], ORDERS["call-in-england-2024"]


def building(**facts: object) -> Building:
    told: dict[str, object] = {
        "use": "flats",
        "evacuation": "stay-put",
        "sprinklers": "none",
        "metal_composite": "no",
        "heights": (HeightClaim(20.0, "measured", 0.0),),
    }
    return Building(ref="B", name="", **(told | facts))  # type: ignore[arg-type]


def first_reason(found: Building, order: GapOrder) -> Reason:
    return reasons_for(found, "to-assess", order)[0]


def _value(found: Building, order: GapOrder) -> str:
    """What the published table says of a building of which everything is known."""
    assert unknown_facts(found, order) == ()
    return order.steps[0].values[codes_of(found, "to-assess", order)[0]]


# Minister's Guideline 15, Victoria, 21 September 2023: apartments that a cladding fire could reach.
@pytest.mark.parametrize(
    ("sprinklers", "in_reach", "rating"),
    [
        ("throughout", 9, "unacceptable"),
        ("throughout", 4, "unacceptable"),
        ("throughout", 3, "elevated"),
        ("throughout", 2, "low"),
        ("throughout", 0, "low"),
        ("none", 4, "unacceptable"),
        ("none", 3, "unacceptable"),
        ("none", 2, "elevated"),
        ("none", 1, "low"),
        ("none", 0, "low"),
        # the table knows sprinklered and not sprinklered only: in parts counts as not (ours)
        ("parts", 3, "unacceptable"),
    ],
)
def test_victoria_rates_by_apartments_in_reach_and_sprinklers(
    sprinklers: str, in_reach: int, rating: str
) -> None:
    found = building(sprinklers=sprinklers, homes=40, homes_in_reach=in_reach)
    assert _value(found, VICTORIA) == rating


def test_victoria_says_nothing_of_a_building_without_apartments() -> None:
    assert _value(building(use="office", homes=0, homes_in_reach=0), VICTORIA) == "not-said"


def test_no_more_apartments_are_in_reach_than_there_are() -> None:
    """Nobody recorded how many are in reach: of two homes, two at most."""
    assert "elevated risk at worst" in first_reason(building(homes=2), VICTORIA).text
    assert "low risk" in first_reason(building(homes=2, sprinklers="throughout"), VICTORIA).text


def test_where_nobody_recorded_what_is_in_reach_the_rating_is_told_as_the_worst() -> None:
    reason = first_reason(building(homes=40), VICTORIA)
    assert reason.was_unknown
    assert "unacceptable risk at worst" in reason.text
    assert "how many homes a cladding fire could reach" in reason.text


# The regulator's first call-in, England 2024 (secondary sources): over 50 m with about 11 or more
# homes; 30 to 49.99 m with more than 217 homes, another note says 227; any height with combustible
# metal composite.
@pytest.mark.parametrize(
    ("metres", "homes", "composite", "said"),
    [
        (50.1, 11, "no", "named"),
        (50.1, 10, "no", "not-named"),
        (49.99, 228, "no", "named"),
        (30.0, 228, "no", "named"),
        (30.0, 227, "no", "named-by-one-note"),
        (30.0, 218, "no", "named-by-one-note"),
        (30.0, 217, "no", "not-named"),
        (29.99, 900, "no", "not-named"),
        (3.0, 0, "yes", "named"),
        # at exactly 50 m neither group says anything: with the lower one (ours)
        (50.0, 11, "no", "not-named"),
        (50.0, 228, "no", "named"),
    ],
)
def test_the_call_in_names_by_height_homes_and_metal_composite(
    metres: float, homes: int, composite: str, said: str
) -> None:
    claims = (HeightClaim(metres, "measured", 0.0),)
    found = building(heights=claims, homes=homes, metal_composite=composite)
    assert _value(found, CALL_IN) == said


def test_both_numbers_of_homes_are_told_as_data_and_as_a_conflict() -> None:
    told = [row.says for row in CALL_IN.steps[0].rows]
    assert any("217" in says for says in told)
    assert any("227" in says for says in told)
    assert "217" in CALL_IN.note
    assert "227" in CALL_IN.note


@pytest.mark.parametrize("order", [VICTORIA, CALL_IN])
def test_what_a_published_order_does_not_say_is_told_by_our_own_steps(order: GapOrder) -> None:
    published, *ours = order.steps
    assert not published.is_ours
    assert ours == list(ORDERS["house"].steps)
    assert all(step.is_ours for step in ours)
    assert "says nothing" in published.labels[published.values[-1]]
