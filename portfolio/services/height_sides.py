"""Which buildings lie on either side of a height, asked of the store as the domain asks it."""

from __future__ import annotations

from typing import Any

import sqlalchemy as sa

from portfolio.db.models import Building, HeightClaim
from portfolio.domain.heights import (
    UNSTATED_TOLERANCE_M,
    Operator,
    Side,
    Threshold,
    estimate_from_storeys,
    side_of,
)

_HIGHEST_STOREYS = 300
"""No estimate from more storeys than this lies on either side of any limit that is asked for."""
_ROUNDING_M = 0.5e-6
"""The domain rounds a tolerance's ends to a millionth of a metre."""
EITHER_SIDE = "either-side-of-"
"""Before the key of a height band: either side of where that band starts."""


def claimed_both_sides(low: Any, high: Any, metres: float) -> sa.ColumnElement[bool]:
    """Whether claims from `low` to `high`, in metres, lie on both sides of "at least `metres`"."""
    limit = metres - _ROUNDING_M
    found: sa.ColumnElement[bool] = sa.and_(low < limit, high >= limit)
    return found


def lies_either_side(metres: float) -> sa.ColumnElement[bool]:
    """Whether a building could lie on either side of "at least `metres`".

    By its claims with their tolerances; by the estimate from storeys only where none is claimed.
    """
    tolerance = sa.func.coalesce(HeightClaim.tolerance_m, UNSTATED_TOLERANCE_M)
    low = sa.func.min(HeightClaim.metres - tolerance)
    high = sa.func.max(HeightClaim.metres + tolerance)
    # all claims are added up once, not anew for each building
    claimed = sa.select(HeightClaim.building_id).group_by(HeightClaim.building_id)
    has_claims = sa.exists().where(HeightClaim.building_id == Building.id)
    return sa.or_(
        Building.id.in_(claimed.having(claimed_both_sides(low, high, metres))),
        sa.and_(Building.storeys.in_(_storeys_either_side(metres)), ~has_claims),
    )


def _storeys_either_side(metres: float) -> list[int]:
    limit = Threshold(metres, Operator.AT_LEAST)
    return [
        storeys
        for storeys in range(1, _HIGHEST_STOREYS)
        if side_of([estimate_from_storeys(storeys)], limit) is Side.EITHER_SIDE
    ]
