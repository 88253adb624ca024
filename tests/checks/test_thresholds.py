"""The shipped height thresholds against what public sources say, the source beside each check."""

from datetime import date

import pytest

from portfolio.domain.buildings import Building
from portfolio.domain.heights import HeightClaim, Side, estimate_from_storeys
from portfolio.domain.thresholds import ThresholdFinding, ask_all
from portfolio.reference.loader import load_reference

ON = date(2026, 12, 1)


def found(
    place: str,
    *metres: float,
    tolerance: float | None = 0.0,
    storeys: int | None = None,
    homes: int | None = 20,
) -> dict[str, ThresholdFinding]:
    claims = tuple(HeightClaim(height, "measured", tolerance) for height in metres)
    of = Building("B", "B", jurisdiction=place, heights=claims, storeys=storeys, homes=homes)
    return {one.threshold.key: one for one in ask_all(load_reference().thresholds, of, ON)}


def test_four_storeys_with_the_top_floor_at_12_2_m_are_in_scope_in_scotland() -> None:
    """Source: a case study that the Scottish Government published. A rule by storeys misses it."""
    assert found("Scotland", 12.2, storeys=4)["cladding-remediation"].side is Side.ABOVE
    assert found("Scotland", storeys=4)["cladding-remediation"].side is Side.EITHER_SIDE


# Source: secondary sources restating SI 2023/275: at least 18 m or 7 storeys, at least 2 homes.
@pytest.mark.parametrize(
    ("metres", "tolerance", "storeys", "homes", "side"),
    [
        ((17.7,), 0.0, 6, 20, Side.BELOW),
        ((17.7, 17.77), 0.0, 6, 20, Side.BELOW),
        ((17.7, 17.77), None, 6, 20, Side.EITHER_SIDE),
        ((17.77,), 0.23, 6, 20, Side.EITHER_SIDE),
        ((18.0,), 0.0, 6, 20, Side.ABOVE),
        ((18.0,), None, 6, 20, Side.EITHER_SIDE),
        ((17.7,), 0.0, 7, 2, Side.ABOVE),
        ((18.0,), 0.0, 6, 1, Side.BELOW),
    ],
)
def test_the_higher_risk_building_of_england(
    metres: tuple[float, ...], tolerance: float | None, storeys: int, homes: int, side: Side
) -> None:
    asked = found("England", *metres, tolerance=tolerance, storeys=storeys, homes=homes)
    assert asked["higher-risk-in-occupation"].side is side


def test_at_exactly_11_m_the_rules_of_england_part() -> None:
    """From memory: fire doors and evacuation plans say more than 11 m, funding 11 m and over."""
    asked = found("England", 11.0)
    assert asked["fire-doors-evacuation-plans"].side is Side.BELOW
    assert asked["funding-statistics"].side is Side.ABOVE


@pytest.mark.parametrize(("storeys", "metres"), [(4, 10.85), (5, 13.95), (6, 17.05), (7, 20.15)])
def test_heights_estimated_from_storeys(storeys: int, metres: float) -> None:
    """Arithmetic on published tall-building defaults: 3.1 m, and 4.65 m at the ground."""
    assert estimate_from_storeys(storeys).metres == metres


def test_what_no_source_tells_stays_open_in_wales() -> None:
    """From memory: 18 m/7 storeys, 11 m/5 storeys; operators and measuring are not recorded."""
    assert found("Wales", 20.0, storeys=8)["act-2026-upper"].side is Side.ABOVE
    assert found("Wales", 20.0, storeys=7)["act-2026-upper"].side is Side.EITHER_SIDE
    assert found("Wales", 20.0, storeys=6)["act-2026-upper"].side is Side.EITHER_SIDE


@pytest.mark.parametrize(
    ("place", "metres"), [("Northern Ireland", 18.0), ("Ireland", 15.0), ("United States", 12.2)]
)
def test_thresholds_of_which_only_the_value_is_known(place: str, metres: float) -> None:
    """From memory: 18 m, 15 m and 12.2 m; neither operator nor measure is recorded."""
    assert found(place, metres)["height"].side is Side.EITHER_SIDE
    assert found(place, metres + 0.01)["height"].side is Side.ABOVE


def test_the_threshold_of_new_zealand_is_to_the_roof() -> None:
    """From memory: 10 m to the roof, of which the height of a floor tells nothing."""
    assert found("New Zealand", 9.0)["height"].side is Side.UNKNOWN


def test_what_is_not_published_says_so() -> None:
    statuses = {one.jurisdiction: one.status for one in load_reference().thresholds}
    assert set(statuses) == {
        "England",
        "Scotland",
        "Wales",
        "Northern Ireland",
        "Ireland",
        "New Zealand",
        "United States",
    }
    assert "published" not in statuses.values()
